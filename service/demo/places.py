"""Where the demo's bows were, and how warm it was there: loggers' readings, stays, unstrung weeks, one hot car."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from fleet import record
from fleet.record import StayRow, TemperatureRow
from service.demo import roster, weather
from service.demo.roster import BowPlan, Use
from service.demo.shop import BowStory, Shop
from service.demo.sites import CAMP_CODE, FRIDAY, RANGE_CODE
from service.demo.use import generator
from service.demo.weather import REFERENCE_C, SEASON_DAYS, Series

LOCKER_C = 20.0
TRAILER_EVERY_WEEKS = 3
PARKED_DAYS_AGO, PARKED_OUTSIDE_C = 48, 36.5  # within the heat wave
UNSTRUNG_DAYS = (70, 79)  # a wet week: the camp's longbows stayed in their bags


@dataclass(frozen=True)
class Climate:
    """The season's temperatures of each logged place, by site code and place."""

    series: dict[tuple[str, str], Series]

    def heat_by_day(self, shop: Shop, plan: BowPlan) -> NDArray[np.float64]:
        """Roughly how fast a bow's cords age by heat on each day, where it was."""
        if plan.use is Use.STAFF:
            return np.full(SEASON_DAYS + 1, 2.0 ** ((LOCKER_C - REFERENCE_C) / weather.DOUBLING_C))
        if plan.site_code == RANGE_CODE:
            return self.series[RANGE_CODE, "rack"].heat_by_day()
        heat = self.series[CAMP_CODE, "store"].heat_by_day().copy()
        hot = self.series[CAMP_CODE, "trailer"].heat_by_day()
        for friday in trailer_fridays(shop, plan):
            heat[friday + 1 : friday + 3] = hot[friday + 1 : friday + 3]
        return heat


def climate(shop: Shop) -> Climate:
    """The season's temperatures until now."""
    made = {(RANGE_CODE, "rack"): weather.hall_rack, (CAMP_CODE, "store"): weather.store}
    made[CAMP_CODE, "trailer"] = weather.trailer
    series = {}
    for (code, place), make in made.items():
        until_h = (shop.now - shop.begin(shop.crews[code])).total_seconds() / 3_600.0
        series[code, place] = make(until_h, generator(code, "weather" if place != "trailer" else place))
    return Climate(series)


def put_readings(shop: Shop, found: Climate) -> None:
    """The loggers' readings into the book."""
    for (code, name), series in found.series.items():
        crew = shop.crews[code]
        instants = series.instants(shop.begin(crew))
        rows = [
            TemperatureRow(crew.places[name], at, float(celsius), weather.SOURCE)
            for at, celsius in zip(instants, series.celsius, strict=True)
        ]
        record.add_many_readings(by=crew.manager, rows=rows, source=f"{name}: {weather.SOURCE}")


def trailer_fridays(shop: Shop, plan: BowPlan) -> list[int]:
    """Days of the season on whose evening a camp bow went into the trailer until Sunday evening."""
    if plan.site_code != CAMP_CODE or plan.tag == roster.UNKNOWN_USE:
        return []
    crew = shop.crews[CAMP_CODE]
    fridays = [day for day in range(4, SEASON_DAYS - 10) if shop.day(crew, day).weekday() == FRIDAY]
    return fridays[plan.number % TRAILER_EVERY_WEEKS :: TRAILER_EVERY_WEEKS]


def put_stays(shop: Shop, stories: list[BowStory]) -> None:
    """Where each bow was, from the begin of the book (or its arrival) until now."""
    rows = [row for story in stories for row in _stays(shop, story)]
    record.add_many_stays(by=shop.owner, rows=rows, source="the demo's season", now=shop.now)


def _stays(shop: Shop, story: BowStory) -> list[StayRow]:
    crew, bow = story.crew, story.bow
    base = crew.places[_base(story.plan)]
    since = shop.at(crew, story.sets[0].fitted_day, 8)
    rows: list[StayRow] = []
    for friday in trailer_fridays(shop, story.plan):
        loaded, back = shop.at(crew, friday, 18), shop.at(crew, friday + 2, 20)
        rows += [StayRow(bow, base, since, loaded), StayRow(bow, crew.places["trailer"], loaded, back)]
        since = back
    return [*rows, StayRow(bow, base, since)]


def _base(plan: BowPlan) -> str:
    if plan.site_code == CAMP_CODE:
        return "store"
    return "locker" if plan.use is Use.STAFF else "rack"


def put_parking(shop: Shop, story: BowStory) -> None:
    """Five hours in a parked car in the heat wave."""
    day = SEASON_DAYS - PARKED_DAYS_AGO
    start = shop.at(story.crew, day, 11, 30)
    record.park_in_vehicle(
        by=story.crew.counter,
        bow=story.bow,
        start=start,
        end=start + timedelta(hours=5),
        outside_c=PARKED_OUTSIDE_C,
        key="demo-parked-in-the-heat",
        now=shop.now,
    )


def put_unstrung(shop: Shop, story: BowStory) -> None:
    """A wet week unstrung."""
    first, last = UNSTRUNG_DAYS
    record.relax(
        by=story.crew.technicians[0],
        bow=story.bow,
        start=shop.at(story.crew, first, 18),
        end=shop.at(story.crew, last, 9),
        why="unstrung",
        now=shop.now,
    )


def is_unstrung_bow(plan: BowPlan) -> bool:
    """Whether a bow spent the wet week unstrung."""
    return plan.site_code == CAMP_CODE and plan.make_code == "TM-TANSY-64"
