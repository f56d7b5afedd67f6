"""The demo's cords: where each came from (lot, made on, use before the book began) and how long it has become."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from fleet import record
from fleet.models import Cord
from service.demo import roster
from service.demo.makes import CordMake
from service.demo.sets import DAYS_A_MONTH, CordSet
from service.demo.shop import BowStory, Shop
from service.demo.use import generator

LOT_DAYS = 45  # a supplier's lot lasts the shops so long
LOT_LETTERS = {"hmpe": "H", "hmpe_lcp_blend": "B", "polyester": "P", "lcp": "L"}
RECALLABLE_LOT = "WB-3"  # cords of this lot sit on several bows: try a notice over it
# What the demo's cords do when they are shot: they settle, then creep. Invented, near the wear model's assumed values.
SETTLE_STRAIN, SETTLE_SHOTS, CREEP_A_DAY = 0.001, 60.0, 0.0002 / DAYS_A_MONTH
SHARE_OF_PRIOR_BY_SHOTS = 0.55


@dataclass(frozen=True)
class Stretch:
    """How one cord stretches, as a multiple of the usual."""

    length_m: float
    temper: float

    def metres(self, shots: float, days: float) -> float:
        """Stretch since fitting after so many shots and days."""
        settled = SETTLE_STRAIN * (1.0 - np.exp(-shots / SETTLE_SHOTS))
        return float(self.length_m * self.temper * (settled + CREEP_A_DAY * days))


def cord_make(story: BowStory, position: str) -> CordMake:
    """What its maker says of the cord at a position."""
    return next(cord for cord in story.make.plan.cords if cord.position == position)


def serial_of(story: BowStory, cords: CordSet, position: str) -> str:
    """A cord's serial: its bow, the number of its set, its position."""
    return f"{story.plan.tag}-{story.sets.index(cords) + 1}{''.join(word[0] for word in position.split('_')).upper()}"


def stretch_of(story: BowStory, cords: CordSet, position: str) -> Stretch:
    """How this cord stretches."""
    temper = generator(serial_of(story, cords, position), "stretch").lognormal(0.0, 0.3)
    return Stretch(story.make.cord_specs[position].length_m, float(temper))


def put_cord(shop: Shop, story: BowStory, cords: CordSet, position: str) -> Cord:
    """The cord into the book: new from its lot, with its use before the book, or with that use unknown."""
    serial, spec = serial_of(story, cords, position), story.make.cord_specs[position]
    by = story.crew.technicians[0]
    if story.plan.tag == roster.UNKNOWN_USE:
        return record.put_cord(by=by, serial=serial, spec=spec, prior_use="unknown")
    if cords.prior_life:
        return _used_cord(shop, story, cords, position)
    lot, made_on_day = lot_of(cord_make(story, position).fibre, cords.fitted_day)
    return record.put_cord(by=by, serial=serial, spec=spec, lot=lot, made_on=shop.day(story.crew, made_on_day))


def _used_cord(shop: Shop, story: BowStory, cords: CordSet, position: str) -> Cord:
    make = cord_make(story, position)
    shots = SHARE_OF_PRIOR_BY_SHOTS * cords.prior_life * make.rated_shots
    days = (1.0 - SHARE_OF_PRIOR_BY_SHOTS) * cords.prior_life * make.rated_months * DAYS_A_MONTH
    return record.put_cord(
        by=story.crew.technicians[0],
        serial=serial_of(story, cords, position),
        spec=story.make.cord_specs[position],
        made_on=shop.day(story.crew, cords.fitted_day) - timedelta(days=int(days) + 60),
        prior_use="known",
        prior_shots=round(shots),
        prior_shots_sd=round(0.2 * shots),
        prior_tension_h=round(24 * days),
        prior_heat_h=round(24 * days * 0.95),
        prior_heat_h_sd=round(24 * days * 0.15),
    )


def lot_of(fibre: str, fitted_day: int) -> tuple[str, int]:
    """The lot from which a cord fitted on a day of the season was taken, and the day on which the lot was made."""
    number = fitted_day // LOT_DAYS
    return f"W{LOT_LETTERS[fibre]}-{number}", number * LOT_DAYS - 30


def half_twists(story: BowStory, position: str) -> int:
    """Twists of a new cord in half turns: about one whole turn every two inches."""
    length_in = cord_make(story, position).length_in
    return int(generator(story.plan.tag, f"twists {position}").integers(-2, 3)) + round(length_in)
