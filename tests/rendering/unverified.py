"""Prints whose bars nobody measured: any scale, pages fitted to other paper among them."""

from dataclasses import replace

import numpy as np

from tests.rendering.page import Sheet
from tests.rendering.scenes import Bars, FittingScene

__all__ = ["unverified_print", "with_unverified_print"]

SCALE_SD = 0.005
APART_SD = 0.002  # between x and y
FITTED_SHARE = 0.1
FITTED = (0.94, 0.97)  # A4 made to fit Letter's height is 0.94, margins of a driver 0.97
CUT_SD_MM = 0.3  # of the paper's size; ISO 216 allows 1.5 mm in 210 and 2 mm in 297
FEED_SD_MM = 1.0  # of the print's place on the paper; common practice, no source


def unverified_print(sheet: Sheet, rng: np.random.Generator) -> tuple[Sheet, Bars]:
    """The sheet as another printer makes it, its paper's edges those of a real sheet."""
    is_fitted = rng.random() < FITTED_SHARE
    common = float(rng.uniform(*FITTED) if is_fitted else 1 + rng.normal(0, SCALE_SD))
    apart = float(rng.normal(0, APART_SD))
    x, y = common + apart / 2, common - apart / 2
    cut = np.array(sheet.page_mm) + np.clip(rng.normal(0, CUT_SD_MM, 2), -1.5, 1.5)
    feed = rng.normal(0, FEED_SD_MM, 2)
    printed = replace(
        sheet,
        scale_x=x,
        scale_y=y,
        paper_mm=(float(cut[0]), float(cut[1])),
        paper_at_mm=(float(feed[0]), float(feed[1])),
    )
    return printed, Bars(100 * x, 100 * y, None, None)


def with_unverified_print(scene: FittingScene) -> FittingScene:
    """The same scene on a print nobody measured.

    Parameters
    ----------
    scene : FittingScene

    Returns
    -------
    FittingScene
        Scales, paper and feed are draws of their own: all else is as with a measured print.
    """
    rng = np.random.default_rng([scene.seed, 3])
    sheet, bars = unverified_print(scene.sheet, rng)
    return replace(scene, sheet=sheet, bars=bars)
