"""`photomeasure print`: a printable reference and its layout."""

from pathlib import Path

import click

from photomeasure.answers.prints import KINDS, PAPERS, write_reference
from photomeasure.cli.params import LENGTH, Length, json_option
from photomeasure.cli.report import say

__all__ = ["print_command"]


@click.command("print")
@click.argument("kind", type=click.Choice(KINDS))
@click.option("--paper", type=click.Choice(PAPERS), default="A4", show_default=True)
@click.option("--out", required=True, type=click.Path(path_type=Path), help=".pdf or .png")
@click.option("--dpi", type=click.IntRange(50, 2400), default=600, show_default=True)
@click.option("--hole", type=LENGTH, help="The mouth that a collar must clear.")
@click.option("--layout", type=click.Path(path_type=Path), help="Also write positions as JSON.")
@json_option
def print_command(  # noqa: PLR0913  # click hands over one argument for every option
    *,
    kind: str,
    paper: str,
    out: Path,
    dpi: int,
    hole: Length | None,
    layout: Path | None,
    as_json: bool,
) -> None:
    """Write a printable reference: sheet, collar, markers or bands.

    Print it at actual size, then measure both check bars with a caliper: their readings go with
    every photo (--bar-x, --bar-y).
    """
    written = write_reference(
        kind, paper=paper, out=out, dpi=dpi, hole_mm=hole.mm if hole else None, layout=layout
    )
    lines = [f"Wrote {path}." for path in written]
    lines.append("Print at actual size, then measure both check bars with a caliper.")
    answer = {"kind": "print", "print": kind, "paper": paper, "files": [str(p) for p in written]}
    say(answer, lines, as_json=as_json)
