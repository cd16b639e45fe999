"""The look-alikes of threads as a page to pin up at the bench."""

from pathlib import Path
from typing import Any

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import getSampleStyleSheet
from reportlab.platypus import Paragraph, SimpleDocTemplate, Table, TableStyle

from photomeasure.answers.alike import WARNING, cells_of
from photomeasure.errors import UsageError

__all__ = ["write_alike"]

HEAD = ("thread", "taken for", "crests", "pitch", "also differs", "told apart by")


def write_alike(table: dict[str, Any], out: Path) -> Path:
    """Write the same as a page to pin up.

    Parameters
    ----------
    table : dict
        From `alike`.
    out : Path
        Ends in `.pdf`.

    Returns
    -------
    Path

    Raises
    ------
    UsageError
        If the file's ending is another, or it cannot be written there.
    """
    if out.suffix.lower() != ".pdf":
        raise UsageError(f"{out.name} does not end in .pdf.", "Name it like alike.pdf.")
    document = SimpleDocTemplate(
        str(out), pagesize=A4, title="Threads that are taken for one another", invariant=1
    )
    words = getSampleStyleSheet()
    title = Paragraph("Threads that are taken for one another", words["Title"])
    grid = Table([HEAD, *_rows(table)], repeatRows=1)
    grid.setStyle(_style(table))
    try:
        document.build([title, Paragraph(WARNING, words["BodyText"]), grid])
    except OSError as error:
        raise UsageError(f"{out.name} cannot be written.", "Choose another folder.") from error
    return out


def _rows(table: dict[str, Any]) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for row in table["alike"]:
        name = row["designation"]
        for each in row["neighbours"]:
            mark, other, crests, pitch, also, told = cells_of(each)
            rows.append((name, f"{mark} {other}", crests, pitch, also, told.removeprefix("by ")))
            name = ""
    return rows


def _style(table: dict[str, Any]) -> TableStyle:
    starts, at = [], 1
    for row in table["alike"]:
        if row["neighbours"]:
            starts.append(at)
            at += len(row["neighbours"])
    rules = [("LINEABOVE", (0, at), (-1, at), 0.4, colors.grey) for at in starts]
    return TableStyle(
        [
            ("FONTSIZE", (0, 0), (-1, -1), 7.5),
            ("FONTNAME", (0, 0), (-1, 0), "Helvetica-Bold"),
            ("FONTNAME", (0, 1), (0, -1), "Helvetica-Bold"),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
            *rules,
        ]
    )
