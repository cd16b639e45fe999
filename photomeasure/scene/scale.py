"""How large the print came out of the printer."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.quantities import Source
from photomeasure.references.prints import Print

__all__ = ["BarReading", "PageScale", "page_scale"]

BAR_U_MM = 0.05  # a caliper on ink edges, 0.05 to 0.1 mm; common practice, no source
UNVERIFIED_MEAN = 0.995  # of 85 % N(1, 0.4 %) and 15 % uniform 0.93 to 1.00
UNVERIFIED_U = 0.015  # of the same mixture
SHEAR_U = 0.002  # x against y of one page; common practice, no source


@dataclass(frozen=True, slots=True)
class BarReading:
    """What the user measured on the printed check bars; None where he did not."""

    x_mm: float | None
    y_mm: float | None


@dataclass(frozen=True, slots=True, eq=False)
class PageScale:
    """What is known of a print's scale before the photo is looked at.

    Attributes
    ----------
    mean : (2,)
        Real millimetres per nominal millimetre along the page's x and y.
    root : (2, 2)
        Root of the covariance, one column a source.
    sources : tuple of Source
    is_verified : bool
        Both bars were measured.
    """

    mean: NDArray[np.float64]
    root: NDArray[np.float64]
    sources: tuple[Source, Source]
    is_verified: bool


def page_scale(print_: Print, reading: BarReading | None) -> PageScale:
    """Print scale in x and y from the bars; wide where they were not measured.

    Parameters
    ----------
    print_ : Print
    reading : BarReading or None

    Returns
    -------
    PageScale
    """
    x = reading.x_mm / print_.bar_x.length_mm if reading and reading.x_mm else None
    y = reading.y_mm / print_.bar_y.length_mm if reading and reading.y_mm else None
    key = f"{print_.name} x={x} y={y}"
    sources = (
        Source("print scale x", "print scale along the page's x", "print", key),
        Source("print scale y", "print scale along the page's y", "print", key),
    )
    u_x, u_y = BAR_U_MM / print_.bar_x.length_mm, BAR_U_MM / print_.bar_y.length_mm
    if x is not None and y is not None:
        mean, root = [x, y], [[u_x, 0.0], [0.0, u_y]]
    elif x is not None:
        mean, root = [x, x], [[u_x, 0.0], [u_x, SHEAR_U]]
    elif y is not None:
        mean, root = [y, y], [[SHEAR_U, u_y], [0.0, u_y]]
    else:
        mean, root = [UNVERIFIED_MEAN] * 2, [[UNVERIFIED_U, 0.0], [UNVERIFIED_U, SHEAR_U]]
    return PageScale(np.array(mean), np.array(root), sources, x is not None and y is not None)
