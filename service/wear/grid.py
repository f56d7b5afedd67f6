"""Shared by the grid posteriors: where the mass lies, and quantiles of weighted points."""

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# Log-density below the peak at which a point no longer matters: e^-18 is 1.5e-8.
NEGLIGIBLE_DROP = 18.0


def support(nodes: FloatArray, log_density: FloatArray) -> tuple[FloatArray, FloatArray]:
    """First and last node that matter, widened by one node; nodes and log_density (..., n) -> two arrays (...)."""
    matters = log_density > np.max(log_density, axis=-1, keepdims=True) - NEGLIGIBLE_DROP
    count = nodes.shape[-1]
    first = np.maximum(np.argmax(matters, axis=-1) - 1, 0)
    last = np.minimum(count - np.argmax(matters[..., ::-1], axis=-1), count - 1)
    lower = np.take_along_axis(nodes, first[..., None], axis=-1)[..., 0]
    upper = np.take_along_axis(nodes, last[..., None], axis=-1)[..., 0]
    return lower, upper


def weighted_quantiles(values: FloatArray, weights: FloatArray, probabilities: FloatArray) -> FloatArray:
    """Quantiles of points `values` (n,) carrying `weights` (n,) that sum to 1.

    Each distinct value's mass is centred on it, so the quantile is linear between neighbouring values.
    """
    distinct, place = np.unique(values, return_inverse=True)
    mass = np.bincount(place, weights)
    return np.interp(probabilities, np.cumsum(mass) - mass / 2.0, distinct)
