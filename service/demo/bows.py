"""The demo's bows into the book: each with its set-up, its use over the season and the sets of cords that it had."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from fleet import record
from fleet.vocabulary import RemovalReason
from service.demo import roster
from service.demo.makes import MAKES, inch, pound
from service.demo.roster import BowPlan
from service.demo.sets import CordSet, ageing, walk_back
from service.demo.shop import BowStory, Shop
from service.demo.use import Session, generator, sessions_of
from service.demo.weather import SEASON_DAYS

COMPOUNDS = {make.code for make in MAKES if make.cam_system}
GOLDEN = 0.618_034  # spreads the ordinary bows' life used evenly
UNKNOWN_SINCE = SEASON_DAYS - 12
RETIRED_ON = SEASON_DAYS - 60
FRESH_SINCE = SEASON_DAYS - 2
# The last day on which the story leaves a bow in use.
LAST_DAY_IN_USE = {
    roster.DRY_FIRED: SEASON_DAYS - 2,
    roster.SENT_TO_TIMING: SEASON_DAYS - 1,
    roster.RETIRED: RETIRED_ON - 1,
    **dict.fromkeys(roster.OVERDUE, SEASON_DAYS - 6),
    **dict.fromkeys(roster.OUT_NOW, SEASON_DAYS - 3),
}
# Present cords young enough that the set before came off within the season.
CHANGED_IN_SEASON = {
    roster.DROPPED: 0.45,
    roster.DERAILED: 0.40,
    roster.NO_REASON: 0.35,
    roster.DRY_FIRED: 0.5,
    roster.LEFT_IN_VEHICLE: 0.6,
    **dict.fromkeys(roster.OUT_NOW, 0.42),
}
# Why it came off, where the story says so.
CHANGED_BECAUSE = {
    roster.DROPPED: RemovalReason.INCIDENT,
    roster.DERAILED: RemovalReason.INCIDENT,
    roster.NO_REASON: RemovalReason.UNKNOWN,
}


def put_bow(shop: Shop, plan: BowPlan, heat_by_day: NDArray[np.float64]) -> BowStory:
    """A bow into the book, and the plan of its season."""
    crew, make = shop.crew_of(plan), shop.makes[plan.make_code]
    arrived = UNKNOWN_SINCE if plan.tag == roster.UNKNOWN_USE else -int(generator(plan.tag, "age").integers(30, 900))
    bow = record.put_bow(
        by=crew.manager,
        tag=plan.tag,
        serial=plan.serial,
        spec_sheet=make.sheet,
        hand=plan.hand,
        site=crew.site,
        in_service_on=shop.day(crew, arrived),
    )
    record.set_up(
        by=crew.manager,
        bow=bow,
        since=shop.at(crew, max(arrived, 0), 8) - timedelta(hours=1),
        draw_length_m=inch(plan.draw_in),
        peak_weight_n=pound(plan.weight_lb),
        now=shop.now,
    )
    last_day = LAST_DAY_IN_USE.get(plan.tag, SEASON_DAYS)
    story = BowStory(plan, make, crew, bow, _sessions(shop, plan), _target(plan), last_day)
    story.sets = _sets(shop, story, heat_by_day)
    return story


def _sessions(shop: Shop, plan: BowPlan) -> list[Session]:
    crew, tag = shop.crew_of(plan), plan.tag
    if tag == roster.UNKNOWN_USE:
        return []
    found = [
        one
        for one in sessions_of(plan, crew.today(shop.now))
        if one.day <= LAST_DAY_IN_USE.get(tag, SEASON_DAYS)
        and shop.at(crew, one.day, one.hour + one.hours) <= shop.now - timedelta(minutes=5)
    ]
    if tag == roster.SETTLING_IN:
        # Staff shoot a new set in; no guest has had the bow since.
        found = [one for one in found if one.day < FRESH_SINCE]
        found.append(Session(FRESH_SINCE, 12, 1, 40, "counter", 0.0, False))
    return found


def _sets(shop: Shop, story: BowStory, heat_by_day: NDArray[np.float64]) -> list[CordSet]:
    tag = story.plan.tag
    if tag == roster.UNKNOWN_USE:
        return [CordSet(UNKNOWN_SINCE, None, 0.0)]
    string = next(cord for cord in story.make.plan.cords if cord.position == "string")
    aged = ageing(string, story.sessions, heat_by_day)
    bench_days = shop.bench_days(story.crew)
    rng = generator(tag, "sets")
    if tag == roster.SETTLING_IN:
        day = int(np.flatnonzero(bench_days[: FRESH_SINCE + 1])[-1])
        before = walk_back(aged, 0.94, story.positions, bench_days, rng, end=day, removed=day)
        return [*before, CordSet(day, None, 0.0)]
    sets = walk_back(aged, story.target, story.positions, bench_days, rng)
    if tag in CHANGED_BECAUSE:
        sets[-2] = replace(sets[-2], removed_why=str(CHANGED_BECAUSE[tag]), condemned="", finding="")
    return sets


def _target(plan: BowPlan) -> float:
    """The share of rated life that the present cords are meant to show."""
    told = {**roster.OVERDUE, **roster.DUE_SOON, **CHANGED_IN_SEASON}
    if plan.tag in told:
        return told[plan.tag]
    spread = (plan.number * GOLDEN) % 1.0
    # A bow without cams needs one cheap string: nobody lets it get old.
    return 0.16 + 0.64 * spread if plan.make_code in COMPOUNDS else 0.1 + 0.4 * spread
