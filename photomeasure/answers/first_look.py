"""A first look at a photo, before the long reckoning: print there, sharp, near enough."""

from typing import Literal

import numpy as np

from photomeasure.errors import TooFarError, WrongPrintError
from photomeasure.photo import Photo
from photomeasure.references.find import find_pieces
from photomeasure.references.prints import FoundPiece

__all__ = ["Wanted", "first_look"]

Wanted = Literal["fitting", "route"]

_COARSEST_PX_A_MM = 5.0  # the reading itself refuses below this
_FINE_PX_A_MM = 10.0  # 12 million pixels at 250 mm have 12
_SOFT_PX = 1.8  # a sharp photo's edges are blurred by about one pixel
_BLURRED_PX = 4.0  # a third of a millimetre at 12 pixels a millimetre: grooves close up
_GLARE = 0.08  # of the print burnt out to plain white
_BURNT = 254
_FEW_CORNERS = 0.5  # of those that the page has


def first_look(photo: Photo, wanted: Wanted) -> tuple[str, ...]:
    """Complain of what spoils a measurement, in seconds and not in the end.

    Parameters
    ----------
    photo : Photo
    wanted : {"fitting", "route"}
        What is to be measured.

    Returns
    -------
    tuple of str
        What could be better, each with what to do; empty if nothing was seen.

    Raises
    ------
    NoReferenceError, BlurredError
        If no print can be made out.
    WrongPrintError
        If a fitting is to be measured and the print is not the sheet.
    TooFarError
        If the camera stood too far off.
    """
    pieces = find_pieces(photo)
    said = list(photo.warnings)
    if any(piece.is_mirrored for piece in pieces):
        said.append("The picture is mirrored: no front camera, no mirror.")
    if wanted == "fitting":
        said += _of_the_sheet(photo, pieces)
    return tuple(dict.fromkeys(said))


def _of_the_sheet(photo: Photo, pieces: tuple[FoundPiece, ...]) -> list[str]:
    sheets = [piece for piece in pieces if piece.print_.kind == "sheet"]
    if not sheets:
        raise WrongPrintError(
            f"{photo.name} shows a print, but not the sheet on which a fitting is measured.",
            "Lay the fitting on the sheet's bed and take the photo again.",
        )
    sheet = sheets[0]
    fine = _px_a_mm(sheet)
    if fine < _COARSEST_PX_A_MM:
        raise TooFarError(
            f"{photo.name} has {fine:.1f} pixels a millimetre; "
            f"{_COARSEST_PX_A_MM:.0f} are the least.",
            "Come as near as the sheet says, without zoom, and send the full-size file.",
        )
    said = []
    if fine < _FINE_PX_A_MM:
        said.append(f"{fine:.0f} pixels a millimetre: come nearer for a surer answer.")
    if sheet.blur_px > _BLURRED_PX:
        said.append("Blurred: take it again, hold the phone still, tap on the thread to focus.")
    elif sheet.blur_px > _SOFT_PX:
        said.append("A little soft: hold the phone still and tap on the thread to focus.")
    if len(sheet.corner_ids) < _FEW_CORNERS * len(sheet.piece.corners_page_mm):
        said.append("Half of the print is out of sight: keep it in the picture on all sides.")
    if _burnt_share(photo, sheet) > _GLARE:
        said.append("Part of the print is burnt out: turn away from the lamp, no flash.")
    return said


def _px_a_mm(piece: FoundPiece) -> float:
    """Pixels a millimetre over the whole piece, from the spread of its corners."""
    page = piece.piece.corners_page_mm[piece.corner_ids]
    spread_px = np.linalg.norm(piece.corners_px - piece.corners_px.mean(axis=0))
    return float(spread_px / np.linalg.norm(page - page.mean(axis=0)))


def _burnt_share(photo: Photo, piece: FoundPiece) -> float:
    low = np.maximum(piece.corners_px.min(axis=0), 0).astype(int)
    high = piece.corners_px.max(axis=0).astype(int) + 1
    seen = photo.grey[low[1] : high[1] : 4, low[0] : high[0] : 4]
    return float((seen >= _BURNT).mean()) if seen.size else 0.0
