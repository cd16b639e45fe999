"""How large the print came out of the printer."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from photomeasure.quantities import Normal, Source, mixture_quantile
from photomeasure.references.page import PAGE_MM
from photomeasure.references.paper_edges import PaperWidth
from photomeasure.references.prints import Paper, Print

__all__ = ["BarReading", "PageScale", "page_scale", "seen_scale"]

Vector = NDArray[np.float64]  # (K,)

BAR_U_MM = 0.05  # a caliper on ink edges, 0.05 to 0.1 mm; common practice, no source
SHEAR_U = 0.002  # x against y of one page; common practice, no source
# An unmeasured print: true but for the printer, or fitted to something; own estimate
TRUE_SHARE, TRUE_U = 0.85, 0.004
UNMEASURED_SHEAR_U = 0.005  # as some printers draw paper along; own estimate
FITTED_FROM_TO = (0.93, 1.0)
FITTED_PARTS = 10
# Whether the page lies on the other paper: printed as large as it is, and fitted to that paper
OTHER_AS_IT_IS, OTHER_FITTED, OTHER_BEYOND = 0.01, 0.5, 0.02
CUT_U_MM = 0.5  # of paper; ISO 216 allows 1.5 mm in widths up to 150 mm, 2 mm up to 600 mm
# Trimmed by hand, or no paper's edge after all: anywhere between these, of the page's size
FALSE_SHARE, FALSE_SPAN = 0.03, 0.13
LEAST_SHARE = 1e-5

KnownBy = Literal["bars", "one bar", "paper", "nothing"]
CAUTIONS: dict[KnownBy, str] = {
    "nothing": "The print's bars were not measured: its size is a guess.",
    "paper": "The print's bars were not measured: its size is what the paper's edges say.",
    "one bar": "One of the print's bars was not measured: its size that way is a guess.",
}


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
        Real millimetres per nominal millimetre along the page's x and y; the median.
    root : (2, 2)
        Root of the covariance, one column a source.
    sources : tuple of Source
    known_by : "bars", "one bar", "paper" or "nothing"
    """

    mean: NDArray[np.float64]
    root: NDArray[np.float64]
    sources: tuple[Source, Source]
    known_by: KnownBy

    @property
    def is_verified(self) -> bool:
        """Whether both bars were measured."""
        return self.known_by == "bars"

    @property
    def caution(self) -> str | None:
        """What to say of an answer on such a print."""
        return CAUTIONS.get(self.known_by)


@dataclass(frozen=True, slots=True, eq=False)
class _Mixture:
    """A scale as a mixture of normals, (K,) each."""

    shares: Vector
    means: Vector
    us: Vector

    @property
    def median(self) -> float:
        return mixture_quantile(self.shares, self.means, self.us, 0.5)

    @property
    def u(self) -> float:
        """Standard deviation about the mean."""
        mean = float(self.shares @ self.means)
        return float(np.sqrt(self.shares @ (self.us**2 + (self.means - mean) ** 2)))

    @property
    def parts(self) -> tuple[Normal, ...]:
        """In standard deviations from the median."""
        means, us = (self.means - self.median) / self.u, self.us / self.u
        columns = (self.shares.tolist(), means.tolist(), us.tolist())
        return tuple(Normal(*part) for part in zip(*columns, strict=True))


def _unmeasured() -> _Mixture:
    """A print whose bars nobody measured: mostly true, else fitted to a page."""
    low, high = FITTED_FROM_TO
    step = (high - low) / FITTED_PARTS
    places = low + step * (np.arange(FITTED_PARTS) + 0.5)
    each = np.full(FITTED_PARTS, (1 - TRUE_SHARE) / FITTED_PARTS)
    return _Mixture(
        np.concatenate([[TRUE_SHARE], each]),
        np.concatenate([[1.0], places]),
        np.concatenate([[TRUE_U], np.full(FITTED_PARTS, 0.45 * step)]),
    )


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
    if x is None and y is None:
        return _as_page(_unmeasured(), key, "nothing")
    u_x, u_y = BAR_U_MM / print_.bar_x.length_mm, BAR_U_MM / print_.bar_y.length_mm
    if x is not None and y is not None:
        mean, root = [x, y], [[u_x, 0.0], [0.0, u_y]]
    elif x is not None:
        mean, root = [x, x], [[u_x, 0.0], [u_x, SHEAR_U]]
    else:
        assert y is not None
        mean, root = [y, y], [[SHEAR_U, u_y], [0.0, u_y]]
    known_by: KnownBy = "one bar" if x is None or y is None else "bars"
    return PageScale(np.array(mean), np.array(root), _sources(key), known_by)


def _sources(key: str, parts: tuple[Normal, ...] = ()) -> tuple[Source, Source]:
    return (
        Source("print scale x", "print scale along the page's x", "print", key, parts),
        Source("print scale y", "print scale along the page's y", "print", key),
    )


def _as_page(
    mixture: _Mixture,
    key: str,
    known_by: KnownBy,
    apart: tuple[float, float] = (0.0, UNMEASURED_SHEAR_U),
) -> PageScale:
    """Scale of x by a mixture, y apart from it by so much, with that uncertainty."""
    return PageScale(
        mixture.median + np.array([0.0, apart[0]]),
        np.array([[mixture.u, 0.0], [mixture.u, apart[1]]]),
        _sources(key, mixture.parts),
        known_by,
    )


def seen_scale(print_: Print, widths: tuple[PaperWidth, ...], photo_key: str) -> PageScale:
    """Scale of an unmeasured print by the paper it lies on, whose size is known.

    Parameters
    ----------
    print_ : Print
    widths : tuple of PaperWidth
        Between opposite edges, in the print's own millimetres.
    photo_key : str
        Of the photo that shows them.

    Returns
    -------
    PageScale
    """
    base = _unmeasured()
    found = [_on_paper(base, print_, widths, paper) for paper in PAGE_MM]
    found.append(_no_paper(base, print_, widths))
    shares = np.concatenate([one.shares for one in found])
    keep = shares > LEAST_SHARE * shares.sum()
    mixture = _Mixture(
        shares[keep] / shares[keep].sum(),
        np.concatenate([one.means for one in found])[keep],
        np.concatenate([one.us for one in found])[keep],
    )
    best = list(PAGE_MM)[int(np.argmax([float(one.shares.sum()) for one in found[:-1]]))]
    seen = ", ".join(f"{'xy'[width.axis]} {width.nominal_mm:.3f} mm" for width in widths)
    key = f"{print_.name} by the paper in {photo_key}: {seen}"
    return _as_page(mixture, key, "paper", _apart(widths, best))


def _seen(width: PaperWidth, paper: Paper) -> tuple[float, float]:
    """Scale along one axis of a page on that paper, and its standard uncertainty."""
    real_mm = PAGE_MM[paper][width.axis]
    relative = np.hypot(CUT_U_MM / real_mm, width.u_mm / width.nominal_mm)
    return real_mm / width.nominal_mm, float(relative * real_mm / width.nominal_mm)


def _apart(widths: tuple[PaperWidth, ...], paper: Paper) -> tuple[float, float]:
    """How far the scale of y is from that of x, and its standard uncertainty."""
    if len(widths) < 2:
        return 0.0, UNMEASURED_SHEAR_U
    (across, u_across), (down, u_down) = (_seen(width, paper) for width in widths)
    variance, prior = u_across**2 + u_down**2, UNMEASURED_SHEAR_U**2
    gain = prior / (prior + variance)
    return gain * (down - across), float(np.sqrt(gain * variance))


def _on_paper(
    base: _Mixture, print_: Print, widths: tuple[PaperWidth, ...], paper: Paper
) -> _Mixture:
    """The mixture times the likelihood that this paper looks so wide, not normed."""
    shares, means, us = base.shares * _chances(base.means, print_, paper), base.means, base.us
    for width in widths:
        seen, u = _seen(width, paper)
        u = float(np.hypot(u, UNMEASURED_SHEAR_U)) if width.axis else u
        total = us**2 + u**2
        likelihood = np.exp(-((seen - means) ** 2) / 2 / total) / np.sqrt(2 * np.pi * total)
        shares = shares * likelihood * seen / width.nominal_mm  # per nominal millimetre
        means, us = (means * u**2 + seen * us**2) / total, us * u / np.sqrt(total)
    return _Mixture((1 - FALSE_SHARE) * shares, means, us)


def _chances(scales: Vector, print_: Print, paper: Paper) -> Vector:
    """Chance that a page of that scale lies on that paper."""
    other = next(size for name, size in PAGE_MM.items() if name != print_.paper)
    fits = min(1.0, *(float(n) for n in np.divide(other, print_.page_mm)))
    # fitted to the other paper a page is at most so large, with a printer's margins smaller
    fitted = OTHER_BEYOND + (OTHER_FITTED - OTHER_BEYOND) * ndtr((fits - scales) / 0.003)
    is_true = np.arange(len(scales)) == 0
    chance = np.where(is_true, OTHER_AS_IT_IS, fitted)
    return np.asarray(1 - chance if paper == print_.paper else chance)


def _no_paper(base: _Mixture, print_: Print, widths: tuple[PaperWidth, ...]) -> _Mixture:
    density = 1.0
    for width in widths:
        density /= FALSE_SPAN * print_.page_mm[width.axis]
    return _Mixture(FALSE_SHARE * density * base.shares, base.means, base.us)
