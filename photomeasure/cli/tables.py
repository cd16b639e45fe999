"""`photomeasure threads`: the published threads and their limits of size."""

import click

from photomeasure.answers.threads import thread_lines, threads
from photomeasure.cli.params import json_option
from photomeasure.cli.report import say

__all__ = ["threads_command"]


@click.command("threads")
@click.argument("designations", nargs=-1)
@json_option
def threads_command(*, designations: tuple[str, ...], as_json: bool) -> None:
    """List the named threads, or all, with their limits of size.

    Write a thread like M18x1.5, "9/16-18 UNF", G1/4, R1/4, Rc1/4 or "1/4-18 NPT".
    """
    table = threads(designations)
    say(table, thread_lines(table), as_json=as_json)
