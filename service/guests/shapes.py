"""What a bow offers a guest as it is set up now, and how worn it is: the numbers that a search compares and orders by.

A bow fits as it is set up now: what it could be set to is bench work. A compound's draw length fits within the house's
tolerance; a recurve or a longbow has no draw stop and fits up to the longest draw on its spec sheet.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from fleet.models import Bow, SetUp
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowKind
from service.gather import Coefficients, coefficients
from service.guest_models import GuestBow
from service.models import CordWear
from service.plan.guests import Range

# Common practice, no source: draw length +-1/4 in, peak weight +-2 lb.
DRAW_LENGTH_TOLERANCE_M = 0.25 * 0.0254
PEAK_WEIGHT_TOLERANCE_N = 2 * 4.4482216152605
ANY_LENGTH: Range = (0.0, 0.0)


@dataclass(frozen=True)
class Envelope:
    """Life used, a shot and a day as shares of the replacement point: of each the worst among the bow's cords.

    The worst of each may belong to different cords: the bow is taken to wear no slower than any of them.
    """

    used: float
    per_shot: float
    per_day: float


def guest_bows(bows: Sequence[Bow], wears: Iterable[CordWear], now: datetime) -> list[GuestBow]:
    """The rows to save of these bows (in service, with site and spec sheet) with the wear of their fitted cords."""
    if not bows:
        return []
    of_bow: dict[int, list[CordWear]] = defaultdict(list)
    for wear in wears:
        of_bow[wear.fitting.bow_id].append(wear)
    set_ups, tables = set_ups_of(bows, now), coefficients()
    found = []
    for bow in bows:
        set_up = set_ups.get(bow.pk)
        lengths, weights = lengths_of(bow, set_up), weights_of(set_up)
        worn = envelope(of_bow[bow.pk], set_up, tables)
        row = GuestBow(bow=bow, site_id=bow.site_id, hand=bow.hand, kind=bow.spec_sheet.bow_kind)
        row.draw_from_m, row.draw_to_m = lengths
        row.weight_from_n, row.weight_to_n = weights
        row.used, row.per_shot, row.per_day = worn.used, worn.per_shot, worn.per_day
        row.complete = set_up is not None and has_all_wear(bow, of_bow[bow.pk])
        found.append(row)
    return found


def has_all_wear(bow: Bow, wears: Sequence[CordWear]) -> bool:
    """Whether each cord that the bow needs is fitted and its wear computed."""
    return len(wears) >= len(POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system])


def set_ups_of(bows: Sequence[Bow], now: datetime) -> dict[int, SetUp]:
    """The set-up of each bow in force now; its first one where none has begun yet."""
    found: dict[int, SetUp] = {}
    for one in SetUp.objects.filter(bow__in=[bow.pk for bow in bows]).order_by("bow", "since"):
        if one.bow_id not in found or one.since <= now:
            found[one.bow_id] = one
    return found


def lengths_of(bow: Bow, set_up: SetUp | None) -> Range:
    """The draw lengths (m) that the bow does for."""
    if bow.spec_sheet.bow_kind != BowKind.COMPOUND:
        return 0.0, bow.spec_sheet.draw_length_max_m + DRAW_LENGTH_TOLERANCE_M
    if set_up is None:
        return ANY_LENGTH
    return set_up.draw_length_m - DRAW_LENGTH_TOLERANCE_M, set_up.draw_length_m + DRAW_LENGTH_TOLERANCE_M


def weights_of(set_up: SetUp | None) -> Range:
    """The peak weights (N) that the bow does for."""
    weight = set_up.peak_weight_n if set_up else 0.0
    return weight - PEAK_WEIGHT_TOLERANCE_N, weight + PEAK_WEIGHT_TOLERANCE_N


def envelope(wears: Iterable[CordWear], set_up: SetUp | None, tables: Coefficients) -> Envelope:
    """How worn a bow with these cords is, and how fast it wears."""
    used = per_shot = per_day = 0.0
    for wear in wears:
        point = max(wear.replacement_point, 1e-9)
        used = max(used, wear.life_used / point)
        per_shot = max(per_shot, _life_per_shot(wear, set_up, tables) / point)
        per_day = max(per_day, wear.life_per_day / point)
    return Envelope(used, per_shot, per_day)


def _life_per_shot(wear: CordWear, set_up: SetUp | None, tables: Coefficients) -> float:
    """Share of rated life that one shot takes at the bow's peak weight: (w / w_rated)^m / N_rated."""
    spec = wear.fitting.cord.spec
    weight = 1.0
    if set_up is not None and spec.rated_peak_weight_n:
        exponent = tables.of(spec.pk)["load_exponent"].value
        weight = (set_up.peak_weight_n / spec.rated_peak_weight_n) ** exponent
    return weight / spec.rated_shots
