"""Several readings of the same few quantities made into one estimate each, by least squares."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.sizing.zones import Floats

__all__ = ["Fused", "fuse"]

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Fused:
    """M estimates out of N readings.

    Attributes
    ----------
    values : (M,)
    covariance : (M, M)
    weights : (M, N)
        The estimates are `weights @ readings`.
    log_agreement : float
        Logarithm of the readings' density over that of the estimates: small where readings of one
        quantity contradict each other.
    """

    values: Floats
    covariance: Floats
    weights: Floats
    log_agreement: float


def fuse(readings: Floats, covariance: Floats, columns: Indices) -> Fused:
    """Combine readings by their full covariance.

    Parameters
    ----------
    readings : (N,)
    covariance : (N, N)
        Positive definite.
    columns : (N,)
        Which of the M quantities each reads; every quantity is read at least once.

    Returns
    -------
    Fused

    Notes
    -----
    Generalised least squares with the 0/1 design matrix A: C = (A' V^-1 A)^-1,
    z = C A' V^-1 y; p(y | x) = c N(z; x, C) with c the agreement.
    """
    design = (columns[:, None] == np.arange(columns.max() + 1)).astype(float)
    inverse = np.linalg.inv(covariance)
    fused_covariance = np.linalg.inv(design.T @ inverse @ design)
    weights = fused_covariance @ design.T @ inverse
    values = weights @ readings
    residual = readings - design @ values
    spare = len(readings) - len(values)
    log_agreement = 0.5 * (
        np.linalg.slogdet(fused_covariance)[1]
        - np.linalg.slogdet(covariance)[1]
        - residual @ inverse @ residual
        - spare * math.log(2 * math.pi)
    )
    return Fused(values, fused_covariance, weights, float(log_agreement))
