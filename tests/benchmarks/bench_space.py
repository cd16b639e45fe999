"""A route in space over decoding its photos and one plain detection of markers in each.

`PHOTOMEASURE_SET=DIR pytest tests/benchmarks/bench_space.py -s`, where DIR is a set that
`python -m tests.route.space_render` made; the name keeps it out of the normal run.
"""

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import cv2
import numpy as np
import pytest

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.route_space import route_in_space
from photomeasure.photo import load_photo
from photomeasure.references.board import DICTIONARY
from photomeasure.scene import BarReading
from tests.route.space_projected import outcome
from tests.route.space_scenes import draw_space_scene

FOLDER = Path(os.environ.get("PHOTOMEASURE_SET", "."))
PHOTOS = sorted(FOLDER.glob("photo*.jpg"))
MOST_TIMES = 6.0
MOST_S = 12.0  # for six photos of 12 MP on two cores
MOST_MB = 900.0

needs_set = pytest.mark.skipif(not PHOTOS, reason="PHOTOMEASURE_SET names no rendered set")


def _seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _measured() -> None:
    scene = json.loads((FOLDER / "truth.json").read_text("utf-8"))
    bars = {kind: BarReading(*reading) for kind, reading in scene["bars"].items()}
    route_in_space([partial(load_photo, photo) for photo in PHOTOS], PhotoOptions(bars))


@needs_set
def test_a_route_costs_few_times_its_decoding_and_detection() -> None:
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY))

    def plain() -> None:
        for photo in PHOTOS:
            data = np.frombuffer(photo.read_bytes(), dtype=np.uint8)
            detector.detectMarkers(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE))

    base = min(_seconds(plain) for _ in range(2))
    whole = min(_seconds(_measured) for _ in range(2))
    print(
        f"\n{len(PHOTOS)} photos: base {base:.2f} s, route {whole:.2f} s: {whole / base:.2f} times"
    )
    assert whole < MOST_TIMES * base
    assert whole < MOST_S * len(PHOTOS) / 6


@needs_set
def test_peak_memory_of_the_command() -> None:
    command = [sys.executable, "-m", "photomeasure", "route", "--json", *map(str, PHOTOS)]
    done = subprocess.run(command, capture_output=True, check=True)
    assert json.loads(done.stdout)
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"\npeak memory of the command {peak_mb:.0f} MB")
    assert peak_mb < MOST_MB


def test_the_solve_grows_no_faster_than_the_number_of_photos() -> None:
    """Of the same hose: four photos and eight, from corners to values."""
    times = []
    for photos in (4, 8):
        scene = draw_space_scene(8301, photos=photos)
        outcome(scene)
        began = time.process_time()
        outcome(scene)
        times.append(time.process_time() - began)
    print(f"\n4 photos {times[0]:.2f} s, 8 photos {times[1]:.2f} s")
    assert times[1] < 2.2 * times[0]
