"""A picture on the page that can be enlarged and moved, and on which points can be marked."""

import base64
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import streamlit as st

from photomeasure.pages._words import say

__all__ = ["Shown", "picture"]

_HTML = """
<div class="pic">
  <div class="stage"><div class="sheet"><img draggable="false"><svg></svg></div></div>
  <div class="row">
    <button class="larger"></button>
    <button class="smaller"></button>
  </div>
  <div class="row marking" hidden>
    <button class="back"></button>
    <button class="again"></button>
  </div>
</div>
"""
_BUTTONS = ("larger", "smaller", "back")
_CSS = """
.stage { position: relative; overflow: hidden; border: 1px solid #7a8783; cursor: crosshair; }
.stage:focus-visible { outline: 3px solid #0b5563; outline-offset: 2px; }
.sheet { transform-origin: 0 0; position: relative; }
img { display: block; width: 100%; user-select: none; -webkit-user-drag: none; }
svg { position: absolute; left: 0; top: 0; width: 100%; height: 100%; pointer-events: none; }
.row { display: flex; gap: 8px; margin-top: 8px; }
.row[hidden] { display: none; }
button { min-height: 48px; flex: 1; font: inherit; background: #ffffff; color: #14211f;
  border: 1px solid #7a8783; border-radius: 6px; }
button:disabled { color: #7a8783; }
button.again:enabled { background: #0b5563; color: #ffffff; }
"""


@cache
def _component() -> Any:
    script = files(__package__).joinpath("picture.js").read_text("utf-8")
    return st.components.v2.component("bench_picture", html=_HTML, css=_CSS, js=script)


def _nothing() -> None:
    """Stand for what happens when marks come: the page runs again by itself."""


@dataclass(frozen=True, slots=True)
class Shown:
    """How a picture is shown.

    Attributes
    ----------
    line : sequence of [x, y]
        Drawn over it, in shares of width and height.
    marks : int
        The fewest marks that a person sets on it; 0: it is only looked at.
    most : int
        The most; one more tap clears them.
    is_own : bool
        Whether a person set those; the first tap clears the program's.
    button : str
        What the button to send them says: `again` or `set`.
    at : sequence of [x, y]
        Marks that stand there at first, to be moved.
    is_answer : bool
        As soon as it comes, the page turns to its top, where the answer's words are.
    """

    line: Sequence[Sequence[float]] = ()
    marks: int = 0
    most: int = 99
    is_own: bool = True
    button: str = "again"
    at: Sequence[Sequence[float]] = ()
    is_answer: bool = False


def picture(
    jpeg: bytes, key: str, words: str, shown: Shown | None = None
) -> list[list[float]] | None:
    """Show a picture; give the marks that were sent, as shares of width and height.

    Parameters
    ----------
    jpeg : bytes
    key : str
    words : str
        What it shows, for those who hear the page.
    shown : Shown, optional

    Returns
    -------
    list of [x, y] or None
    """
    how = shown or Shown()
    drawn = json.dumps(how.line).encode()
    told = {
        "id": hashlib.blake2b(jpeg + drawn, digest_size=8).hexdigest(),
        "src": f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}",
        "alt": words,
        "line": how.line,
        "marks": how.marks,
        "most": how.most,
        "at": how.at,
        "own": how.is_own,
        "words": {name: say(f"picture.{name}") for name in _BUTTONS}
        | {"again": say(f"picture.{how.button}")},
        "keys": say("picture.mark_keys" if how.marks else "picture.look_keys", what=words),
        "is_answer": how.is_answer,
    }
    found = _component()(key=key, data=told, on_marks_change=_nothing)
    marks = found.marks
    if not isinstance(marks, list) or len(marks) < how.marks or not how.marks:
        return None
    # from a browser comes what it likes: no more than can be tapped, and all of it in the picture
    return [[min(1.0, max(0.0, float(at))) for at in (x, y)] for x, y in marks[: how.most]]
