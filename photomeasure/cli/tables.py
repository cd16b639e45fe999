"""`photomeasure threads`: the published threads, their limits of size and their look-alikes."""

from pathlib import Path

import click

from photomeasure.answers.alike import alike, alike_lines
from photomeasure.answers.threads import thread_lines, threads
from photomeasure.cli.params import json_option
from photomeasure.cli.report import say
from photomeasure.errors import UsageError

__all__ = ["threads_command"]


@click.command("threads")
@click.argument("designations", nargs=-1)
@click.option("--alike", "wants_alike", is_flag=True, help="What each is taken for, by how much.")
@click.option("--classes", is_flag=True, help="The other usual classes of each, too.")
@click.option("--out", type=click.Path(path_type=Path), help="With --alike: a page as .pdf.")
@json_option
def threads_command(
    *,
    designations: tuple[str, ...],
    wants_alike: bool,
    classes: bool,
    out: Path | None,
    as_json: bool,
) -> None:
    """List the named threads, or all, with their limits of size.

    Write a thread like M18x1.5, "9/16-18 UNF", G1/4, R1/4, Rc1/4, Rp1/4 or "1/4-18 NPT"; with
    its class, like M18x1.5-4g6g, the other usual classes are listed, too.
    """
    if not wants_alike:
        if out is not None:
            raise UsageError("Only look-alikes are written to a page.", "Add --alike.")
        table = threads(designations, classes=classes)
        say(table, thread_lines(table), as_json=as_json)
        return
    table = alike(designations)
    if out is not None:
        from photomeasure.answers.alike_page import write_alike  # noqa: PLC0415  # loads slowly

        write_alike(table, out)
    say(table, alike_lines(table), as_json=as_json)
