"""Printable references: the page as a file, and where things are on it."""

import json
from pathlib import Path
from typing import cast, get_args

from photomeasure.errors import UsageError
from photomeasure.references.catalogue import print_of
from photomeasure.references.draw import layout_json, write_print
from photomeasure.references.prints import Kind, Paper

__all__ = ["KINDS", "PAPERS", "write_reference"]

KINDS: tuple[str, ...] = get_args(Kind)
PAPERS: tuple[str, ...] = get_args(Paper)
ENDINGS = (".pdf", ".png")


def write_reference(  # noqa: PLR0913  # the six things one can say of a page
    kind: str,
    *,
    paper: str,
    out: Path,
    dpi: float = 600.0,
    hole_mm: float | None = None,
    layout: Path | None = None,
) -> tuple[Path, ...]:
    """Write a reference's page and, where asked, its layout.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    paper : str
        One of `PAPERS`.
    out : Path
        Ends in `.pdf` or `.png`.
    dpi : float
        Of the PNG.
    hole_mm : float or None [mm]
        The mouth that a collar must clear.
    layout : Path or None
        Where the layout goes.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    UsageError
        If the file's ending is neither, or it cannot be written there.
    """
    if out.suffix.lower() not in ENDINGS:
        raise UsageError(f"{out.name} ends in neither .pdf nor .png.", "Name it like sheet.pdf.")
    if hole_mm is not None and kind != "collar":
        raise UsageError(f"A {kind} has no hole.", "Leave out --hole, or print a collar.")
    print_ = print_of(cast("Kind", kind), cast("Paper", paper), hole_mm)
    try:
        write_print(print_, out, dpi)
        if layout is not None:
            layout.write_text(json.dumps(layout_json(print_), indent=1), encoding="utf-8")
    except OSError as error:
        raise UsageError(
            f"{error.filename or out} cannot be written ({error.strerror}).",
            "Name a file in a folder that exists and that you may write to.",
        ) from error
    return (out,) if layout is None else (out, layout)
