"""The plan of one hose: lengths, checks, steps and parts, from a job's entries."""

from dataclasses import dataclass

import numpy as np

from photomeasure.answers.wire import (
    Json,
    budget_json,
    components_json,
    quantity_json,
    sources_json,
)
from photomeasure.job.folder import shelf_of
from photomeasure.job.model import Job
from photomeasure.quantities import Quantity
from photomeasure.sizing.assembly import Step, steps
from photomeasure.sizing.checks import Check, headline, missing, open_count
from photomeasure.sizing.clocking import setting_check
from photomeasure.sizing.connection import Connection
from photomeasure.sizing.cut import (
    CutLengths,
    convention_checks,
    cut_lengths,
    measured_from,
    too_little,
    too_long,
)
from photomeasure.sizing.ends import EndsSearch, ends_check, search_ends
from photomeasure.sizing.entries import EndEntry, JobEntries
from photomeasure.sizing.flow import flow_check
from photomeasure.sizing.hose import hose_checks
from photomeasure.sizing.hose_class import HoseFigure, from_standard
from photomeasure.sizing.metals import metal_checks
from photomeasure.sizing.parts import (
    Costs,
    Part,
    clocking_words,
    costs,
    order_slip,
    parts,
    thread_warnings,
)
from photomeasure.sizing.path import path_checks
from photomeasure.sizing.ports import join, port_checks, refuse_other_systems
from photomeasure.sizing.sense import claim_check, likely_check, route_check, size_check
from photomeasure.sizing.shelf import Adapter
from photomeasure.sizing.torque import torque_check
from photomeasure.sizing.tube import NO_ADAPTER, tube_checks
from photomeasure.sizing.ways import Way, ways

__all__ = ["CutPlan", "plan_cut", "plan_entries"]


@dataclass(frozen=True, slots=True, eq=False)
class CutPlan:
    """Everything the bench needs to know of one hose."""

    lengths: CutLengths
    connection: Connection | None
    checks: tuple[Check, ...]
    steps: tuple[Step, ...]
    parts: tuple[Part, ...]
    costs: Costs
    ways: tuple[Way, Way]
    ends: EndsSearch
    order_slip: tuple[tuple[str, str], ...]
    measured_from: tuple[str, ...]
    clocking: str | None
    no_adapter: tuple[str, ...]
    hose_from_standard: tuple[HoseFigure, ...]
    warnings: tuple[str, ...]

    @property
    def open_count(self) -> int:
        """How many checks are not yet true."""
        return open_count(self.checks)

    @property
    def headline(self) -> str:
        """Say in words whether the hose may be built."""
        return headline(self.checks)

    @property
    def marks(self) -> tuple[str, ...]:
        """Give what is stamped across the sheet."""
        relief_known = any(c.name == "relief pressure" and c.ok for c in self.checks)
        stamps = ("DO NOT BUILD",) if self.open_count else ()
        return stamps if relief_known else (*stamps, "DO NOT START")

    def as_json(self) -> Json:
        """Give the contract's `cut` object."""
        lengths = self.lengths
        named: dict[str, Quantity | None] = {
            "cut_length": lengths.cut_length,
            "cut_at": lengths.cut_at,
            "assembly_length": lengths.assembly_length,
            "longest_usable": lengths.longest_usable,
            "surplus": lengths.surplus,
        }
        return {
            "kind": "cut",
            "headline": self.headline,
            "open": self.open_count,
            "marks": list(self.marks),
            **{name: quantity_json(quantity) for name, quantity in named.items()},
            "measured_from": list(self.measured_from),
            "missing": list(lengths.missing),
            "terms": {key: quantity_json(term.quantity()) for key, term in lengths.terms},
            "clocking": self.clocking,
            "steps": [step.as_json() for step in self.steps],
            "checks": [check.as_json() for check in self.checks],
            "parts": [part.as_json() for part in self.parts],
            "costs": self.costs.as_json(),
            "ways": [way.as_json() for way in self.ways],
            "ends": [plan.as_json() for plan in self.ends.plans],
            "ends_missing": list(self.ends.lacks),
            "order_slip": [{"what": what, "text": text} for what, text in self.order_slip],
            "no_adapter": list(self.no_adapter),
            "hose_from_standard": [one.as_json() for one in self.hose_from_standard],
            "budget": budget_json(lengths.cut_length),
            "components": components_json(named),
            "sources": sources_json(named),
            "warnings": list(self.warnings),
        }


def plan_cut(job: Job) -> CutPlan:
    """Plan the hose of a job, with the adapters on its own shelf first.

    Parameters
    ----------
    job : Job

    Returns
    -------
    CutPlan

    Raises
    ------
    NoPlanError
        If the line is none for mineral-oil steering or hydraulics.
    BadJobError
        If a stored answer contradicts itself.
    TableError
        If the shelf's file has a bad row.
    """
    return plan_entries(job.entries, shelf=shelf_of(job))


def plan_entries(
    job: JobEntries,
    *,
    shelf: tuple[Adapter, ...] = (),
    rng: np.random.Generator | None = None,
) -> CutPlan:
    """Plan one hose from its entries.

    Parameters
    ----------
    job : JobEntries
    shelf : tuple of Adapter
        The user's own adapters.
    rng : numpy.random.Generator, optional

    Returns
    -------
    CutPlan

    Raises
    ------
    NoPlanError
        If the line is none for mineral-oil steering or hydraulics.
    BadJobError
        If a stored answer contradicts itself.
    """
    standard = from_standard(job.hose)
    claims = claim_check(job.hose)
    job = _with_both_ends(job).model_copy(update={"hose": standard.hose})
    refuse_other_systems(job)
    lengths = cut_lengths(job, rng)
    joined, reach_checks = join(job, shelf)
    search = search_ends(job)
    listed = parts(job, lengths, joined.connection)
    checks = (
        *port_checks(job),
        joined.check,
        *reach_checks,
        *_part_checks(job, joined.connection),
        *claims,
        *likely_check(job),
        *route_check(job.route),
        *_lie_checks(job, search),
        *_cut_checks(job, lengths),
    )
    return CutPlan(
        lengths=lengths,
        connection=joined.connection,
        checks=checks,
        steps=steps(job, lengths, joined.connection),
        parts=listed,
        costs=costs(job, listed),
        ways=ways(job, lengths),
        ends=search,
        order_slip=order_slip(job, lengths, joined.connection),
        measured_from=tuple(
            measured_from(letter, end) for letter, end in zip("AB", job.ends, strict=False)
        ),
        clocking=clocking_words(job, lengths),
        no_adapter=NO_ADAPTER if joined.check.ok is False else (),
        hose_from_standard=standard.filled,
        warnings=(*_warnings(job), *standard.notes),
    )


def _part_checks(job: JobEntries, connection: Connection | None) -> tuple[Check, ...]:
    """Check adapters, tube and hose: what they are made of, and what they carry."""
    return (
        *metal_checks(job, connection),
        *torque_check(job, connection),
        *tube_checks(job),
        size_check(job.hose, connection.dash if connection else None),
        *hose_checks(job, connection),
        flow_check(job.line, job.hose, job.route),
    )


def _lie_checks(job: JobEntries, search: EndsSearch) -> tuple[Check, ...]:
    """Check how the hose lies between its ends."""
    return (*ends_check(job, search), *setting_check(job), *path_checks(job))


def _cut_checks(job: JobEntries, lengths: CutLengths) -> tuple[Check, ...]:
    """Check the cut's terms, and the cut against the room there is."""
    return (
        *convention_checks(job),
        _terms_complete(lengths),
        too_little(job, lengths),
        too_long(lengths),
        *_clocking_check(clocking_words(job, lengths)),
    )


def _with_both_ends(job: JobEntries) -> JobEntries:
    """Let every check of an end that was not entered yet be open, rather than absent."""
    ends = [*job.ends, EndEntry(), EndEntry()][:2]
    return job.model_copy(update={"ends": ends})


def _terms_complete(lengths: CutLengths) -> Check:
    name = "cut complete"
    if lengths.missing:
        return missing(name, *lengths.missing)
    return Check(name, True, f"All {len(lengths.terms)} terms are there.")


def _clocking_check(words: str | None) -> tuple[Check, ...]:
    name = "clocking"
    if words is None:
        return ()
    if "still" in words:
        return (missing(name, "the clocking between the two angled ends"),)
    return (Check(name, True, f"{words}."),)


def _warnings(job: JobEntries) -> tuple[str, ...]:
    found = [*thread_warnings(job)]
    if job.line.relief_pressure_mpa is None:
        found.append(
            "Relief pressure unknown: choose a hose for at least 14 MPa (2000 psi; common advice, "
            "no source)."
        )
    if job.line.kind == "pressure":
        found.append(
            "Another pump? Ask which way it turns, and whether its centre is open or closed."
        )
    if job.route is not None:
        found += [f"Route: {text}" for text in job.route.warnings]
    return tuple(found)
