"""A print as PDF, PNG and layout, all from the same vectors."""

from pathlib import Path
from typing import Any

from photomeasure.references.draw_pdf import write_pdf
from photomeasure.references.draw_png import write_png
from photomeasure.references.prints import Bar, Piece, Print

__all__ = ["layout_json", "write_print"]


def write_print(print_: Print, path: Path | str, dpi: float = 600.0) -> None:
    """Write the whole page.

    Parameters
    ----------
    print_ : Print
    path : Path or str
        Ends in ``.pdf`` (vectors) or ``.png`` (at exactly `dpi`).
    dpi : float
        Pixels an inch of the PNG.

    Raises
    ------
    ValueError
        The file's ending is neither.
    """
    path = Path(path)
    if path.suffix.lower() == ".pdf":
        write_pdf(print_, path)
    elif path.suffix.lower() == ".png":
        write_png(print_, path, dpi)
    else:
        raise ValueError(f"{path.name} must end in .pdf or .png")


def _bar(bar: Bar) -> dict[str, Any]:
    return {
        "from_mm": [float(v) for v in bar.from_mm],
        "to_mm": [float(v) for v in bar.to_mm],
        "length_mm": bar.length_mm,
    }


def _piece(piece: Piece) -> dict[str, Any]:
    hole = piece.hole
    return {
        "name": piece.name,
        "outline_mm": piece.outline_page_mm.tolist(),
        "hole": None
        if hole is None
        else {"centre_mm": list(hole.centre_mm), "diameter_mm": hole.diameter_mm},
        "direction": None if piece.direction is None else list(piece.direction),
        "order": piece.order,
        "role": piece.role,
    }


def layout_json(print_: Print) -> dict[str, Any]:
    """Where things are on the page, in the form of the contract's layout file."""
    bed, shoot = print_.bed, print_.shoot
    return {
        "kind": print_.kind,
        "page_mm": list(print_.page_mm),
        "pieces": [_piece(piece) for piece in print_.pieces],
        "bars": {"x": _bar(print_.bar_x), "y": _bar(print_.bar_y)},
        "bed": None
        if bed is None
        else {"centre_mm": [float(v) for v in bed.centre_mm], "size_mm": list(bed.size_mm)},
        "shoot": {"distance_mm": list(shoot.distance_mm), "tilt_deg": list(shoot.tilt_deg)},
    }
