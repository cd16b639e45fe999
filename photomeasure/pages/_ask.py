"""What the app asks for: photos, the check bars, lengths in the user's own unit."""

import re

import streamlit as st

from photomeasure.errors import UsageError
from photomeasure.job import Job, save_job
from photomeasure.pages._bench import Bars, Upload
from photomeasure.quantities import parse_length_mm, parse_pitch_mm

__all__ = ["bars", "length_mm", "pitch_mm", "unit", "uploads"]

KINDS = ["jpg", "jpeg", "png", "heic", "heif", "webp"]
MOST_PHOTOS = 8
_BARE = re.compile(r"\s*[\d.,/ ]+\s*")


def unit() -> str:
    """Ask in which unit bare numbers are meant."""
    chosen = st.segmented_control("Unit", ["mm", "inch"], default="mm", key="unit")
    return {"mm": "mm", "inch": "in"}[chosen or "mm"]


def length_mm(label: str, key: str, unit_name: str, *, hint: str = "") -> float | None:
    """Ask for a length; a bare number is in the chosen unit, a decimal comma is fine."""
    text = st.text_input(label, key=key, placeholder=hint)
    return _read(text, unit_name)


def pitch_mm(label: str, key: str, unit_name: str) -> float | None:
    """Ask for a pitch: millimetres, or threads to the inch."""
    text = st.text_input(label, key=key, placeholder="1.5 mm or 18 tpi").strip()
    if not text:
        return None
    if _BARE.fullmatch(text):
        text += "mm" if unit_name == "mm" else "tpi"
    return parse_pitch_mm(text)


def _read(text: str, unit_name: str) -> float | None:
    if not text.strip():
        return None
    return parse_length_mm(text + unit_name if _BARE.fullmatch(text) else text)


def bars(job: Job, unit_name: str) -> Bars:
    """Ask for the two check bars, remembered in the job."""
    held = job.document.get("bars") or {}
    for way in ("x", "y"):
        st.session_state.setdefault(f"bars.{way}", held.get(way, ""))
    st.caption("Measure both check bars of your print with a caliper or a steel rule.")
    across, up = st.columns(2)
    with across:
        x = length_mm("Bar across", "bars.x", unit_name, hint="99.8")
    with up:
        y = length_mm("Bar up the page", "bars.y", unit_name, hint="100.1")
    said = {way: st.session_state[f"bars.{way}"] for way in ("x", "y")}
    if said != {"x": held.get("x", ""), "y": held.get("y", "")}:
        save_job(job.changed(bars=said))
    if x is None or y is None:
        st.caption("Without them the print's size is a guess, and the answer much less sure.")
    return x, y


def uploads(job: Job, room: str, *, many: bool) -> list[Upload]:
    """Ask for photos; after a broken connection the job's own photos are offered."""
    given = st.file_uploader(
        "Take the photo first, then choose it here (the file, not a messenger's copy)",
        type=KINDS,
        accept_multiple_files=many,
        key=f"{room}.photos",
        max_upload_size=50,
    )
    files = given if isinstance(given, list) else [given] if given else []
    if len(files) > MOST_PHOTOS:
        raise UsageError(f"{len(files)} photos are too many.", f"Give up to {MOST_PHOTOS}.")
    if files:
        return [(file.name, file.getvalue()) for file in files]
    return _from_job(job, room)


def _from_job(job: Job, room: str) -> list[Upload]:
    kept = {
        f"{photo.taken_as} ({photo.file})": photo.file
        for photo in job.entries.photos
        if photo.note == room
    }
    if not kept:
        return []
    chosen = st.selectbox("Or a photo of this job", ["", *kept], key=f"{room}.kept_photo")
    path = job.path(kept[chosen]) if chosen else None
    return [(chosen, path.read_bytes())] if path else []
