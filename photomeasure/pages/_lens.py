"""Lenses that were learnt here: remembered beside the jobs, used for every photo they took."""

import hashlib

import streamlit as st

from photomeasure.errors import BadProfileError, WrongCameraError
from photomeasure.pages import _bench
from photomeasure.photo import LensName, LensProfile, Photo

__all__ = ["forget_lens", "lenses", "remember_lens", "with_lens"]

_FOLDER = "lenses"  # beside the jobs


def lenses() -> dict[str, LensProfile]:
    """Give every lens that is remembered, by the name of its file."""
    found = {}
    for file in sorted((_bench.jobs_folder() / _FOLDER).glob("*.json")):
        try:
            found[file.stem] = LensProfile.read(file)
        except BadProfileError:
            continue  # written by another version: it is learnt again
    return found


def remember_lens(profile: LensProfile) -> None:
    """Remember a lens in place of what was known of it; what was measured is measured again."""
    folder = _bench.jobs_folder() / _FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    long, short = profile.size_px
    known_by = f"{profile.name} {short / long:.2f}"
    profile.write(folder / f"{hashlib.blake2b(known_by.encode(), digest_size=8).hexdigest()}.json")
    st.cache_resource.clear()


def forget_lens(name: str) -> None:
    """Forget a lens; what was measured with it is measured again."""
    (_bench.jobs_folder() / _FOLDER / f"{name}.json").unlink(missing_ok=True)
    st.cache_resource.clear()


def with_lens(photo: Photo) -> Photo:
    """Give a photo what is remembered of the lens that took it; unchanged if nothing is."""
    if not LensName.of(photo.notes).is_told:
        return photo
    for profile in lenses().values():
        try:
            if profile.name.is_told:
                return photo.with_profile(profile)
        except WrongCameraError:
            continue
    return photo
