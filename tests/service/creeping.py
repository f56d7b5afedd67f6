"""A cord that creeps as told, and a bench that measures it and resets it: what learning is held against."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from fleet import record
from fleet.models import Bow, Fitting
from fleet.record import Reading
from service.timing.geometry import BowGeometry
from service.timing.kinematics import drift
from service.timing.vocabulary import MeasurementKind, Position
from service.wear.coefficients import HOURS_PER_MONTH
from tests import personas

RULE_M = personas.INCH_M / 64
COEFFICIENT = 2.0e-4


@dataclass
class CreepingBow:
    """A twin-cam bow, settled in, at one temperature; each cord creeps by a multiple of the coefficient."""

    shop: personas.Shop
    bow: Bow
    geometry: BowGeometry
    times: dict[Position, float]
    rng: np.random.Generator
    rule: str

    def lengths_m(self) -> dict[Position, float]:
        """Length of each fitted cord."""
        fittings = Fitting.objects.filter(bow=self.bow, removed_at=None).select_related("cord__spec")
        return {Position(one.position): one.cord.spec.length_m for one in fittings}

    def stretch_m(self, heat_h: float) -> dict[Position, float]:
        """True stretch over so many hours at the reference temperature: strain a month times months times length."""
        return {
            position: self.times[position] * COEFFICIENT * heat_h / HOURS_PER_MONTH * length
            for position, length in self.lengths_m().items()
        }

    def close_order(self, number: str, days_ago: float, heat_h: float) -> None:
        """Sign an order: as found after that heat, as left on the reference, read by the rule; then reset."""
        changed = drift(self.geometry, self.stretch_m(heat_h))
        at = personas.before(days_ago)
        reference = self.bow.reference_sets.get(current=True)
        values = {one.kind: one.value for one in reference.measurements.all()}
        readings = [
            Reading(str(kind), self._read(values[kind] + change), self._read(values[kind]), "", self.rule)
            for kind, change in changed.items()
            if kind in values and kind is not MeasurementKind.STOP_SYNC
        ]
        record.sign_result(
            by=self.shop.technician,
            bow=self.bow,
            order_number=f"{self.bow.tag}-{number}",
            reference_set=reference,
            readings=readings,
            work=[{"kind": "timing_check", "reason": "simulated"}],
            cords_changed=[],
            steps_done=[],
            at=at,
        )
        for fitting in Fitting.objects.filter(bow=self.bow, removed_at=None):
            record.reset_cord(by=self.shop.technician, fitting=fitting, at=at)

    def _read(self, value_m: float) -> float:
        """As a person reads a rule: to 0.8 of a division (as a standard deviation), then to a whole division."""
        return float(np.round((value_m + self.rng.normal(0.0, 0.8 * RULE_M)) / RULE_M) * RULE_M)


def sign_lengths(shop: personas.Shop, bow: Bow, number: str, at: datetime, longer_m: float) -> None:
    """Sign an order under which two lengths of a single-cam bow were found so much longer, and left as they should."""
    values = {"axle_to_axle": 33 * personas.INCH_M, "hole_distance_lower": 0.012}
    record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number=number,
        reference_set=bow.reference_sets.first(),
        readings=[Reading(kind, value + longer_m, value) for kind, value in values.items()],
        work=[],
        cords_changed=[],
        steps_done=[],
        at=at,
    )
