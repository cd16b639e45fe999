"""Reading drawn ports with known truth, and what is refused."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.port import PortAnswer, port
from photomeasure.answers.port_picture import port_picture
from photomeasure.errors import NoThreadError, SheetNotFlatError, WrongPrintError
from photomeasure.photo import Photo
from photomeasure.port.port import PortOptions, read_port
from photomeasure.port.wall import Bore, helix_depth_mm
from photomeasure.references.find import find_pieces
from photomeasure.scene import BarReading, solve_scenes
from tests.port.drawn import DrawnPort, draw_port

BARS = {"": BarReading(100.0, 100.0)}
# bores inside ISO 965-1's 6H (16.376 to 16.676) and ASME B1.1's 2B (from memory)
METRIC = DrawnPort()
LEFT = DrawnPort(hand=-1, heading_deg=200.0, seed=2)


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


def test_square_on_the_thread_is_not_seen() -> None:
    square = replace(METRIC, tilt_deg=8.0)
    with pytest.raises(NoThreadError, match="square on"):
        port([_photo(square)], PhotoOptions(BARS))


def test_a_dark_port_is_refused_with_its_own_sentence() -> None:
    photo = _photo(METRIC)
    grey = photo.grey.copy()
    pieces = find_pieces(photo)
    (scene,) = solve_scenes([photo], [list(pieces)], BARS)
    middle = scene.px(np.zeros((1, 3)))[0]
    rows, columns = np.mgrid[0 : grey.shape[0], 0 : grey.shape[1]]
    rim = scene.px(np.array([[12.6, 0, 0], [0, 12.6, 0]]))
    reach = float(np.hypot(*(rim - middle).T).min())
    grey[np.hypot(columns - middle[0], rows - middle[1]) < reach] = 3
    dark = replace(photo, grey=grey, key="dark")
    with pytest.raises(NoThreadError, match="dark"):
        read_port(dark, pieces, PortOptions(BARS))


def test_a_plain_hole_has_no_thread() -> None:
    plain = replace(METRIC, thread_depth_mm=0.0)
    with pytest.raises(NoThreadError, match="no thread"):
        port([_photo(plain)], PhotoOptions(BARS))


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
