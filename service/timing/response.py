"""What this bow answered: arms and shortening per turn learned from closed orders.

Bayesian linear regression about the model: the parameters are the relative sizes of the arms and, per cord, how
much a turn shortens it against the formula; the prior is the geometry's own standard errors and the formula's.
The model is not quite linear in the arms, so the regression is repeated at its own answer until it stands
(Gauss-Newton); what is reported is the last one's posterior. A bow's prior is what its spec sheet's mates
taught, widened by how much two bows of one sheet differ.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from service.timing.geometry import Geometry, Known, Provenance
from service.timing.kinematics import FloatArray, drift_matrix, stretch_vector
from service.timing.vocabulary import LABELS, MeasurementKind, Position

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

SHORTENING_PRIOR_RELATIVE_ERROR = 0.30
"""Assumed: the twist formula is a mean over fibres that share one length in truth."""
BETWEEN_BOWS_ARM_RELATIVE_ERROR = 0.03
"""Assumed: cams of one spec sheet are machined alike, but are read and hung by hand."""
BETWEEN_BOWS_SHORTENING_RELATIVE_ERROR = 0.15
"""Assumed: cords of one spec differ in build and in the turns they came with."""
IMPLAUSIBLE_P = 1e-4
"""An order whose changes are less likely than this under the prior holds a misreading: it teaches nothing."""
LEARNED_SHARE_OF_VARIANCE = 0.5
"""Assumed: a value counts as learned once orders have narrowed its variance to this share of the prior's, so that
they say as much of it as whoever measured or assumed it. (Arms are told by their ratios: a scale that all of them
share changes no reading, so one arm's variance never falls far.) Before, it stays what it was, a little better."""
ROUNDS = 50
SETTLED_RELATIVE = 1e-10
LARGEST_STEP = 0.3
"""Relative: a step of the regression that would carry an arm far out of the model's range is cut to this."""


@dataclass(frozen=True, slots=True)
class ClosedOrder:
    """One closed order: by how much the formula says its twists shortened each cord (m), and by how much each
    measurement changed from as found to as left, with the standard error of that change (m)."""

    shortening_by_position_m: Mapping[Position, float]
    change_by_kind_m: Mapping[MeasurementKind, float]
    standard_error_by_kind_m: Mapping[MeasurementKind, float]

    def __post_init__(self) -> None:
        for kind in self.change_by_kind_m:
            error = self.standard_error_by_kind_m.get(kind)
            if error is None or not error > 0.0:
                raise ValueError(
                    f"{LABELS[kind]} of a closed order has a standard error of {error} m; it must be above 0: "
                    "give the resolution of the tool"
                )


@dataclass(frozen=True, slots=True)
class LearnedValue:
    """Prior and posterior of one parameter (m, or a plain factor), and the orders that speak to it: this bow's
    and its mates'."""

    name: str
    prior: float
    prior_standard_error: float
    value: float
    standard_error: float
    orders: int
    mates_orders: int


@dataclass(frozen=True, slots=True)
class LearnedResponse:
    """`geometry` carries the learned arms; `shortening_factor` multiplies the twist formula, per cord.
    `left_out` are the places in this bow's list of orders too far from the prior to learn from."""

    geometry: Geometry
    shortening_factor: Mapping[Position, float]
    values: tuple[LearnedValue, ...]
    orders: int
    mates_orders: int
    left_out: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Belief:
    """Relative sizes of all parameters against the spec sheet's (k,), and their covariance (k, k)."""

    mean: FloatArray
    covariance: FloatArray


def learn_response(
    geometry: Geometry, orders: Sequence[ClosedOrder], mates_orders: Sequence[ClosedOrder] = ()
) -> LearnedResponse:
    """Learn from this bow's closed orders, shrunk toward what its mates' orders taught.

    `mates_orders` must not hold this bow's own. Raises ValueError for a cord that the bow does not have.
    """
    spec = _prior(geometry)
    own, mates = _observations(geometry, orders), _observations(geometry, mates_orders)
    own_fits, mates_fit = _plausible(geometry, spec, own), _plausible(geometry, spec, mates)
    left_out = tuple(int(row) for row in np.flatnonzero(~own_fits))
    own, mates = own.of_orders(own_fits), mates.of_orders(mates_fit)
    from_mates = spec
    if mates.orders:
        taught = _regress(geometry, spec, mates)
        widened = taught.covariance + np.diag(_between_bows(geometry) ** 2)
        # Two bows of one sheet never differ by more than the sheet's own prior leaves open.
        from_mates = _Belief(taught.mean, _no_wider(widened, spec.covariance))
    return _report(geometry, spec, _regress(geometry, from_mates, own), own, mates, left_out)


@dataclass(frozen=True, slots=True, eq=False)
class _Observations:
    """Orders as arrays: `shortening_m` (n, cords) by the formula; per reading (m,) its order, its row in the drift
    matrix, the change seen (m) and its standard error (m)."""

    shortening_m: FloatArray
    order: IntArray
    row: IntArray
    change_m: FloatArray
    error_m: FloatArray

    @property
    def orders(self) -> int:
        return len(self.shortening_m)

    def of_orders(self, which: BoolArray) -> _Observations:
        """Only some of the orders (n,)."""
        kept = which[self.order]
        renumbered = np.cumsum(which) - 1
        return _Observations(
            self.shortening_m[which],
            renumbered[self.order[kept]],
            self.row[kept],
            self.change_m[kept],
            self.error_m[kept],
        )


def _observations(geometry: Geometry, orders: Sequence[ClosedOrder]) -> _Observations:
    kinds = drift_matrix(geometry).kinds
    cords = len(geometry.positions)
    shortening = [stretch_vector(geometry, order.shortening_by_position_m) for order in orders]
    readings = [
        (number, kinds.index(kind), change, order.standard_error_by_kind_m[kind])
        for number, order in enumerate(orders)
        for kind, change in order.change_by_kind_m.items()
        if kind in kinds
    ]
    columns = np.array(readings, dtype=np.float64).reshape(-1, 4).T
    return _Observations(
        np.array(shortening, dtype=np.float64).reshape(-1, cords),
        columns[0].astype(np.int64),
        columns[1].astype(np.int64),
        columns[2],
        columns[3],
    )


def _plausible(geometry: Geometry, prior: _Belief, seen: _Observations) -> BoolArray:
    """Which orders (n,) the prior could have produced; one without a reading says nothing against itself."""
    fits = np.ones(seen.orders, dtype=np.bool_)
    slopes = _jacobian(geometry, prior.mean, seen)
    surprise = seen.change_m - _predicted(geometry, prior.mean, seen)
    for number in range(seen.orders):
        mine = seen.order == number
        if mine.any():
            spread = slopes[mine] @ prior.covariance @ slopes[mine].T + np.diag(seen.error_m[mine] ** 2)
            odd = surprise[mine] @ np.linalg.solve(spread, surprise[mine])
            fits[number] = special.chdtrc(int(mine.sum()), odd) > IMPLAUSIBLE_P
    return fits


def _no_wider(covariance: FloatArray, limit: FloatArray) -> FloatArray:
    """`covariance` scaled down, parameter by parameter, to the limit's variances; correlations stay."""
    shrink = np.sqrt(np.minimum(1.0, np.diag(limit) / np.diag(covariance)))
    return covariance * np.outer(shrink, shrink)


def _prior(geometry: Geometry) -> _Belief:
    relative = [known.standard_error / abs(known.value) for known in geometry.parameters().values()]
    relative += [SHORTENING_PRIOR_RELATIVE_ERROR] * len(geometry.positions)
    floor = np.maximum(relative, 1e-6)
    return _Belief(np.ones(len(floor)), np.diag(floor**2))


def _between_bows(geometry: Geometry) -> FloatArray:
    arms = len(geometry.parameters())
    cords = len(geometry.positions)
    return np.array([BETWEEN_BOWS_ARM_RELATIVE_ERROR] * arms + [BETWEEN_BOWS_SHORTENING_RELATIVE_ERROR] * cords)


def _scaled(geometry: Geometry, relative: FloatArray, errors: FloatArray | None = None) -> Geometry:
    """The geometry with each value multiplied; marked learned when `errors` (relative) come with it."""
    values = {}
    for row, (name, known) in enumerate(geometry.parameters().items()):
        value = known.value * float(relative[row])
        if errors is None:
            values[name] = Known(value, known.standard_error, known.provenance)
        else:
            values[name] = Known(value, abs(known.value) * float(errors[row]), Provenance.LEARNED)
    return geometry.with_parameters(values)


def _predicted(geometry: Geometry, relative: FloatArray, seen: _Observations) -> FloatArray:
    """Predicted change (m) of every reading (m,)."""
    cords = len(geometry.positions)
    matrix = drift_matrix(_scaled(geometry, relative)).matrix
    changes = -(seen.shortening_m * relative[-cords:]) @ matrix.T
    return np.asarray(changes[seen.order, seen.row], dtype=np.float64)


def _jacobian(geometry: Geometry, relative: FloatArray, seen: _Observations) -> FloatArray:
    """Slope of every predicted change to every parameter (m, k)."""
    step = 1e-5
    columns = []
    for column in range(len(relative)):
        shift = np.zeros(len(relative))
        shift[column] = step
        above = _predicted(geometry, relative + shift, seen)
        columns.append((above - _predicted(geometry, relative - shift, seen)) / (2.0 * step))
    return np.array(columns).T


def _regress(geometry: Geometry, prior: _Belief, seen: _Observations) -> _Belief:
    if seen.change_m.size == 0:
        return prior
    precision = np.linalg.inv(prior.covariance)
    mean = prior.mean
    posterior = prior.covariance
    for _ in range(ROUNDS):
        slopes = _jacobian(geometry, mean, seen) / seen.error_m[:, None]
        # The linear model at `mean`: observed - predicted(mean) = slopes (theta - mean) + error.
        surprise = (seen.change_m - _predicted(geometry, mean, seen)) / seen.error_m
        posterior = np.asarray(np.linalg.inv(precision + slopes.T @ slopes), dtype=np.float64)
        step = posterior @ (slopes.T @ surprise - precision @ (mean - prior.mean))
        step *= min(1.0, LARGEST_STEP / max(float(np.max(np.abs(step))), LARGEST_STEP))
        mean = mean + step
        if float(np.max(np.abs(step))) < SETTLED_RELATIVE:
            break
    return _Belief(mean, posterior)


def _speaking(geometry: Geometry, belief: _Belief, seen: _Observations) -> list[int]:
    """How many orders say anything about each parameter."""
    speaks = np.abs(_jacobian(geometry, belief.mean, seen)) > 1e-9
    by_order = np.zeros((seen.orders, len(belief.mean)), dtype=np.bool_)
    np.logical_or.at(by_order, seen.order, speaks)
    return [int(count) for count in by_order.sum(axis=0)]


def _report(
    geometry: Geometry,
    prior: _Belief,
    learned: _Belief,
    own_seen: _Observations,
    mates_seen: _Observations,
    left_out: tuple[int, ...],
) -> LearnedResponse:
    errors = np.sqrt(np.diag(learned.covariance))
    prior_errors = np.sqrt(np.diag(prior.covariance))
    own = _speaking(geometry, learned, own_seen)
    mates = _speaking(geometry, learned, mates_seen)
    names = [*geometry.parameters(), *(f"shortening.{position}" for position in geometry.positions)]
    sizes = [known.value for known in geometry.parameters().values()] + [1.0] * len(geometry.positions)
    values = tuple(
        LearnedValue(
            name,
            size,
            abs(size) * float(prior_errors[row]),
            size * float(learned.mean[row]),
            abs(size) * float(errors[row]),
            own[row],
            mates[row],
        )
        for row, (name, size) in enumerate(zip(names, sizes, strict=True))
    )
    factors = {
        position: float(factor)
        for position, factor in zip(geometry.positions, learned.mean[-len(geometry.positions) :], strict=True)
    }
    return LearnedResponse(
        geometry=_learned_geometry(geometry, values),
        shortening_factor=factors,
        values=values,
        orders=own_seen.orders,
        mates_orders=mates_seen.orders,
        left_out=left_out,
    )


def _learned_geometry(geometry: Geometry, values: Sequence[LearnedValue]) -> Geometry:
    """Every value as the orders leave it. Only what they have taught becomes learned: one that an order merely
    spoke to stays measured or assumed, and what rests on it goes on saying so."""
    known = geometry.parameters()
    return geometry.with_parameters(
        {
            value.name: Known(
                value.value,
                value.standard_error,
                Provenance.LEARNED if _is_taught(value) else known[value.name].provenance,
            )
            for value in values
            if value.name in known
        }
    )


def _is_taught(value: LearnedValue) -> bool:
    return value.standard_error**2 <= LEARNED_SHARE_OF_VARIANCE * value.prior_standard_error**2
