"""What the app asks for beside the table of entries: photos, check bars, which end."""

from pathlib import Path

import streamlit as st

from photomeasure.errors import UsageError
from photomeasure.job import Job
from photomeasure.job.enter import enter, entered
from photomeasure.job.units import Units
from photomeasure.pages import _bench, _form
from photomeasure.pages._bench import Upload
from photomeasure.pages._words import say
from photomeasure.quantities import parse_length_mm, parse_pitch_mm, parse_value
from photomeasure.sizing.entries import EndEntry

__all__ = [
    "Bars",
    "bars",
    "end",
    "end_names",
    "has_bars",
    "keep_for",
    "length_mm",
    "more_photos",
    "pitch_mm",
    "uploads",
    "with_photo",
]

Bars = tuple[float | None, float | None]  # x, y [mm]
KINDS = ["jpg", "jpeg", "png", "heic", "heif", "webp"]
MOST_PHOTOS = 8


def length_mm(label: str, key: str, units: Units, *, hint: str = "") -> float | None:
    """Ask for a length; a bare number is in the chosen unit, a decimal comma is fine."""
    text = st.text_input(f"{label} ({units})", key=key, placeholder=hint).strip()
    if not text:
        return None
    return parse_length_mm(text + units if _is_bare(text) else text)


def pitch_mm(label: str, key: str, units: Units) -> float | None:
    """Ask for a pitch: millimetres, or threads to the inch."""
    bare = "mm" if units == "mm" else "tpi"
    text = st.text_input(
        f"{label} ({bare})", key=key, placeholder=say("caliper.pitch_hint")
    ).strip()
    if not text:
        return None
    return parse_pitch_mm(text + bare if _is_bare(text) else text)


def _is_bare(text: str) -> bool:
    try:
        parse_value(text, bare="dimensionless", unit="dimensionless")
    except UsageError:
        return False
    return True


def has_bars(job: Job, kind: str) -> bool:
    """Say whether both check bars of a kind of print are known."""
    return all(entered(job, f"bars.{kind}.{way}") is not None for way in "xy")


def bars(job: Job, kind: str) -> Bars:
    """Ask for the two check bars of a kind of print; the last print's are offered.

    Parameters
    ----------
    job : Job
    kind : str
        `sheet`, `collar`, `cards` or `bands`.
    """
    x, y = (entered(job, f"bars.{kind}.{way}") for way in "xy")
    if x is not None and y is not None:
        _bench.remember_bars(kind, (x, y))
        title = say(f"bars.title_{kind}")
        words = _bench.in_units(say("bars.known", title=title, x=x, y=y))
        with st.expander(words, key=f"bars.{kind}"):
            _form.side_by_side(job, "bars", kind)
        return x, y
    st.subheader(say(f"bars.title_{kind}"))
    st.caption(say("bars.why"))
    _offer_last(kind)
    _form.side_by_side(job, "bars", kind)
    return x, y


def _offer_last(kind: str) -> None:
    last = _bench.remembered_bars(kind)
    if last is not None:
        words = _bench.in_units(say("bars.last", x=last[0], y=last[1]))
        st.button(
            words, key=f"bars.{kind}.last", width="stretch", on_click=_take_last, args=(kind, last)
        )


def _take_last(kind: str, last: tuple[float, float]) -> None:
    for way, value in zip("xy", last, strict=True):
        _bench.change_job(lambda job, way=way, value=value: enter(job, f"bars.{kind}.{way}", value))  # type: ignore[misc]


def end_names(job: Job) -> dict[str, str]:
    """Name both ends of the hose."""
    ends = [*job.entries.ends, EndEntry(), EndEntry()][:2]
    return {
        letter: f"{letter}: {one.name}" if one.name else say("end.name", letter=letter)
        for letter, one in zip("AB", ends, strict=True)
    }


def end(job: Job, key: str) -> int | None:
    """Ask which end of the hose is meant; the address may have said it."""
    labels = end_names(job)
    said = st.query_params.get("end", "")
    if st.session_state.get(f"{key}:said") != said or key not in st.session_state:
        st.session_state[key] = said if said in labels else None
        st.session_state[f"{key}:said"] = said
    chosen = st.segmented_control(
        say("end.which"), list(labels), key=key, format_func=labels.__getitem__
    )
    return None if chosen is None else "AB".index(chosen)


def keep_for(job: Job, room: str) -> int | None:
    """Offer to keep an answer for either end; give the end, 0 or 1, that was just tapped."""
    said, ends = st.query_params.get("end", ""), [*job.entries.ends, EndEntry(), EndEntry()]
    names = {
        letter: f"{letter}: {one.name}" if one.name else say("keep.end", letter=letter)
        for letter, one in zip("AB", ends, strict=False)
    }
    with st.container(horizontal=True, key=f"{room}.keep"):
        tapped = [
            st.button(
                say("keep.for", end=name),
                key=f"{room}.keep.{letter}",
                type="primary" if said in ("", letter) else "secondary",
                width="stretch",
            )
            for letter, name in names.items()
        ]
    return tapped.index(True) if any(tapped) else None


def with_photo(job: Job) -> Path | None:
    """Offer to weigh the readings together with the photo that an end has."""
    answers = {
        "AB"[one.end]: one.file
        for one in job.entries.answers
        if one.kind in ("fitting", "port") and one.end is not None
    }
    if not answers:
        return None
    said = st.query_params.get("end", "")
    labels = {"": say("caliper.no_photo")} | {
        letter: end_names(job)[letter] for letter in sorted(answers)
    }
    chosen = st.segmented_control(
        say("caliper.photo"),
        list(labels),
        default=said if said in answers else "",
        format_func=labels.__getitem__,
        key="caliper.photo",
        required=True,
    )
    return job.path(answers[chosen]) if chosen else None


def uploads(job: Job, room: str) -> list[Upload]:
    """Ask for photos; after a broken connection the job's own photos are offered."""
    return _given(say("photo.upload"), f"{room}.photos") or _from_job(job, room)


def more_photos(room: str, uploads: list[Upload]) -> list[Upload]:
    """Ask for a second photo of the same part; give them all."""
    with st.expander(say("photo.more"), icon=":material/add_a_photo:", key=f"{room}.another"):
        st.markdown(say(f"photo.more_{room}"))
        known = [data for _, data in uploads]
        more = _given(say("photo.more_upload"), f"{room}.more")
    return uploads + [upload for upload in more if upload[1] not in known]


def _given(label: str, key: str) -> list[Upload]:
    given = st.file_uploader(
        label, type=KINDS, accept_multiple_files=True, key=key, max_upload_size=50
    )
    if len(given) > MOST_PHOTOS:
        raise UsageError(
            say("photo.too_many", count=len(given)), say("photo.most", most=MOST_PHOTOS)
        )
    return [(file.name, file.getvalue()) for file in given]


def _from_job(job: Job, room: str) -> list[Upload]:
    kept = {
        f"{photo.taken_as} ({photo.file.removeprefix('photos/')})": photo
        for photo in job.entries.photos
        if photo.note == room
    }
    if not kept:
        return []
    chosen = st.pills(
        say("photo.of_job"), list(kept), selection_mode="multi", key=f"{room}.kept_photo"
    )
    paths = [(kept[name].taken_as, job.path(kept[name].file)) for name in chosen]
    return [(name, path.read_bytes()) for name, path in paths if path]
