"""Weighted least squares of stretch on readings, and what the readings cannot tell apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from service.timing.kinematics import FloatArray
from service.timing.readings import ReadingModel

NULL_SPACE_SHARE = 1e-6
"""A cord whose share in the null space is above this cannot be told from the others in it."""
COVARIANCE_ROUNDS = 4
"""The arms' share of the covariance depends on the stretch found; it settles in two or three rounds."""


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """Stretch of each cord (m), n cords. `estimable` (n,) is False where only a mix of cords is determined;
    there the value is the smallest that fits and the standard error is infinite."""

    stretch_m: FloatArray
    standard_error_m: FloatArray
    estimable: np.ndarray
    rank: int
    condition: float
    chi_square: float
    degrees_of_freedom: int
    moved_chi_square: float
    readings: int

    @property
    def consistent_p(self) -> float:
        """Probability of readings that disagree this much or more, if none is wrong; 1 with none to spare."""
        if self.degrees_of_freedom == 0:
            return 1.0
        return float(special.chdtrc(self.degrees_of_freedom, self.chi_square))

    @property
    def still_p(self) -> float:
        """Probability of deviations this large or larger, if no cord has moved."""
        return float(special.chdtrc(self.readings, self.moved_chi_square)) if self.readings else 1.0


def estimate(model: ReadingModel) -> Estimate:
    """Generalised least squares with the covariance of readings and arms. No readings: nothing estimable."""
    cords = len(model.positions)
    if not model.kinds:
        nothing = np.zeros(cords)
        return Estimate(nothing, nothing + np.inf, np.zeros(cords, dtype=bool), 0, float("inf"), 0.0, 0, 0.0, 0)
    stretch = np.zeros(cords)
    for _ in range(COVARIANCE_ROUNDS):
        weights, singular, cord_axes = _whitened(model, model.covariance_at(stretch))
        rank = int(np.sum(singular > 1e-9 * singular[0]))
        inverse = cord_axes[:rank].T / singular[:rank]
        white_deviations = weights @ model.deviations_m
        stretch = inverse @ inverse.T @ (weights @ model.response).T @ white_deviations
    null_share = 1.0 - np.sum(cord_axes[:rank] ** 2, axis=0)
    estimable = null_share < NULL_SPACE_SHARE
    errors = np.sqrt(np.sum(inverse**2, axis=1))
    residual = white_deviations - weights @ model.response @ stretch
    still = np.linalg.solve(model.reading_covariance, model.deviations_m)
    return Estimate(
        stretch_m=stretch,
        standard_error_m=np.where(estimable, errors, np.inf),
        estimable=estimable,
        rank=rank,
        condition=float(singular[0] / singular[cords - 1]) if rank == cords else float("inf"),
        chi_square=float(residual @ residual),
        degrees_of_freedom=len(model.kinds) - rank,
        moved_chi_square=float(model.deviations_m @ still),
        readings=len(model.kinds),
    )


def _whitened(model: ReadingModel, covariance: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Whitening matrix W (W C W' = 1), singular values and cord axes (n, n) of W M."""
    weights = np.linalg.inv(np.linalg.cholesky(covariance))
    _, singular, cord_axes = np.linalg.svd(weights @ model.response, full_matrices=True)
    return weights, singular, cord_axes
