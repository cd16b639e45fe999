"""Time of a judgement: with all readings of a bench, and of thousands at once.

`pytest tests/benchmarks/bench_sizing.py -s`; the name keeps it out of the normal run. Processor
time, as the machine may have other work.
"""

import statistics
import time
from collections.abc import Callable

import numpy as np

from photomeasure.sizing.caliper import CaliperReadings, Span, check_readings
from photomeasure.sizing.seating import SeatLook
from tests.sizing.mechanics import judged, simulated_photos

MOST_S = 0.010  # one judgement with all readings
LEAST_A_MINUTE = 50_000
COUNT = 5000


def median_s(work: Callable[[], object], runs: int) -> float:
    work()
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return statistics.median(times)


def test_a_judgement_with_all_readings_takes_ten_milliseconds() -> None:
    readings = CaliperReadings(
        major_mm=(15.85, 15.87, 15.86),
        minor_mm=(13.9,),
        pitch_mm=(1.5,),
        spans=(Span(13.5, 9),),
        seen=SeatLook("o-ring under hexagon"),
        across_flats_mm=22.0,
    )
    took = median_s(lambda: check_readings(readings), 30)
    print(f"one judgement with all readings: {1e3 * took:.1f} ms")
    assert took <= MOST_S


def test_many_judgements_at_once() -> None:
    photos = simulated_photos(COUNT, np.random.default_rng(3))
    took = median_s(lambda: judged(photos), 3)
    print(f"simulated judgements a minute: {60 * COUNT / took:.0f}")
    assert COUNT * 60 / took >= LEAST_A_MINUTE
