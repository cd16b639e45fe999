"""What is placed, as unknowns, and all points that were found, as one set."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from photomeasure.route.space.model import Points, State
from photomeasure.route.space.see import BandMark
from photomeasure.route.space.start import Placed

__all__ = ["card_points", "first_state", "joined", "mark_points"]

Vector = NDArray[np.float64]  # (N,)
Matrix = NDArray[np.float64]  # (N, M)

MARK_NOISE_PX = 1.5  # a marker's corners are proposed on a bent square


def first_state(placed: Placed) -> tuple[State, list[int], list[int]]:
    """Everything that is placed, as unknowns.

    Parameters
    ----------
    placed : Placed

    Returns
    -------
    state : State
    photos, things : list of int
        Which of all they are, in the state's order.
    """
    photos = sorted(placed.of_photos)
    things = sorted(placed.of_things)
    prints = list(dict.fromkeys(thing.print_.name for thing in placed.things))
    scale = {t.print_.name: s for t, s in zip(placed.things, placed.scales, strict=True)}
    lenses = [placed.shots[k].lens.camera for k in photos]
    cameras = np.array([placed.of_photos[k] for k in photos])
    objects = np.array([placed.of_things[k] for k in things])
    return (
        State(
            lens=np.array([[c.focal_px, c.centre_x_px, c.centre_y_px, c.k1, c.k2] for c in lenses]),
            turn=cameras[:, :3, :3],
            shift=cameras[:, :3, 3],
            thing_turn=objects[:, :3, :3],
            thing_shift=objects[:, :3, 3],
            skew=np.zeros(len(things)),
            bend=np.zeros((len(things), 2)),
            scale=np.array([scale[name] for name in prints]),
            radius_mm=placed.radius_mm,
            give=0.5,
            is_band=np.array([placed.things[k].is_band for k in things]),
            print_row=np.array([prints.index(placed.things[k].print_.name) for k in things]),
        ),
        photos,
        things,
    )


def card_points(placed: Placed, photos: list[int], things: list[int]) -> Points:
    """Corners of all placed cards in all placed photos."""
    rows = {placed.things[k].name: i for i, k in enumerate(things)}
    parts = []
    for photo, k in enumerate(photos):
        for card in placed.shots[k].cards:
            name = (card.print_.name, card.piece.name)
            if name not in rows:
                continue
            nominal = placed.things[things[rows[name]]].nominal(
                card.piece.corners_page_mm[card.corner_ids]
            )
            parts.append(_points(photo, rows[name], nominal, card.corners_px, card.noise_px))
    return joined(parts)


def mark_points(placed: Placed, photos: list[int], things: list[int]) -> Points:
    """Corners of all markers of placed bands in all placed photos, as read."""
    rows = {placed.things[k].name: i for i, k in enumerate(things)}
    parts = []
    for photo, k in enumerate(photos):
        for mark in placed.shots[k].marks:
            parts += _mark(placed, mark, photo, rows, things)
    return joined(parts)


def _mark(
    placed: Placed, mark: BandMark, photo: int, rows: dict[tuple[str, str], int], things: list[int]
) -> list[Points]:
    name = (mark.print_.name, mark.piece.name)
    if name not in rows:
        return []
    thing = placed.things[things[rows[name]]]
    nominal = thing.nominal(mark.piece.marker_corners_page_mm[mark.row])
    return [_points(photo, rows[name], nominal, mark.corners_px, np.full(4, MARK_NOISE_PX))]


def _points(photo: int, thing: int, nominal: Matrix, px: Matrix, noise_px: Vector) -> Points:
    count = len(nominal)
    return Points(np.full(count, photo), np.full(count, thing), nominal, px, noise_px)


def joined(parts: Sequence[Points]) -> Points:
    """All points in one."""
    if not parts:
        none = np.empty(0, np.int64)
        return Points(none, none, np.empty((0, 2)), np.empty((0, 2)), np.empty(0))
    return Points(
        *(
            np.concatenate([getattr(one, name) for one in parts])
            for name in ("photo", "thing", "nominal", "px", "noise_px")
        )
    )
