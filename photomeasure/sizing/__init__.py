"""From readings to a hose: match, caliper, connection, hose, cut."""
