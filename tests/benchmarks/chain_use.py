"""What happens to the bows of a chain's site: where they hang, how warm that is, what is shot, who has booked."""

import numpy as np
import numpy.typing as npt

from fleet import record
from fleet.models import CordSpec, Person
from tests.benchmarks.chain_bows import BOWS, DAY_S, FIRST_S, HOUR_S, IN_SERVICE_DAYS, NOW_S, Drawn
from tests.benchmarks.copied import copy, instants

LOGGED_PLACES = 3
STAYS, PARKINGS, SLACKS = 20, 5, 2
SHOTS_A_BOW = 200
BOOKINGS_A_DAY, BOOKED_DAYS, BOOKED_BY_NAME = 40, 28, 10
SPAN_S = IN_SERVICE_DAYS * DAY_S


def where_kept(mine: Drawn, owner: Person, random: np.random.Generator) -> None:
    """Hourly readings of each logged place since the bows came, and where each bow was."""
    places = [
        record.put_place(by=owner, site=mine.site, name=f"Rack {n}", temperature_source="logger").pk
        for n in range(LOGGED_PLACES)
    ]
    _readings(places, random)
    store = record.put_place(
        by=owner, site=mine.site, name="Store", temperature_source="fixed", fixed_temperature_c=18.0
    )
    cuts = FIRST_S + np.sort(random.integers(1, SPAN_S - DAY_S, (BOWS, STAYS - 1)), axis=1) + np.arange(STAYS - 1)
    begun = np.column_stack([np.full(BOWS, FIRST_S), cuts]).astype(np.float64)
    ended = np.column_stack([cuts, np.full(BOWS, np.nan)]).astype(np.float64)
    copy(
        "fleet_stay",
        bow_id=np.repeat(mine.bow, STAYS),
        place_id=random.choice([*places, store.pk], BOWS * STAYS),
        start=instants(begun.ravel()),
        end=instants(ended.ravel()),
    )
    bow, start, end = _disjoint(mine, PARKINGS, 5 * HOUR_S, random)
    copy(
        "fleet_vehicleparking",
        bow_id=bow,
        start=start,
        end=end,
        outside_c=random.uniform(5.0, 35.0, len(bow)),
        shade=random.random(len(bow)) < 0.5,
        boot=random.random(len(bow)) < 0.2,
        key=[f"p{mine.number}-{n}" for n in range(len(bow))],
    )
    bow, start, end = _disjoint(mine, SLACKS, DAY_S, random)
    copy("fleet_relaxation", bow_id=bow, start=start, end=end, why="press")


def _readings(places: list[int], random: np.random.Generator) -> None:
    at = np.arange(FIRST_S, NOW_S, HOUR_S, dtype=np.float64)
    year, hour = at / (365.25 * DAY_S), (at / HOUR_S) % 24
    season = 16.0 - 9.0 * np.cos(2 * np.pi * (year % 1.0)) + 6.0 * np.sin(2 * np.pi * (hour - 9) / 24)
    moments = instants(at)
    for place in places:
        celsius = np.round(season + random.normal(0.0, 2.0, at.size) + random.uniform(-3.0, 8.0), 2)
        copy("fleet_temperaturereading", place_id=place, at=moments, celsius=celsius, source="logger")


def _disjoint(
    mine: Drawn, per_bow: int, longest_s: int, random: np.random.Generator
) -> tuple[npt.NDArray[np.int64], list[str], list[str]]:
    cuts = np.sort(FIRST_S + random.integers(0, SPAN_S - DAY_S, (BOWS, 2 * per_bow)), axis=1) + np.arange(2 * per_bow)
    start, end = cuts[:, 0::2].ravel().astype(np.float64), cuts[:, 1::2].ravel().astype(np.float64)
    return np.repeat(mine.bow, per_bow), instants(start), instants(np.minimum(end, start + longest_s))


def shots(mine: Drawn, by: Person, random: np.random.Generator) -> None:
    """Sessions of each bow, more of them in summer and at week-ends, entered as they came: bows mixed."""
    count = BOWS * SHOTS_A_BOW
    days = np.arange(IN_SERVICE_DAYS - 1)
    weekend = np.where((days + 3) % 7 >= 5, 2.0, 1.0)
    season = 1.0 - 0.6 * np.cos(2 * np.pi * ((FIRST_S / DAY_S + days) / 365.25 % 1.0))
    day = np.sort(random.choice(days, count, p=weekend * season / np.sum(weekend * season)))
    start = FIRST_S + day * DAY_S + random.integers(9 * HOUR_S, 17 * HOUR_S, count)
    end = start + random.integers(1, 5, count) * HOUR_S // 2
    row = random.permutation(np.repeat(np.arange(BOWS), SHOTS_A_BOW))
    mean = mine.shots_per_day[row] * IN_SERVICE_DAYS / SHOTS_A_BOW
    shot = np.maximum(1, np.round(mean * random.gamma(4.0, 0.25, count))).astype(np.int64)
    ended = instants(end.astype(np.float64))
    copy(
        "fleet_shots",
        bow_id=mine.bow[row],
        start=instants(start.astype(np.float64)),
        end=ended,
        count=shot,
        how_known="counter",
        count_sd=0,
        key=[f"api:{mine.site.pk}:{n}" for n in range(count)],
        entered_at=ended,
        entered_by_id=by.pk,
    )


def bookings_ahead(mine: Drawn, random: np.random.Generator) -> None:
    """Guests of the next four weeks: some have asked for the very bow, most for one that fits."""
    day = np.repeat(np.arange(BOOKED_DAYS), BOOKINGS_A_DAY)
    by_name = np.tile(np.arange(BOOKINGS_A_DAY) < BOOKED_BY_NAME, BOOKED_DAYS)
    chosen = np.concatenate([random.permutation(mine.bow)[:BOOKINGS_A_DAY] for _ in range(BOOKED_DAYS)])
    start = (NOW_S + day * DAY_S + 5 * HOUR_S + random.integers(0, 6, day.size) * HOUR_S).astype(np.float64)
    low = np.round(random.uniform(150.0, 170.0, day.size), 1)
    copy(
        "fleet_booking",
        site_id=mine.site.pk,
        reference=[f"B{mine.number:05d}-{n:04d}" for n in range(day.size)],
        start=instants(start),
        end=instants(start + 3 * HOUR_S),
        bow_id=[pk if named else None for pk, named in zip(chosen.tolist(), by_name.tolist(), strict=True)],
        hand=np.where(by_name, "", np.where(random.random(day.size) < 0.1, "left", "right")),
        draw_length_m=_unless(by_name, np.round(random.uniform(0.63, 0.76, day.size), 3)),
        peak_weight_min_n=_unless(by_name, low),
        peak_weight_max_n=_unless(by_name, low + 30.0),
        expected_shots=45,
    )


def _unless(left_out: npt.NDArray[np.bool_], values: npt.NDArray[np.float64]) -> list[float | None]:
    return [None if out else value for out, value in zip(left_out.tolist(), values.tolist(), strict=True)]


def stock(mine: Drawn, by: Person) -> None:
    """Cords on the shelf: enough for a tenth of the bows."""
    specs = list(CordSpec.objects.values_list("pk", flat=True))
    copy(
        "fleet_stockmovement",
        cord_spec_id=specs,
        site_id=mine.site.pk,
        kind="received",
        quantity=BOWS // 10,
        at=instants(np.full(len(specs), FIRST_S, dtype=np.float64)),
        by_id=by.pk,
        order_number="",
        key=[f"{mine.site.code}-{pk}" for pk in specs],
    )
