"""The address for the phone, and its square code read back by another library."""

import cv2
import numpy as np
import pytest

from photomeasure.answers.address import network_address, qr_rows, qr_svg, qr_text
from photomeasure.cli.web import app_line

ADDRESS = "http://192.168.178.23:8501"


@pytest.mark.parametrize("text", [ADDRESS, "http://10.0.0.7:65535", "x"])
def test_the_code_is_read_back(text: str) -> None:
    # read by the computer-vision library's own decoder, which shares no code with the drawing
    rows = np.array(qr_rows(text))
    picture = np.kron(np.where(rows, 0, 255).astype(np.uint8), np.ones((8, 8), np.uint8))
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == text


def test_the_code_as_letters_has_the_same_modules() -> None:
    rows = qr_rows(ADDRESS)
    lines = qr_text(ADDRESS).splitlines()
    upper = [[letter in " ▄" for letter in line] for line in lines]
    lower = [[letter in " ▀" for letter in line] for line in lines]
    back = [row for pair in zip(upper, lower, strict=True) for row in pair][: len(rows)]
    assert [tuple(row) for row in back] == list(rows)


def test_the_code_as_a_drawing_asks_nobody() -> None:
    assert "href" not in qr_svg(ADDRESS)


def test_an_address_is_this_machines_or_none() -> None:
    found = network_address()
    assert found is None or not found.startswith("127.")


def test_the_app_is_this_machines_alone_unless_shared() -> None:
    assert "--server.address=localhost" in app_line(8501)
    assert "--server.address=0.0.0.0" in app_line(8501, shared=True)
    for line in (app_line(8501), app_line(8501, shared=True)):
        assert "--browser.gatherUsageStats=false" in line
