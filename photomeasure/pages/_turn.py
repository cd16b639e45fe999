"""A path in space on the page, to be turned with a finger."""

import hashlib
import json
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import streamlit as st

from photomeasure.answers.route_space import SpaceRouteAnswer
from photomeasure.answers.words import band
from photomeasure.pages._words import say

__all__ = ["turned", "view_of"]

_HTML = """
<div class="turn"><canvas></canvas><button class="reset"></button></div>
"""
_CSS = """
canvas { display: block; width: 100%; height: 20rem; border: 1px solid #7a8783; background: #ffffff;
  touch-action: none; cursor: grab; box-sizing: border-box; }
canvas:focus-visible { outline: 3px solid #0b5563; outline-offset: 2px; }
button { min-height: 48px; width: 100%; margin-top: 8px; font: inherit; background: #ffffff;
  color: #14211f; border: 1px solid #7a8783; border-radius: 6px; }
"""
_FEET_MM = 60.0  # between the lines down to the floor
_FLOOR_MM = 100.0  # a square of it


@cache
def _component() -> Any:
    script = files(__package__).joinpath("turn.js").read_text("utf-8")
    return st.components.v2.component("path_view", html=_HTML, css=_CSS, js=script)


def turned(answer: SpaceRouteAnswer, key: str) -> None:
    """Show a path in space so that it can be turned.

    Parameters
    ----------
    answer : SpaceRouteAnswer
    key : str
    """
    _component()(key=key, data=view_of(answer))


def view_of(answer: SpaceRouteAnswer) -> dict[str, Any]:
    """What is drawn of a path: its points, widest ways first, over a floor under it [mm].

    Parameters
    ----------
    answer : SpaceRouteAnswer

    Returns
    -------
    dict
    """
    middle = answer.points_mm.mean(axis=0)
    axes = np.linalg.svd(answer.points_mm - middle, full_matrices=False)[2]
    axes[2] *= np.linalg.det(axes)
    points = (answer.points_mm - middle) @ axes.T
    thick = answer.line_od.value if answer.line_od else 10.0
    low = float(points[:, 2].min()) - thick
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    at = np.concatenate([[0.0], np.cumsum(steps)])
    feet = np.searchsorted(at, np.arange(0.0, at[-1], _FEET_MM))
    near = [
        {"between": ((one.between - middle) @ axes.T).round(1).tolist()}
        for one in answer.clearances
    ]
    told: dict[str, Any] = {
        "points": points.round(1).tolist(),
        "reach": float(np.linalg.norm(points, axis=1).max()),
        "thick": thick,
        "low": low,
        "feet": points[feet].round(1).tolist(),
        "floor": _floor(points, low),
        "near": near,
        "labels": _labels(answer, points, at, near),
        "words": {"reset": say("turn.reset")},
        "keys": say("turn.keys"),
    }
    told["id"] = hashlib.blake2b(json.dumps(told).encode(), digest_size=8).hexdigest()
    return told


def _labels(
    answer: SpaceRouteAnswer, points: Any, at: Any, near: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    ends = ((points[0], say("turn.start")), (points[-1], say("turn.end")))
    labels = [{"at": place.round(1).tolist(), "text": text} for place, text in ends]
    for number, bend in enumerate(answer.bends, start=1):
        if bend.at is not None:
            place = points[int(np.argmin(np.abs(at - bend.at.value)))]
            text = say("turn.bend", number=number, angle=band(bend.angle))
            labels.append({"at": place.round(1).tolist(), "text": text})
    for one, drawn in zip(answer.clearances, near, strict=True):
        labels.append({"at": drawn["between"][1], "text": one.name})
    return labels


def _floor(points: Any, low: float) -> list[list[list[float]]]:
    """Lines of squares under the path."""
    first, last = points.min(axis=0) - 0.5 * _FLOOR_MM, points.max(axis=0) + 0.5 * _FLOOR_MM
    ways = [np.arange(first[k], last[k] + 1e-9, _FLOOR_MM).round(1).tolist() for k in (0, 1)]
    (x0, x1), (y0, y1) = ((way[0], way[-1]) for way in ways)
    lines = [[[x, y0, low], [x, y1, low]] for x in ways[0]]
    return lines + [[[x0, y, low], [x1, y, low]] for y in ways[1]]
