"""Figures of the match and of the caliper check: `python -m tests.sizing.study [COUNT] [SEED]`."""

import math
import sys
import time

import numpy as np
from numpy.typing import NDArray

from photomeasure.sizing.caliper import check_readings
from photomeasure.sizing.zones import Floats
from photomeasure.standards import lookalikes
from tests.sizing.benches import SLIPS, benches
from tests.sizing.mechanics import Judged, judged, only, simulated_photos, with_mistakes

PAIRS = {frozenset((pair.designation, pair.lookalike)) for pair in lookalikes()}


def photos(count: int, seed: int) -> None:
    cases = {
        "scale 1 %, with thread angle": (0.01, 4),
        "scale 1 %, without angle": (0.01, 3),
        "scale 0.3 %, with thread angle": (0.003, 4),
        "scale 0.3 %, without angle": (0.003, 3),
        "scale 2 %, diameter and pitch": (0.02, 2),
    }
    for label, (scale_u, quantities) in cases.items():
        start = time.perf_counter()
        drawn = simulated_photos(count, np.random.default_rng(seed), scale_u=scale_u)
        _report(label, judged(only(drawn, quantities)), time.perf_counter() - start)


def reliability(count: int, seed: int) -> None:
    """Parts as common and finders as faulty as the judge supposes."""
    for label, scale_u, quantities in (("1 %, no angle", 0.01, 3), ("2 %, D and P", 0.02, 2)):
        rng = np.random.default_rng(seed)
        drawn = with_mistakes(simulated_photos(count, rng, scale_u=scale_u, as_common=True), rng)
        _report(f"as supposed, scale {label}", judged(only(drawn, quantities)), math.inf)


def _report(label: str, found: Judged, seconds: float) -> None:
    tabled = found.truth < found.threads
    right = found.identified & (found.best == found.truth)
    wrong = found.identified & (found.best != found.truth)
    names = [
        frozenset((found.name(found.best[i]), found.name(found.truth[i])))
        for i in np.flatnonzero(wrong)
    ]
    among = found.probabilities[np.arange(len(found.truth)), found.truth]
    second = np.argsort(-found.probabilities, axis=1)[:, :2]
    both = ~found.identified & (second == found.truth[:, None]).any(axis=1)
    pair = np.array([frozenset((found.name(a), found.name(b))) in PAIRS for a, b in second])
    print(
        f"{label}: {len(found.truth)} readings, {len(found.truth) / seconds * 60:.0f} a minute\n"
        f"  of {tabled.sum()} tabled: identified rightly {right[tabled].mean():.2%}, "
        f"ambiguous between it and its look-alike {(both & pair)[tabled].mean():.2%}, "
        f"wrongly {wrong[tabled].mean():.3%} ({wrong[tabled].sum()}), "
        f"of these as a look-alike {[sorted(name) for name in names if name in PAIRS]}\n"
        f"  of {(~tabled).sum()} of random size: named as a thread {wrong[~tabled].mean():.2%}; "
        f"all wrong {wrong.mean():.3%}; mean 1 - p of the identified "
        f"{(1 - found.probability[found.identified]).mean():.3%}; "
        f"mean p of the truth {among.mean():.3f}"
    )
    _reliability(found.probabilities.ravel(), found.hits.ravel())


def _reliability(said: Floats, hit: NDArray[np.bool_]) -> None:
    for low in range(10):
        inside = (said > low / 10) & (said <= low / 10 + 0.1)
        deviation = math.sqrt(said[inside].mean() * (1 - said[inside].mean()) / inside.sum())
        print(
            f"    {low / 10:.1f}-{low / 10 + 0.1:.1f}: {inside.sum():7d} "
            f"said {said[inside].mean():.4f} were {hit[inside].mean():.4f} (sd {deviation:.4f})"
        )


def calipers(count: int, seed: int, *, as_supposed: bool) -> None:
    """Random instruments, 5 % slips: the caliper's figures.

    Parts inside their limits, or one in ten of no table and one hand in ten twice as rough.
    """
    rng = np.random.default_rng(seed)
    drawn = benches(count, rng, as_supposed=as_supposed, as_common=True)
    start = time.perf_counter()
    answers = [check_readings(one.readings) for one in drawn]
    seconds = time.perf_counter() - start
    both = list(zip(drawn, answers, strict=True))
    sure = [(one, answer) for one, answer in both if answer.verdict == "identified"]
    wrong = [
        (one.slip, one.truth, answer.candidates[0].designation)
        for one, answer in sure
        if answer.candidates[0].designation != one.truth
    ]
    for slip in (None, *SLIPS):
        flags = [not answer.agree for one, answer in both if one.slip == slip]
        print(f"  {slip or 'no slip'}: {len(flags)}, flagged {np.mean(flags):.4f}")
    found = [not answer.agree for one, answer in both if one.slip]
    print(
        f"calipers: {count} mechanics, {1e3 * seconds / count:.1f} ms each, identified "
        f"{len(sure) / count:.2%}, wrongly {len(wrong) / count:.3%} {wrong}; "
        f"slips found {np.mean(found):.3f} of {len(found)}"
    )
    said = np.array([c.probability for _, answer in both for c in answer.candidates])
    hit = [c.designation == one.truth for one, answer in both for c in answer.candidates]
    _reliability(said, np.array(hit))


if __name__ == "__main__":
    COUNT = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    SEED = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    photos(COUNT, SEED)
    reliability(COUNT, SEED)
    print("parts inside their limits, errors of the published size:")
    calipers(COUNT, SEED, as_supposed=False)
    print("one part in ten of no table, one hand in ten twice as rough:")
    calipers(COUNT, SEED, as_supposed=True)
