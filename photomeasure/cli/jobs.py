"""`photomeasure cut`, `jobsheet` and `demo`: from a job to a hose."""

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import click

from photomeasure.answers.words import band, both_units
from photomeasure.cli.params import json_option
from photomeasure.cli.report import say
from photomeasure.errors import UsageError
from photomeasure.job import CutPlan, open_job, plan_cut, write_job_sheet
from photomeasure.job.sheet import SheetPaper
from photomeasure.job.units import Units
from photomeasure.sizing.assembly import saw_mark_mm

__all__ = ["cut_command", "demo_command", "jobsheet_command"]

SIGNS = {True: "ok  ", False: "NO  ", None: "open"}


@click.command("cut")
@click.argument("job", type=click.Path(path_type=Path))
@json_option
def cut_command(*, job: Path, as_json: bool) -> None:
    """Work out the cut length and the plan of a job folder or job file."""
    plan = plan_cut(open_job(job))
    say(plan.as_json(), _plan_lines(plan), as_json=as_json)


def _plan_lines(plan: CutPlan) -> list[str]:
    return [
        *_cut_lines(plan),
        *(f"  {SIGNS[check.ok]}  {check.name}: {check.detail}" for check in plan.checks),
        "Parts:",
        *(f"  {part.quantity} x {part.name}" for part in plan.parts),
        f"  {plan.costs.words}",
        *(f"Ends: {ends.words}" for ends in plan.ends.plans[:4]),
        *(f"Way: {way.name}, {way.words}" for way in plan.ways),
        "Steps:",
        *(f"  {number}. {step.text}" for number, step in enumerate(plan.steps, start=1)),
        *(f"Caution: {text}" for text in plan.warnings),
    ]


def _cut_lines(plan: CutPlan) -> list[str]:
    lengths = plan.lengths
    if lengths.cut_at is None:
        return [plan.headline, f"No cut length: missing {', '.join(lengths.missing)}."]
    return [
        plan.headline,
        f"Cutting mark at {saw_mark_mm(lengths)} mm ({lengths.cut_at.value:.1f} mm, rounded up)",
        f"  cut length    {both_units(lengths.cut_length)}",
        f"  assembly      {band(lengths.assembly_length)}",
    ]


@click.command("jobsheet")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="A .pdf file.")
@click.option("--paper", type=click.Choice(get_args(SheetPaper)), default="A4", show_default=True)
@click.option("--units", type=click.Choice(get_args(Units)), default="mm", show_default=True)
@json_option
def jobsheet_command(
    *, job: Path, out: Path, paper: SheetPaper, units: Units, as_json: bool
) -> None:
    """Write the printable job sheet of a job folder or job file."""
    if out.suffix.lower() != ".pdf":
        raise UsageError(f"{out.name} does not end in .pdf.", "Name it like jobsheet.pdf.")
    opened = open_job(job)
    plan = plan_cut(opened)
    write_job_sheet(opened, plan, out, paper, units=units)
    answer = {"kind": "jobsheet", "file": str(out), "headline": plan.headline}
    say(answer, [plan.headline, f"Wrote {out}."], as_json=as_json)


@click.command("demo")
@click.option("--out", type=click.Path(path_type=Path), help="Folder for job and job sheet.")
@json_option
def demo_command(*, out: Path | None, as_json: bool) -> None:
    """Run a whole job on the sample images (rendered pictures, invented entries).

    An orchard's narrow tractor gets the power-steering pump of a scrapped forklift: two fittings
    are named, the route is measured, adapters are chosen and the hose is cut.
    """
    from photomeasure.job.demonstration import run_demo  # noqa: PLC0415  # it loads every room

    with _folder(out) as folder:
        done = run_demo(folder)
        answer = {
            "kind": "demo",
            "fittings": [one.as_json() for one in done.fittings],
            "route": done.route.as_json(),
            "cut": done.plan.as_json(),
        }
        lines = ["The pictures are rendered and the entries invented."]
        lines += [
            f"Fitting {end}: {one.line}" for end, one in zip("AB", done.fittings, strict=False)
        ]
        lines += [done.route.line, *_cut_lines(done.plan)]
        lines += [f"  {part.quantity} x {part.name}" for part in done.plan.parts]
        lines += [f"Wrote {folder} and {done.sheet}."] if out else []
    say(answer, lines, as_json=as_json)


@contextlib.contextmanager
def _folder(out: Path | None) -> Iterator[Path]:
    """The user's folder, or one that is thrown away."""
    if out is not None:
        yield out
        return
    with tempfile.TemporaryDirectory() as held:
        yield Path(held) / "job"
