"""A fitting's reading over decoding its photo and one plain detection of markers, and its memory.

`pytest tests/benchmarks/bench_fitting.py -s`; the name keeps it out of the normal run.
"""

import json
import resource
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from photomeasure.answers.fitting import fitting
from photomeasure.answers.options import PhotoOptions
from photomeasure.photo import load_photo
from photomeasure.references.board import DICTIONARY
from photomeasure.scene import BarReading
from tests.benchmarks.bench_references import median_s

SAMPLES = Path(__file__).parents[2] / "sample_images"
MOST_TIMES = 4.0
MOST_MB = 600.0


@pytest.mark.parametrize("name", ["fitting_metric", "fitting_inch"])
def test_a_fitting_costs_few_times_its_decoding_and_detection(name: str) -> None:
    data = (SAMPLES / f"{name}.jpg").read_bytes()
    bars = json.loads((SAMPLES / f"{name}.json").read_text("utf-8"))["print"]["bars"]
    options = PhotoOptions({"": BarReading(bars["x_read_mm"], bars["y_read_mm"])})
    buffer = np.frombuffer(data, dtype=np.uint8)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY))

    def plain() -> None:
        detector.detectMarkers(cv2.imdecode(buffer, cv2.IMREAD_GRAYSCALE))

    base = median_s(plain)
    whole = median_s(lambda: fitting([load_photo(SAMPLES / f"{name}.jpg")], options))
    print(f"\n{name}: base {base:.2f} s, fitting {whole:.2f} s: {whole / base:.2f} times")
    assert whole < MOST_TIMES * base


def test_peak_memory_of_the_command() -> None:
    command = [sys.executable, "-m", "photomeasure", "fitting", "--json"]
    picture = str(SAMPLES / "fitting_metric.jpg")
    done = subprocess.run([*command, picture], capture_output=True, check=True)
    assert json.loads(done.stdout)
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"\npeak memory of the command {peak_mb:.0f} MB")
    assert peak_mb < MOST_MB
