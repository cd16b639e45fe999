"""A route from photographs: a line laid flat is found, followed and fitted."""
