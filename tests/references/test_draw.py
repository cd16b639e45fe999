"""Prints read back from the files that are written."""

import json
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream

from photomeasure.errors import UsageError
from photomeasure.references.board import DICTIONARY
from photomeasure.references.catalogue import all_prints, print_of
from photomeasure.references.collar import COLLAR_MOUTHS_MM
from photomeasure.references.draw import layout_json, write_print
from photomeasure.references.draw_png import raster
from photomeasure.references.prints import Print

KINDS = ("sheet", "collar", "markers", "bands")
PAPERS = ("A4", "Letter")
EVERY = [(kind, paper) for kind in KINDS for paper in PAPERS]
MM_PER_POINT = 25.4 / 72
# ISO 216 and ANSI/ASME Y14.1 (8.5 x 11 inches)
PAPER_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


@cache
def page_at(kind: str, paper: str, dpi: float) -> np.ndarray:
    return raster(print_of(kind, paper), dpi)[..., 0]


@cache
def pdf_of(kind: str, paper: str, folder: Path) -> PdfReader:
    path = folder / f"{kind}-{paper}.pdf"
    write_print(print_of(kind, paper), path)
    return PdfReader(path)


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("prints")


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_the_pdf_is_one_page_of_exactly_the_paper(kind, paper, folder):
    pdf = pdf_of(kind, paper, folder)
    assert len(pdf.pages) == 1
    box = pdf.pages[0].mediabox
    size_mm = (float(box.width) * MM_PER_POINT, float(box.height) * MM_PER_POINT)
    assert size_mm == pytest.approx(PAPER_MM[paper], abs=1e-4)
    assert (float(box.left), float(box.bottom)) == (0, 0)
    # ISO 32000-1, table 150: asks the print dialogue for no scaling
    assert pdf.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"


def boxes_in(pdf: PdfReader) -> np.ndarray:
    """Every rectangle of the PDF as left, top, right, bottom in page millimetres."""
    page = pdf.pages[0]
    height = float(page.mediabox.height)
    boxes = []
    for operands, operator in ContentStream(page.get_contents(), pdf).operations:
        if operator == b"re":
            x, y, w, h = (float(v) for v in operands)
            boxes.append([x, height - y - h, x + w, height - y])
    return np.array(boxes) * MM_PER_POINT


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_squares_and_bars_of_the_pdf_are_where_the_layout_says(kind, paper, folder):
    boxes = boxes_in(pdf_of(kind, paper, folder))
    print_ = print_of(kind, paper)
    wanted = [np.hstack((s[0], s[2])) for piece in print_.pieces for s in piece.squares_page_mm]
    for box in wanted:
        assert np.abs(boxes - box).max(axis=1).min() < 0.001
    bars = layout_json(print_)["bars"]
    for axis, name in ((0, "x"), (1, "y")):
        ends = np.array([bars[name]["from_mm"], bars[name]["to_mm"]])
        is_it = (np.abs(boxes[:, axis] - ends[0, axis]) < 0.001) & (
            np.abs(boxes[:, axis + 2] - ends[1, axis]) < 0.001
        )
        across = boxes[is_it][:, [1 - axis, 3 - axis]].mean(axis=1)
        assert np.abs(across - ends[0, 1 - axis]).min() < 0.001


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_the_page_names_itself_and_says_how_to_use_it(kind, paper, folder):
    text = pdf_of(kind, paper, folder).pages[0].extract_text()
    assert f"version 1 · {paper}" in text
    assert "photomeasure" in text
    assert "100 % (actual size)" in text
    assert "X bar: 100 mm" in text
    assert "Y bar: 100 mm" in text


def test_the_sheet_says_from_where_to_shoot(folder):
    text = pdf_of("sheet", "A4", folder).pages[0].extract_text()
    shoot = print_of("sheet", "A4").shoot
    near, far = shoot.distance_mm
    assert f"{near:.0f}–{far:.0f} mm" in text
    assert f"{shoot.tilt_deg[1]:.0f}°" in text
    for words in ("not along it", "No flash", "four corners"):
        assert words in text


def edge_mm(profile: np.ndarray, first_px: int, dpi: float) -> float:
    """Where a run of pixels goes from black to paper or back, from how dark they are in all."""
    share = profile.astype(float) / 255
    black = share if share[-1] < 0.5 else 1 - share
    return (first_px + black.sum()) * 25.4 / dpi


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_edges_of_the_png_agree_with_the_layout(kind, paper):
    dpi = 600.0
    page, print_ = page_at(kind, paper, dpi), print_of(kind, paper)
    scale, worst = dpi / 25.4, 0.0
    for piece in print_.pieces:
        for square in piece.squares_page_mm:
            (left, top), (right, bottom) = square[0], square[2]
            row, column = round((top + bottom) / 2 * scale), round((left + right) / 2 * scale)
            for x in (left, right):
                first = round(x * scale) - 8
                worst = max(worst, abs(edge_mm(page[row, first : first + 16], first, dpi) - x))
            for y in (top, bottom):
                first = round(y * scale) - 8
                worst = max(worst, abs(edge_mm(page[first : first + 16, column], first, dpi) - y))
    assert worst < 0.005  # the layout allows 0.05; area coverage does ten times better


@pytest.mark.parametrize(("kind", "paper"), EVERY)
@pytest.mark.parametrize("dpi", [600.0, 150.0])
def test_bars_of_the_png_are_as_long_as_the_layout_says(kind, paper, dpi):
    page, bars = page_at(kind, paper, dpi), layout_json(print_of(kind, paper))["bars"]
    for axis, name in ((0, "x"), (1, "y")):
        across_mm = bars[name]["from_mm"][1 - axis]
        at = int(across_mm * dpi / 25.4)
        line = page[at, :] if axis == 0 else page[:, at]
        start = int((bars[name]["from_mm"][axis] - 1.2) * dpi / 25.4)
        end = int((bars[name]["to_mm"][axis] + 1.2) * dpi / 25.4)
        ink_mm = (1 - line[start:end] / 255.0).sum() * 25.4 / dpi
        assert ink_mm == pytest.approx(bars[name]["length_mm"], abs=0.05)
        assert bars[name]["length_mm"] == 100
        length = np.hypot(*np.subtract(bars[name]["to_mm"], bars[name]["from_mm"]))
        assert length == pytest.approx(100)


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_the_png_has_its_resolution_and_the_whole_page(kind, paper, folder):
    path = folder / f"{kind}-{paper}.png"
    write_print(print_of(kind, paper), path, dpi=300)
    with Image.open(path) as image:
        assert image.info["dpi"] == pytest.approx((300, 300), rel=1e-4)
        assert image.size == tuple(round(side / 25.4 * 300) for side in PAPER_MM[paper])


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_ink_keeps_away_from_the_edge_of_the_page(kind, paper):
    page = page_at(kind, paper, 150.0)
    rows, columns = np.nonzero(page < 250)
    scale = 25.4 / 150
    width, height = PAPER_MM[paper]
    for inset in (rows.min(), columns.min(), height / scale - rows.max() - 1):
        assert inset * scale >= 11.9
    assert (width / scale - columns.max() - 1) * scale >= 11.9


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_the_library_reads_every_marker_at_its_place(kind, paper):
    """OpenCV's own detector with its own dictionary, on the page as drawn."""
    dpi = 300.0
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.01
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    found, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(
        page_at(kind, paper, dpi)
    )
    seen = dict(zip(ids.ravel().tolist(), found, strict=True))
    for piece in print_of(kind, paper).pieces:
        for marker, corners in zip(piece.marker_ids, piece.marker_corners_page_mm, strict=True):
            px = corners / 25.4 * dpi - 0.5
            assert np.abs(seen[int(marker)].reshape(4, 2) - px).max() < 2.0


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_corners_are_saddle_points_of_the_page(kind, paper):
    dpi = 600.0
    page = page_at(kind, paper, dpi)
    corners = np.vstack([piece.corners_page_mm for piece in print_of(kind, paper).pieces])
    start = (corners / 25.4 * dpi - 0.5).astype(np.float32).reshape(-1, 1, 2)
    found = cv2.cornerSubPix(page, start.copy(), (11, 11), (-1, -1), (3, 40, 1e-3))
    assert np.abs(found - start).max() * 25.4 / dpi < 0.01
    around = np.round(start[:, 0]).astype(int)
    step = round(0.5 / 25.4 * dpi)
    a, b, c, d = (
        page[around[:, 1] + y, around[:, 0] + x] < 128
        for y, x in ((-step, -step), (-step, step), (step, step), (step, -step))
    )
    assert np.all((a == c) & (b == d) & (a != b))


def test_no_two_pieces_share_a_marker():
    ids = np.concatenate([piece.marker_ids for p in all_prints() for piece in p.pieces])
    assert len(set(ids.tolist())) == len(ids)
    assert ids.max() < 1000
    assert {(p.kind, p.paper) for p in all_prints()} == set(EVERY)


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_markers_have_a_white_module_round_them(kind, paper):
    page, dpi = page_at(kind, paper, 300.0), 300.0
    for piece in print_of(kind, paper).pieces:
        for corners in piece.marker_corners_page_mm:
            module = np.ptp(corners[:, 0]) / 7
            outer = np.array([corners.min(axis=0) - module, corners.max(axis=0) + module])
            (x0, y0), (x1, y1) = np.round(outer / 25.4 * dpi).astype(int)
            inner = np.array([corners.min(axis=0), corners.max(axis=0)]) / 25.4 * dpi
            (a0, b0), (a1, b1) = inner[0].astype(int) - 1, np.ceil(inner[1]).astype(int) + 1
            ring = page[y0:y1, x0:x1].copy()
            ring[b0 - y0 : b1 - y0, a0 - x0 : a1 - x0] = 255
            assert ring.min() > 200


@pytest.mark.parametrize("paper", PAPERS)
def test_the_bed_is_blank_and_ringed_by_corners(paper):
    print_ = print_of("sheet", paper)
    bed = layout_json(print_)["bed"]
    assert bed["size_mm"] == [90, 130]
    half = np.array(bed["size_mm"]) / 2
    low, high = np.array(bed["centre_mm"]) - half, np.array(bed["centre_mm"]) + half
    (x0, y0), (x1, y1) = np.round(np.array([low, high]) / 25.4 * 300).astype(int)
    assert page_at("sheet", paper, 300.0)[y0 + 1 : y1 - 1, x0 + 1 : x1 - 1].min() == 255
    corners = print_.pieces[0].corners_page_mm
    for corner in (low, high, (low[0], high[1]), (high[0], low[1])):
        assert np.linalg.norm(corners - corner, axis=1).min() < 1e-6
    bearing = np.arctan2(*(corners - bed["centre_mm"]).T)
    assert np.diff(np.sort(bearing)).max() < np.deg2rad(10)


def shape_of(value: object) -> object:
    """Keys and types, for comparison with the contract."""
    if isinstance(value, dict):
        return {key: shape_of(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [shape_of(value[0])] if value else []
    return type(value).__name__ if not isinstance(value, int | float) else "number"


@pytest.mark.parametrize(("kind", "paper"), EVERY)
def test_the_layout_has_the_contracts_form(kind, paper):
    layout = json.loads(json.dumps(layout_json(print_of(kind, paper))))
    bar = {"from_mm": ["number"], "to_mm": ["number"], "length_mm": "number"}
    assert set(layout) == {"kind", "page_mm", "pieces", "bars", "bed", "shoot"}
    assert layout["kind"] == kind
    assert tuple(layout["page_mm"]) == PAPER_MM[paper]
    assert shape_of(layout["bars"]) == {"x": bar, "y": bar}
    assert shape_of(layout["shoot"]) == {"distance_mm": ["number"], "tilt_deg": ["number"]}
    assert (layout["bed"] is None) == (kind != "sheet")
    names = [piece["name"] for piece in layout["pieces"]]
    assert len(set(names)) == len(names)
    for piece in layout["pieces"]:
        assert set(piece) == {"name", "outline_mm", "hole", "direction", "order", "role"}
        assert (piece["hole"] is not None) == (kind == "collar")
        assert (piece["direction"] is not None) == (kind == "bands")


def test_cards_have_one_start_and_one_end():
    roles = [piece.role for piece in print_of("markers", "A4").pieces]
    assert (roles.count("start"), roles.count("end"), roles.count(None)) == (1, 1, 6)


def test_bands_are_numbered_from_one():
    pieces = print_of("bands", "A4").pieces
    assert [piece.order for piece in pieces] == list(range(1, len(pieces) + 1))


@pytest.mark.parametrize("mouth_mm", [3.0, 8.0, 17.3, 20.0, 33.3, 52.0])
def test_one_collar_clears_its_mouth(mouth_mm):
    print_ = print_of("collar", "A4", mouth_mm)
    (piece,) = layout_json(print_)["pieces"]
    assert piece["hole"]["diameter_mm"] == pytest.approx(mouth_mm + 2)
    outline = np.array(piece["outline_mm"])
    assert outline.mean(axis=0) == pytest.approx(piece["hole"]["centre_mm"])
    corners = print_.pieces[0].corners_page_mm
    away = np.linalg.norm(corners - piece["hole"]["centre_mm"], axis=1)
    assert away.min() > piece["hole"]["diameter_mm"] / 2 + 1
    assert len(corners) >= 24


@pytest.mark.parametrize("mouth_mm", COLLAR_MOUTHS_MM)
def test_a_collar_is_no_larger_than_needed(mouth_mm):
    outline = print_of("collar", "Letter", mouth_mm).pieces[0].outline_page_mm
    assert np.ptp(outline[:, 0]) <= mouth_mm + 30 + 6


@pytest.mark.parametrize("mouth_mm", [0.0, 2.0, 60.0])
def test_no_collar_for_such_a_mouth(mouth_mm):
    with pytest.raises(UsageError) as caught:
        print_of("collar", "A4", mouth_mm)
    assert caught.value.code == "usage"


def test_a_collar_with_its_own_hole_has_the_pages_markers_and_corners():
    """So that a photo need not tell how large a hole was cut."""
    page = {piece.name: piece for piece in print_of("collar", "A4").pieces}
    (own,) = print_of("collar", "A4", 17.0).pieces
    twin = page[own.name]
    assert own.marker_ids.tolist() == twin.marker_ids.tolist()
    shift = own.corners_page_mm - twin.corners_page_mm
    assert np.ptp(shift, axis=0).max() < 1e-9


def test_pieces_do_not_overlap():
    for print_ in all_prints():
        boxes = [np.hstack((p.outline_page_mm[0], p.outline_page_mm[2])) for p in print_.pieces]
        for i, a in enumerate(boxes):
            for b in boxes[:i]:
                overlap = np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2])
                assert overlap.min() < 1e-6


def test_other_endings_are_refused(tmp_path):
    sheet: Print = print_of("sheet", "A4")
    with pytest.raises(ValueError, match="must end"):
        write_print(sheet, tmp_path / "sheet.svg")
