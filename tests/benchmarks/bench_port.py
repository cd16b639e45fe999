"""A port's reading over decoding its photo and one plain detection of markers.

`pytest tests/benchmarks/bench_port.py -s`; the name keeps it out of the normal run. With
`PORT_PICTURES` set to a folder it takes the rendered ports that lie there, else a drawn one.
"""

import json
import os
from pathlib import Path

import cv2
import numpy as np

from photomeasure.answers.options import PhotoOptions
from photomeasure.answers.port import port
from photomeasure.photo import load_photo
from photomeasure.references.board import DICTIONARY
from photomeasure.scene import BarReading
from tests.benchmarks.bench_references import median_s
from tests.port.drawn import DrawnPort, draw_port

MOST_TIMES = 4.0
TWELVE_MEGAPIXELS = DrawnPort(size_px=(4032, 3024), focal_px=6000.0)


def _pictures(folder: Path) -> list[Path]:
    if rendered := os.environ.get("PORT_PICTURES"):
        return sorted(Path(rendered).glob("port_*.jpg"))
    picture = folder / "drawn.jpg"
    cv2.imwrite(str(picture), draw_port(TWELVE_MEGAPIXELS).colour)
    return [picture]


def _bars(picture: Path) -> BarReading:
    truth = picture.with_suffix(".json")
    if not truth.exists():
        return BarReading(100.0, 100.0)
    read = json.loads(truth.read_text("utf-8"))["print"]["bars"]
    return BarReading(read["x_read_mm"], read["y_read_mm"])


def test_a_port_costs_few_times_its_decoding_and_detection(tmp_path: Path) -> None:
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY))
    times = []
    for picture in _pictures(tmp_path):
        buffer, options = np.fromfile(picture, np.uint8), PhotoOptions({"": _bars(picture)})
        base = median_s(
            lambda buffer=buffer: detector.detectMarkers(cv2.imdecode(buffer, cv2.IMREAD_GRAYSCALE))
        )
        whole = median_s(
            lambda picture=picture, options=options: port([load_photo(picture)], options)
        )
        times.append(whole / base)
        print(f"\n{picture.stem}: base {base:.2f} s, port {whole:.2f} s: {times[-1]:.2f} times")
    assert float(np.median(times)) < MOST_TIMES
