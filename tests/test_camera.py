"""A phone's lens learnt from photos of the sheet: how true it is, what it is good for."""

import contextlib
import io
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from photomeasure.answers import camera as camera_room
from photomeasure.cli import measuring, run
from photomeasure.errors import (
    BadProfileError,
    TooFewPhotosError,
    TooUncertainError,
    WrongCameraError,
    WrongPrintError,
)
from photomeasure.photo import CameraNotes, LensName, LensProfile, Photo, load_photo, quarter_turn
from photomeasure.references.catalogue import print_of
from photomeasure.scene import Scene, learn_lens, solve_scenes
from tests.references.projected import View as Projected
from tests.references.projected import developed, ideal
from tests.scenes import (
    FOCAL_MM,
    SIZE_PX,
    DrawnScene,
    Phone,
    View,
    draw_paper,
    draw_phone,
    size_of,
    take,
)

HELD = (1, 6, 3, 8)  # EXIF orientations
PHONES = 5


def _photos(phone: Phone, rng: np.random.Generator, lean_deg: float = 40.0) -> list[DrawnScene]:
    paper = draw_paper(rng, corner_lifts_mm=1.0)
    views = [View((200.0, 320.0), (0.0, min(lean_deg, 10.0)))]
    views += [View((200.0, 320.0), (min(lean_deg, 15.0), lean_deg), held) for held in HELD]
    return [take(phone, paper, view, rng) for view in views]


def _learnt(drawn: list[DrawnScene]) -> LensProfile:
    return learn_lens([one.photo for one in drawn], [[one.found] for one in drawn])


def _truth(phone: Phone, profile: LensProfile) -> NDArray[np.float64]:
    """What a profile should say: of breathing only what it cannot know at its own distance."""
    near = FOCAL_MM * profile.near_per_mm
    focal = phone.focal_px * (1 + phone.breathing * near) / (1 + near)
    long = max(SIZE_PX)
    return np.array([focal / long, *np.divide(phone.centre_px, long), phone.k1, phone.k2])


def _errors(drawn: DrawnScene, scene: Scene, of: Callable[[Scene], float], true: float):
    """Error and standard uncertainty of something, and what of it the named lens sources cost."""
    base = of(scene)
    parts = [(source.scope, of(moved) - base) for source, moved in scene.variants()]
    u = np.sqrt(sum(part**2 for _, part in parts))
    return base - true, u, np.sqrt(sum(part**2 for scope, part in parts if scope == "camera"))


def test_a_learnt_lens_is_as_good_as_it_claims() -> None:
    """Normalised errors of all five numbers, over phones that breathe and shake unlike."""
    normalised, focal_u = [], []
    for seed in range(PHONES):
        rng = np.random.default_rng([seed, 3])
        phone = draw_phone(rng)
        profile = _learnt(_photos(phone, rng))
        u = np.linalg.norm(profile.root, axis=1)
        normalised.append((profile.values - _truth(phone, profile)) / u)
        focal_u.append(u[0] / profile.values[0])
    assert 0.4 < np.mean(np.square(normalised)) < 1.6
    assert np.mean(np.abs(normalised) < 1.96) >= 0.86
    assert max(focal_u) < 0.006  # a photo's own 35 mm value: 0.02


def _known(phone: Phone, rng: np.random.Generator) -> LensProfile:
    """What may be learnt of a phone, as good as it claims."""
    root = np.diag([0.0018, 0.0012, 0.0012, 0.003, 0.004])
    blank = LensProfile(LensName(), SIZE_PX, np.full(5, 0.7), root, 1 / 230, 6)
    return replace(blank, values=_truth(phone, blank) + root @ rng.standard_normal(5))


def test_a_profile_tells_how_far_the_camera_stood() -> None:
    """The camera's height over the paper, and 16 mm at a height of 11 mm."""
    ends = np.array([[-8.0, 0.0, 11.0], [8.0, 0.0, 11.0]])
    heights: dict[bool, list[tuple[float, float, float]]] = {True: [], False: []}
    lengths: dict[bool, list[tuple[float, float, float]]] = {True: [], False: []}
    for seed in range(16):
        rng = np.random.default_rng([seed, 4])
        phone = draw_phone(rng)
        profile = _known(phone, rng)
        drawn = take(phone, draw_paper(rng), View(orientation=int(rng.choice(HELD))), rng)
        pose, px = drawn.camera_from_sheet, drawn.px(ends)
        height = float(-pose[:3, 2] @ pose[:3, 3])

        def length(scene, px=px):
            return float(np.hypot(*np.diff(scene.sheet_mm(px, 11.0), axis=0)[0]))

        for has_profile in (True, False):
            photo = drawn.photo.with_profile(profile) if has_profile else drawn.photo
            (scene,) = solve_scenes([photo], [[drawn.found]], {"": drawn.bars})
            above = _errors(drawn, scene, lambda s: float(s.centre_mm[2]), height)
            heights[has_profile].append(above)
            lengths[has_profile].append(_errors(drawn, scene, length, 16.0))
    known, alone = (np.array(heights[has_profile]) for has_profile in (True, False))
    assert np.median(known[:, 1]) < 0.4 * np.median(alone[:, 1])
    assert np.sqrt(np.mean(known[:, 0] ** 2)) < 0.5 * np.sqrt(np.mean(alone[:, 0] ** 2))
    assert np.all(known[:, 2] > 0.1 * known[:, 1])
    assert np.all(alone[:, 2] == 0)
    for found in (known, np.array(lengths[True]), np.array(lengths[False])):
        assert np.mean(np.abs(found[:, 0] / found[:, 1]) < 1.96) >= 0.8
        assert np.mean((found[:, 0] / found[:, 1]) ** 2) < 1.8
    better = np.median(np.array(lengths[True])[:, 1]) / np.median(np.array(lengths[False])[:, 1])
    assert better < 0.75


def test_photos_too_much_alike_tell_no_lens() -> None:
    rng = np.random.default_rng(1)
    with pytest.raises(TooUncertainError, match="alike"):
        _learnt(_photos(draw_phone(rng), rng, lean_deg=1.0))


def test_only_the_sheet_teaches_a_lens() -> None:
    rng = np.random.default_rng(1)
    drawn = _photos(draw_phone(rng), rng)
    collar = replace(drawn[0].found, print_=print_of("collar", "A4"))
    with pytest.raises(WrongPrintError):
        _learnt([replace(drawn[0], found=collar), *drawn[1:]])


def test_two_photos_are_too_few() -> None:
    rng = np.random.default_rng(1)
    with pytest.raises(TooFewPhotosError):
        _learnt(_photos(draw_phone(rng), rng)[:2])


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"notes": CameraNotes(turned=1, model="another")}, "another"),
        ({"notes": CameraNotes(model="phone")}, "held"),
        ({"grey": np.zeros((1512, 2016), np.uint8), "colour": np.zeros((1512, 2016, 3), np.uint8)},
         "2016 × 1512"),
    ],
)  # fmt: skip
def test_photos_of_unlike_cameras_are_refused(change, word) -> None:
    rng = np.random.default_rng(1)
    phone = replace(draw_phone(rng), model="phone")
    drawn = _photos(phone, rng)
    drawn[0] = replace(drawn[0], photo=replace(drawn[0].photo, **change))
    with pytest.raises(WrongCameraError, match=word):
        _learnt(drawn)


def test_the_centre_turns_with_the_phone() -> None:
    """EXIF 2.32, tag 0x0112: 6 means that the stored right side is the upright bottom."""
    turn = quarter_turn(CameraNotes(turned=6))
    assert turn is not None
    np.testing.assert_array_equal(turn @ (1, 0), (0, 1))
    rng = np.random.default_rng(5)
    phone = replace(draw_phone(rng), centre_px=(40.0, 0.0))
    still = View(drift=0.0, orientation=6)
    assert take(phone, draw_paper(rng), still, rng).camera.centre_y_px == pytest.approx(
        (size_of(6)[1] - 1) / 2 + 40
    )


# --- files and commands

MODEL, MAKE, HELD_TAG, FOCAL_TAG, FILM_TAG, EXIF_IFD = 0x110, 0x10F, 0x112, 0x920A, 0xA405, 0x8769


def _jpeg(grey: NDArray[np.uint8], model: str = "P1", turned: int = 1) -> bytes:
    exif, buffer = Image.Exif(), BytesIO()
    exif[MAKE], exif[MODEL], exif[HELD_TAG] = "Invented", model, turned
    exif.get_ifd(EXIF_IFD).update({FOCAL_TAG: FOCAL_MM, FILM_TAG: 26})
    Image.fromarray(grey).convert("RGB").save(buffer, "JPEG", exif=exif, quality=92)
    return buffer.getvalue()


@dataclass(frozen=True, slots=True)
class Told:
    """What the command was given, stored and said, and what it held in memory meanwhile."""

    photo: Path
    stored: Path
    said: dict[str, Any]
    kept: list[Photo]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """The command on three drawn photos of the Letter sheet; the focal length is 1150 px."""
    folder, rng = tmp_path_factory.mktemp("album"), np.random.default_rng(2)
    sheet, paths = print_of("sheet", "Letter"), []
    for number, (tilt, towards) in enumerate([(5, 0), (32, 20), (30, 200)]):
        view = Projected((1512, 1136), 1150.0, 190.0, tilt, towards, look_at_mm=(108.0, 140.0))
        grey = developed(ideal(sheet, view, samples=2), rng, blur_px=0.7)
        paths.append(folder / f"{number}.jpg")
        paths[-1].write_bytes(_jpeg(grey))
    kept: list[Photo] = []

    def spy(photos, found):
        kept.extend(photos)
        return learn_lens(photos, found)

    out = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(out):
        patch.setattr(camera_room, "learn_lens", spy)
        stored = folder / "lens.json"
        assert run(["camera", *map(str, paths), "--out", str(stored), "--json"]) == 0
    return Told(paths[0], stored, json.loads(out.getvalue()), kept)


def test_the_command_says_what_it_learnt(told: Told) -> None:
    said = told.said
    assert (said["kind"], said["camera"], said["photos"]) == ("camera", "Invented P1 6 mm", 3)
    # drawn by a pinhole of 1150 px, which near focus has lengthened by 6 mm / 190 mm or so
    assert said["focal_length"]["low"] < 1150 / 1.0316 < said["focal_length"]["high"]
    assert said["focal_length"]["u"] < 0.006 * 1150
    assert said["centre_x"]["low"] < 0 < said["centre_x"]["high"]


def test_no_pixels_are_kept_while_learning(told: Told) -> None:
    assert len(told.kept) == 3
    assert all(photo.grey.strides == (0, 0) for photo in told.kept)


def test_a_stored_profile_is_read_as_written(told: Told, tmp_path: Path) -> None:
    profile = LensProfile.read(told.stored)
    profile.write(tmp_path / "again.json")
    again = LensProfile.read(tmp_path / "again.json")
    assert again.key == profile.key
    np.testing.assert_array_equal(again.root, profile.root)


def test_every_photo_command_takes_the_profile(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    met: list[Photo] = []

    class SeenError(Exception):
        """Far enough."""

    def spy(photos, *_, **__):
        met.extend(load() if callable(load) else load for load in photos)
        raise SeenError

    for name in ("fitting", "port", "route", "route_in_space"):
        monkeypatch.setattr(measuring, name, spy)
    for command in (["fitting"], ["port"], ["route"], ["route", "--laid", "space"]):
        run([*command, str(told.photo), "--camera", str(told.stored)])
    assert [photo.profile.key for photo in met] == 4 * [LensProfile.read(told.stored).key]


def test_a_profile_of_another_camera_is_refused(told: Told) -> None:
    profile = LensProfile.read(told.stored)
    grey = np.full((1512, 2016), 128, np.uint8)
    with pytest.raises(WrongCameraError, match="Invented P2"):
        load_photo(_jpeg(grey, model="P2")).with_profile(profile)
    with pytest.raises(WrongCameraError, match="shape"):
        load_photo(_jpeg(grey[:1134])).with_profile(profile)


def test_a_shrunk_copy_is_scaled_and_a_silent_one_is_warned_of(told: Told) -> None:
    profile = LensProfile.read(told.stored)
    grey = np.full((756, 1008), 128, np.uint8)
    assert load_photo(_jpeg(grey)).with_profile(profile).profile is profile
    buffer = BytesIO()
    Image.fromarray(grey).save(buffer, "JPEG")
    silent = load_photo(buffer.getvalue()).with_profile(profile)
    assert any("does not say" in text for text in silent.warnings)


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"lens_profile": 2}', "\xff", "1e999"])
def test_what_is_no_profile_is_refused(text: str, tmp_path: Path) -> None:
    path = tmp_path / "lens.json"
    path.write_text(text, encoding="latin-1")
    with pytest.raises(BadProfileError):
        LensProfile.read(path)


def test_damaged_numbers_are_no_profile(told: Told, tmp_path: Path) -> None:
    body = json.loads(told.stored.read_text("utf-8"))
    for key, value in (("focal", -1.0), ("centre", [0.0]), ("size_px", [0, 1]), ("focal", 1e400)):
        path = tmp_path / "lens.json"
        path.write_text(json.dumps(body | {key: value}), encoding="utf-8")
        with pytest.raises(BadProfileError):
            LensProfile.read(path)


def test_a_profile_that_cannot_be_written_says_so(told: Told, tmp_path: Path) -> None:
    with pytest.raises(BadProfileError, match="written"):
        LensProfile.read(told.stored).write(tmp_path / "no such folder" / "lens.json")
