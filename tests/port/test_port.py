"""Reading drawn ports with known truth, and what is refused."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.port import PortAnswer, port
from photomeasure.answers.port_picture import port_picture
from photomeasure.errors import NoThreadError, SheetNotFlatError, WrongPrintError
from photomeasure.photo import Photo
from photomeasure.port.port import PortOptions, read_port
from photomeasure.port.wall import Bore, helix_depth_mm
from photomeasure.references.find import find_pieces
from photomeasure.references.prints import FoundPiece
from photomeasure.scene import BarReading, solve_scenes
from tests.port.drawn import DrawnPort, draw_port

BARS = {"": BarReading(100.0, 100.0)}
# bores inside ISO 965-1's 6H (16.376 to 16.676) and ASME B1.1's 2B (from memory)
METRIC = DrawnPort()
LEFT = DrawnPort(hand=-1, heading_deg=200.0, thread_depth_mm=18.0, seed=2)
# an O-ring's housing in a recess, the end of its thread in sight
HOUSED = DrawnPort(
    mouth_mm=19.9,
    chamfer_deg=25.0,
    recess_mm=22.6,
    recess_deep_mm=0.8,
    thread_depth_mm=13.0,
    seed=3,
)
SQUARE = replace(METRIC, tilt_deg=8.0)
PLAIN = replace(METRIC, thread_depth_mm=0.0)

Picture = NDArray[np.float64]
Shade = Callable[[Picture], Picture]


@cache
def _photo(drawn: DrawnPort) -> Photo:
    return draw_port(drawn)


@cache
def _answer(drawn: DrawnPort) -> PortAnswer:
    return port([_photo(drawn)], PhotoOptions(BARS))


@pytest.mark.parametrize("drawn", [METRIC, LEFT], ids=["right", "left"])
def test_a_drawn_port_is_read_within_its_bands(drawn: DrawnPort) -> None:
    answer = _answer(drawn)
    bore, pitch = answer.bore_diameter, answer.pitch
    assert bore is not None
    assert pitch is not None
    assert abs(bore.value - drawn.bore_mm) < 3 * bore.u
    assert bore.u < 0.02 * drawn.bore_mm
    assert abs(pitch.value - drawn.pitch_mm) < 3 * pitch.u
    assert pitch.u < 0.03 * drawn.pitch_mm
    assert answer.hand == ("right" if drawn.hand > 0 else "left")


@pytest.mark.parametrize("drawn", [METRIC, HOUSED], ids=["chamfer", "housing"])
def test_the_mouth_is_read_within_its_band(drawn: DrawnPort) -> None:
    mouth = _answer(drawn).mouth_diameter
    assert mouth is not None
    assert abs(mouth.value - drawn.mouth_mm) < 3 * mouth.u
    assert mouth.u < 0.2


def test_a_housing_and_the_recess_round_it_are_told_from_a_chamfer() -> None:
    housed, plain = _answer(HOUSED), _answer(METRIC)
    assert housed.counterbore_diameter is not None
    assert housed.counterbore_diameter.value == pytest.approx(HOUSED.mouth_mm, abs=0.4)
    assert housed.spot_face_diameter is not None
    recess = housed.spot_face_diameter
    assert abs(recess.value - HOUSED.recess_mm) < 3 * recess.u
    assert recess.u < 0.3
    assert plain.counterbore_diameter is None
    assert plain.spot_face_diameter is None


def test_thread_depth_is_told_where_the_stripes_end_in_sight() -> None:
    depth = _answer(HOUSED).thread_depth
    assert depth is not None
    assert abs(depth.value - HOUSED.thread_depth_mm) < 3 * depth.u
    assert depth.u < 0.1 * depth.value
    deep = _answer(LEFT)  # the end of its thread is hidden
    assert deep.thread_depth is None
    (told,) = [text for text in deep.warnings if "full depth" in text]
    assert int(told.split(" mm")[0].split()[-1]) <= LEFT.thread_depth_mm + 1


def test_the_drawn_thread_is_the_likeliest() -> None:
    answer = _answer(METRIC)
    assert answer.candidates[0].designation == "M18x1.5"
    assert sum(one.probability for one in answer.candidates) == pytest.approx(1.0)


def test_an_answer_survives_its_json() -> None:
    answer = _answer(METRIC)
    again = PortAnswer.from_json(answer.as_json())
    assert again.as_json() == answer.as_json()
    assert answer.bore_diameter is not None
    assert answer.pitch is not None
    assert again.bore_diameter is not None
    assert again.pitch is not None
    ratio = answer.bore_diameter.number / answer.pitch.number
    other = again.bore_diameter.number / again.pitch.number
    assert other.std_dev == pytest.approx(ratio.std_dev, rel=1e-6)


def test_the_sources_of_the_bore_make_up_its_uncertainty() -> None:
    data = _answer(METRIC).as_json()
    parts = data["components"]["bore_diameter"]
    assert sum(part**2 for part in parts.values()) == pytest.approx(
        data["bore_diameter"]["u"] ** 2, rel=0.01
    )
    assert {"concentricity x", "squareness y", "mouth depth"} <= set(parts)


def test_the_picture_shows_photo_and_wall() -> None:
    data = port_picture(_photo(METRIC), _answer(METRIC))
    assert data[:2] == b"\xff\xd8"  # a JPEG
    wall = _answer(METRIC).traces[0].wall
    assert wall.shape[0] > wall.shape[1] > 100
    assert len(_answer(METRIC).traces[0].wall_lines) >= 5


def test_square_on_gives_the_bore_alone_and_says_what_to_do() -> None:
    answer = _answer(SQUARE)
    bore = answer.bore_diameter
    assert bore is not None
    assert abs(bore.value - SQUARE.bore_mm) < 3 * bore.u
    assert bore.u < 0.4
    assert answer.pitch is None
    assert answer.hand == "unknown"
    assert answer.verdict == "ambiguous"
    assert any("leaned 40 to 50" in text for text in answer.warnings)
    names = {one.designation for one in answer.candidates if one.probability > 0.01}
    assert {"M18x1.5", "11/16-18 UNS"} <= names  # bores of 16.4 and 16.0 mm upwards


def test_a_square_photo_beside_a_slanted_one_is_measured_with_it() -> None:
    both = port([_photo(SQUARE), _photo(METRIC)], PhotoOptions(BARS))
    square, alone = _answer(SQUARE).bore_diameter, _answer(METRIC).bore_diameter
    bore = both.bore_diameter
    assert square is not None
    assert alone is not None
    assert bore is not None
    low, high = sorted((square.value, alone.value))
    assert low < bore.value < high
    assert bore.u < square.u
    assert abs(bore.value - METRIC.bore_mm) < 3 * bore.u
    assert both.pitch is not None
    assert len(both.traces) == 2
    assert not any("give both" in text for text in both.warnings)


def test_a_square_photo_s_picture_has_no_wall() -> None:
    answer = _answer(SQUARE)
    assert answer.traces[0].wall.size == 0
    assert port_picture(_photo(SQUARE), answer)[:2] == b"\xff\xd8"


def _within_hole(photo: Photo, shade: Shade, key: str) -> tuple[Photo, tuple[FoundPiece, ...]]:
    """The photo with another light inside the collar's hole."""
    pieces = find_pieces(photo)
    (scene,) = solve_scenes([photo], [list(pieces)], BARS)
    middle = scene.px(np.zeros((1, 3)))[0]
    rim = scene.px(np.array([[12.6, 0, 0], [0, 12.6, 0]]))
    reach = float(np.hypot(*(rim - middle).T).min())
    rows, columns = np.mgrid[0 : photo.grey.shape[0], 0 : photo.grey.shape[1]]
    inside = np.hypot(columns - middle[0], rows - middle[1]) < reach
    grey = photo.grey.copy()
    grey[inside] = np.clip(shade(photo.grey.astype(np.float64)), 0, 255)[inside]
    return replace(photo, grey=grey, key=key), pieces


def _blotches(grey: Picture) -> Picture:
    """Grease and swarf: dark and light spots about a millimetre wide."""
    noise = np.random.default_rng(4).normal(size=grey.shape)
    spots = cv2.GaussianBlur(noise, (0, 0), 5.0)
    return np.asarray(grey * np.exp(0.5 * spots / spots.std()))


@pytest.mark.parametrize(
    ("shade", "words"),
    [
        (lambda grey: 0 * grey + 3, "too dark"),
        (lambda grey: 0 * grey + 140, "round no hole"),
        (_blotches, "grease, swarf or dirt"),
        (lambda grey: grey, "shows no thread"),
    ],
    ids=["dark", "no hole", "dirt", "plain"],
)
def test_each_reason_for_no_thread_has_its_own_sentence(shade: Shade, words: str) -> None:
    photo, pieces = _within_hole(_photo(PLAIN), shade, words)
    with pytest.raises(NoThreadError, match=words):
        read_port(photo, pieces, PortOptions(BARS))


def test_another_collar_is_asked_for_by_name() -> None:
    photo = _photo(METRIC)
    with pytest.raises(WrongPrintError, match="collar 24"):
        read_port(photo, find_pieces(photo), PortOptions(BARS, piece="collar 12"))
    with pytest.raises(WrongPrintError, match="no collar"):
        read_port(photo, (), PortOptions(BARS))


def test_a_crumpled_collar_is_refused_with_its_own_remedy() -> None:
    photo = _photo(METRIC)
    (found,) = find_pieces(photo)
    rng = np.random.default_rng(0)
    wild = replace(found, corners_px=found.corners_px + 9 * rng.standard_normal((60, 2)))
    with pytest.raises(SheetNotFlatError, match="collar"):
        read_port(photo, (wild,), PortOptions(BARS))


def test_a_right_hand_helix_rises_counter_clockwise() -> None:
    """Seen from outside a right-hand thread comes out of the port turning to the left."""
    sides = np.array([0.0, np.pi / 2])
    depth = 5.0 - helix_depth_mm(sides, 2.0, 1)
    points = Bore(0.0, 0.0, 8.0).points(sides, depth)
    assert points[1, 1] > points[0, 1]  # counter-clockwise, y up
    assert points[1, 2] - points[0, 2] == pytest.approx(0.5)  # a quarter of the pitch


def test_where_the_taper_cannot_be_weighed_the_rough_fit_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("photomeasure.port.fit.TAPER_ROUNDS", ((0.01, 0.02),))  # shows no edge
    photo = _photo(METRIC)
    reading = read_port(photo, find_pieces(photo), PortOptions(BARS))
    first, second = reading.supposed
    assert second.bore_diameter.value == first.bore_diameter.value
    assert abs(reading.bore_diameter.value - METRIC.bore_mm) < 3 * reading.bore_diameter.u


def test_the_collar_s_own_edge_is_not_taken_for_a_mouth(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photomeasure.port.port.LEAST_CLEAR_MM", 9.0)  # all circles are too near
    photo = _photo(METRIC)
    with pytest.raises(NoThreadError, match="collar's own edge"):
        read_port(photo, find_pieces(photo), PortOptions(BARS))
