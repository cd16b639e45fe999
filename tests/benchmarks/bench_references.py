"""Loading a photo and finding the sheet, over decoding it and one plain detection of markers.

`pytest tests/benchmarks/bench_references.py -s`; the name keeps it out of the normal run.
"""

import statistics
import time
from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from photomeasure.photo import load_photo
from photomeasure.references.board import DICTIONARY
from photomeasure.references.catalogue import print_of
from photomeasure.references.find import find_pieces
from tests.references.projected import View, developed, ideal

VIEW = View((4032, 3024), 2970, 215, tilt_deg=12, tilt_towards_deg=70, turn_deg=92, k1=0.05)


@pytest.fixture(scope="module")
def jpeg() -> bytes:
    picture = ideal(print_of("sheet", "A4"), VIEW, 2)
    grey = developed(picture, np.random.default_rng(0), blur_px=1.2, noise=3)
    colour = cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR)
    return cv2.imencode(".jpg", colour, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()


def median_s(work: Callable[[], object], runs: int = 5) -> float:
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def test_loading_and_finding_cost_less_than_one_plain_detection(jpeg):
    buffer = np.frombuffer(jpeg, dtype=np.uint8)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY))

    def plain() -> None:
        detector.detectMarkers(cv2.imdecode(buffer, cv2.IMREAD_GRAYSCALE))

    photo = load_photo(jpeg)
    base, load, find = (
        median_s(plain),
        median_s(lambda: load_photo(jpeg)),
        median_s(lambda: find_pieces(replace(photo))),  # a copy: found anew
    )
    print(f"\nbase {base:.3f} s, load {load:.3f} s, find {find:.3f} s: {(load + find) / base:.2f}")
    assert load + find < base
