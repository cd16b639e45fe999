"""Entries of a job as fields: each optional, each with why it is asked, each saved at once."""

import csv
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Self

import streamlit as st

from photomeasure.errors import PhotomeasureError
from photomeasure.job import Job
from photomeasure.job.enter import enter, entered, unfinished
from photomeasure.job.spoken import UNITS_OF, read_entry, say_entry
from photomeasure.job.units import Units
from photomeasure.pages import _bench
from photomeasure.pages._words import say
from photomeasure.sizing.hose_class import from_standard, hose_standards
from photomeasure.sizing.shelf import seats

__all__ = ["Entry", "entries", "form", "side_by_side"]

_TYPED = "as_typed"  # in the job's file: what stood in the field, letter by letter
_BUTTONS_UP_TO = 4  # more choices than these become a list
_NARROW_PX = 152  # two beside each other on a screen of 360


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the table of entries."""

    page: str
    part: str
    path: str
    kind: str
    label: str
    why: str
    options: str
    only: str

    @property
    def choices(self) -> dict[str, str]:
        """What may be chosen: as stored, and in words."""
        if self.options == "@seats":
            return {seat.name: seat.name for seat in seats()}
        if self.options == "@hoses":
            return {standard: standard for standard in hose_standards()}
        pairs = (pair.partition("=") for pair in self.options.split("|") if pair)
        return {value: words for value, _, words in pairs}

    def at_end(self, index: str) -> Self:
        """Give the entry of one end, 0 or 1."""
        return replace(self, path=self.path.replace("*", index), only=self.only.replace("*", index))

    def shown(self, job: Job) -> bool:
        """Say whether it is asked at all, given what was chosen before."""
        path, _, value = self.only.partition("=")
        return not path or entered(job, path) == value


@cache
def entries() -> tuple[Entry, ...]:
    """Give the table of all entries that the app asks for."""
    text = files(__package__).joinpath("entries.csv").read_text("utf-8")
    return tuple(Entry(**row) for row in csv.DictReader(text.splitlines(), strict=True))


def form(job: Job, page: str, *, end: str = "", first: str = "", only: str = "") -> None:
    """Draw a page's entries, part by part; the part asked for stands first and open.

    Parameters
    ----------
    job : Job
    page : str
    end : str
        `0` or `1` for the entries of an end.
    first : str
        The part that is asked for.
    only : str
        Draw this part alone, without a lid.
    """
    asked = [one.at_end(end) for one in entries() if one.page == page]
    parts = list(dict.fromkeys(one.part for one in asked))
    parts.sort(key=lambda part: part != first)
    for number, part in enumerate(parts):
        rows = [one for one in asked if one.part == part and one.shown(job)]
        if only:
            if part == only:
                _rows(job, rows)
        elif rows:
            is_open = part == first or (not first and number == 0)
            with st.expander(part, expanded=is_open, key=f"{page}.{end}.{part}"):
                _rows(job, rows)


def side_by_side(job: Job, page: str, part: str) -> None:
    """Draw the few entries of one part in a row."""
    rows = [one for one in entries() if (one.page, one.part) == (page, part)]
    units = _bench.units()
    with st.container(horizontal=True):
        for row in rows:
            with st.container(width=_NARROW_PX):
                _field(job, row, units)
                _below(job, row, units, why=False)


def _rows(job: Job, rows: Sequence[Entry]) -> None:
    filled = sum(entered(job, row.path) is not None for row in rows)
    st.caption(say("form.filled", filled=filled, all=len(rows)))
    units = _bench.units()
    for row in rows:
        _field(job, row, units)
        _below(job, row, units)
    groups = {row.path.rpartition(".")[0] for row in rows}
    if any(unfinished(job, group) for group in groups):
        st.warning(say("form.waits"))


def _field(job: Job, row: Entry, units: Units) -> None:
    key, shown = row.path, _shown(job, row, units)
    if key not in st.session_state or st.session_state.get(f"{key}:held") != shown:
        st.session_state[key] = shown or None if row.kind in ("choice", "yesno") else shown
        st.session_state[f"{key}:held"] = shown
    if row.kind in ("choice", "yesno"):
        _choice(row, shown)
        return
    unit = f" ({UNITS_OF[row.kind].bare(units)})" if row.kind in UNITS_OF else ""
    hint = "27 ± 0.5" if row.kind == "length" else ""
    label = f"{row.label}{unit}"
    st.text_input(label, placeholder=hint, key=key, on_change=_keep, args=(row,))


def _choice(row: Entry, shown: str) -> None:
    choices = (
        {answer: say(f"form.{answer}") for answer in ("yes", "no")}
        if row.kind == "yesno"
        else row.choices
    )
    if shown and shown not in choices:
        choices = {**choices, shown: shown}  # from a file: kept as it stands
    names = list(choices)
    if len(names) <= _BUTTONS_UP_TO:
        st.segmented_control(
            row.label,
            names,
            format_func=choices.__getitem__,
            key=row.path,
            on_change=_keep,
            args=(row,),
        )
    else:
        st.selectbox(
            row.label,
            names,
            None,
            format_func=choices.__getitem__,
            key=row.path,
            on_change=_keep,
            args=(row,),
            placeholder=say("choose"),
        )


def _shown(job: Job, row: Entry, units: Units) -> str:
    """Give what was typed if it still means what the file says, else the file's value in words."""
    value = entered(job, row.path)
    typed = dict(job.document.get(_TYPED) or {}).get(row.path)
    if isinstance(typed, str) and value is not None:
        try:
            if read_entry(row.kind, typed, units) == value:
                return typed
        except PhotomeasureError:
            pass
    return say_entry(row.kind, value, units)


def _keep(row: Entry) -> None:
    """Save one field as soon as it is left; what cannot be read stays in the field."""
    refused = f"{row.path}:refused"
    st.session_state.pop(refused, None)
    text = str(st.session_state.get(row.path) or "")
    units = _bench.units()
    try:
        value = read_entry(row.kind, text, units)
        typed = _with_unit(row, text, units)

        def change(job: Job) -> Job:
            words = {**dict(job.document.get(_TYPED) or {}), row.path: typed}
            return enter(job, row.path, value).changed(**{_TYPED: words})

        job = _bench.change_job(change)
        st.session_state[f"{row.path}:held"] = _shown(job, row, units)
        if st.session_state[f"{row.path}:held"] != text:
            del st.session_state[row.path]
    except PhotomeasureError as error:
        st.session_state[refused] = str(error)


def _with_unit(row: Entry, text: str, units: Units) -> str:
    """Write the unit behind a bare figure, so that it means the same tomorrow."""
    bare = row.kind in UNITS_OF and text.strip() and text.strip()[-1].isdigit()
    return f"{text.strip()} {UNITS_OF[row.kind].bare(units)}" if bare else text.strip()


def _promised(job: Job, row: Entry, units: Units) -> str:
    """Say what the hose's standard puts where nothing is entered."""
    group, _, name = row.path.partition(".")
    filled = from_standard(job.entries.hose).filled if group == "hose" else ()
    for one in filled:
        if one.figure == name:
            held = one.value
            value = held if isinstance(held, str) else say_entry(row.kind, held, units)
            key = "form.standard" if one.is_confirmed else "form.memory"
            value = row.choices.get(value, value)
            return say(key, value=value, standard=job.entries.hose.standard)
    return ""


def _below(job: Job, row: Entry, units: Units, *, why: bool = True) -> None:
    """Say under a field what was refused, or what it is in the other units, or why it is asked."""
    refused = st.session_state.get(f"{row.path}:refused")
    if refused:
        st.error(say("form.refused", why=refused), icon=":material/block:")
        return
    value = entered(job, row.path)
    other: Units = "in" if units == "mm" else "mm"
    lines = [say("form.why", why=row.why)] if why else []
    promised = _promised(job, row, units) if value is None else ""
    if promised:
        lines.insert(0, promised)
    if value is not None and row.kind in UNITS_OF:
        here, there = (say_entry(row.kind, value, one) for one in (units, other))
        lines.insert(
            0, f"**{here}**" if here == there else say("form.both", here=here, there=there)
        )
    if lines:
        st.caption("  \n".join(lines))
