"""Several readings of the same few quantities made into one estimate each, by least squares."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.sizing.zones import Floats

__all__ = ["Fused", "Indices", "fuse"]

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Fused:
    """M estimates out of N readings, for H sets of readings at once.

    Attributes
    ----------
    values : (H, M)
    covariances : (H, M, M)
    weights : (H, M, N)
        The estimates are `weights @ readings`.
    log_agreement : (H,)
        Logarithm of the readings' density over that of the estimates: small where readings of one
        quantity contradict each other.
    """

    values: Floats
    covariances: Floats
    weights: Floats
    log_agreement: Floats

    def of(self, sets: Indices) -> "Fused":
        """Pick some of the H sets."""
        return Fused(
            self.values[sets], self.covariances[sets], self.weights[sets], self.log_agreement[sets]
        )


def fuse(readings: Floats, covariances: Floats, columns: Indices) -> Fused:
    """Combine readings by their full covariance.

    Parameters
    ----------
    readings : (H, N)
    covariances : (H, N, N)
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
    inverse = np.linalg.inv(covariances)
    fused_covariances = np.linalg.inv(design.T @ inverse @ design)
    weights = fused_covariances @ design.T @ inverse
    values = np.einsum("hmn,hn->hm", weights, readings)
    residual = readings - values @ design.T
    spare = len(columns) - design.shape[1]
    log_agreement = 0.5 * (
        np.linalg.slogdet(fused_covariances)[1]
        - np.linalg.slogdet(covariances)[1]
        - np.einsum("hn,hnk,hk->h", residual, inverse, residual)
        - spare * math.log(2 * math.pi)
    )
    return Fused(values, fused_covariances, weights, log_agreement)
