"""Bookings to bows: as many bookings served as any assignment can serve, then wear as the shop prefers.

A bow serves one booking at a time (by the hour where both bookings have hours, else by the day), and the shots of all
bookings that it serves count against its limit; those after its planned new set against a limit of their own. Two exact
searches (CP-SAT, one worker, fixed seed, deterministic time): first the number served, then the wear. `shortlist` tells
which bows are enough for each booking: the number served is the same among them as among all.
"""

import math
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import combinations

from ortools.sat.python import cp_model

from service.plan.guests import Fit, GuestBooking, HireBow, clash, fit_of, life_by_time
from service.plan.shortlist import clashes, has_room, most_shots
from service.said import SEMICOLON, joined, say

MICRO = 1_000_000
"""Life is counted in whole millionths, wear rounded up and room rounded down."""
LEVEL_STEPS = 1_000
"""Steps of life limit by which levelling tells bows apart."""


class WearChoice(StrEnum):
    """How wear is spread."""

    LEVEL = "level the wear"
    OLDEST_FIRST = "use up the oldest first"


@dataclass(frozen=True)
class Without:
    """A booking that goes without a bow, and why."""

    booking: str
    sentence: str


@dataclass(frozen=True)
class Assignment:
    """`bow_of`: booking reference -> bow. `most_served`: proven that no assignment serves more bookings;
    `wear_proven`: proven that none of those spreads the wear better."""

    bow_of: dict[str, str]
    without: tuple[Without, ...]
    most_served: bool
    wear_proven: bool
    life_at_end: dict[str, float]


@dataclass
class _Model:
    model: cp_model.CpModel
    takes: dict[tuple[int, int], cp_model.IntVar]
    """(booking, bow) -> goes out with it"""


def assign(
    bookings: tuple[GuestBooking, ...],
    bows: tuple[HireBow, ...],
    today: date,
    choice: WearChoice = WearChoice.LEVEL,
    effort: float = 10.0,
    seed: int = 1,
    among: Mapping[str, Collection[str]] | None = None,
    begin_with: Mapping[str, str] | None = None,
    spread: bool = True,
) -> Assignment:
    """Assign bookings to bows. `effort` in deterministic seconds for each of the two searches.

    `among`: booking -> the bows that it is given one of (None: any). `begin_with`: booking -> bow, an assignment that
    is known, to begin the search with. `spread` False: the wear is left as it falls: a large site need not wait for it.
    """
    bookings = tuple(sorted(bookings, key=lambda booking: (booking.first, booking.reference)))
    bows = tuple(sorted(bows, key=lambda bow: bow.id))
    built = _model(bookings, bows, today, among)
    served = cp_model.LinearExpr.sum(list(built.takes.values()))
    built.model.maximize(served)
    known = _known(built, bookings, bows, begin_with or {})
    first, status = _solved(built, known, effort, seed)
    most = status == cp_model.OPTIMAL
    if not spread:
        return _result(bookings, bows, today, first, most, False)
    built.model.add(served >= sum(first.values()))
    if choice is WearChoice.LEVEL:
        _level(built, bookings, bows)
    else:
        _oldest_first(built, bookings, bows)
    taken, status = _solved(built, first, effort, seed)
    return _result(bookings, bows, today, taken, most, most and status == cp_model.OPTIMAL)


def _model(
    bookings: tuple[GuestBooking, ...],
    bows: tuple[HireBow, ...],
    today: date,
    among: Mapping[str, Collection[str]] | None,
) -> _Model:
    model = cp_model.CpModel()
    takes = {
        (k, b): model.new_bool_var("")
        for k, booking in enumerate(bookings)
        for b, bow in enumerate(bows)
        if (among is None or bow.id in among[booking.reference]) and fit_of(booking, bow, today).fits
    }
    built = _Model(model, takes)
    of_booking: list[list[cp_model.IntVar]] = [[] for _ in bookings]
    of_bow: list[list[int]] = [[] for _ in bows]
    for (k, b), var in takes.items():
        of_booking[k].append(var)
        of_bow[b].append(k)
    for vars_ in of_booking:
        model.add_at_most_one(vars_)
    rivals, shots = clashes(bookings), most_shots(bookings)
    last = max((booking.last for booking in bookings), default=today)
    for b, bow in enumerate(bows):
        mine = of_bow[b]
        for one, other in combinations(mine, 2):
            if other in rivals[one]:
                model.add_at_most_one([takes[one, b], takes[other, b]])
        # A bow that stays within its limit whatever it serves needs no such rule.
        if not has_room(bow, shots, len(bookings), last, today):
            _stay_within_limit(built, bookings, b, bow, mine, today)
    return built


def _known(
    built: _Model, bookings: tuple[GuestBooking, ...], bows: tuple[HireBow, ...], begin_with: Mapping[str, str]
) -> dict[tuple[int, int], bool]:
    """An assignment that is known as the search takes it."""
    return {(k, b): begin_with.get(bookings[k].reference) == bows[b].id for k, b in built.takes} if begin_with else {}


def _stay_within_limit(
    built: _Model, bookings: tuple[GuestBooking, ...], b: int, bow: HireBow, mine: list[int], today: date
) -> None:
    """At the end of each booking that the bow serves, the shots so far and the time so far fit its limit."""
    for k in mine:
        last = bookings[k].last
        room = math.floor((bow.life_limit - life_by_time(bow, today, last)) * MICRO)
        sofar = [j for j in mine if bookings[j].last <= last and _same_set(bow, bookings[j].last, last)]
        wear = cp_model.LinearExpr.weighted_sum(
            [built.takes[j, b] for j in sofar], [_wear(bookings[j], bow) for j in sofar]
        )
        built.model.add(wear <= max(room, _wear(bookings[k], bow))).only_enforce_if(built.takes[k, b])


def _same_set(bow: HireBow, one: date, other: date) -> bool:
    """Whether the bow has the same cords on both days."""
    return bow.has_new_set(one) == bow.has_new_set(other)


def _wear(booking: GuestBooking, bow: HireBow) -> int:
    return math.ceil(bow.life_per_shot * booking.shots * MICRO)


def _level(built: _Model, bookings: tuple[GuestBooking, ...], bows: tuple[HireBow, ...]) -> None:
    """Minimise the sum of squares of life used, so the next shots go to the least worn bow."""
    squares = []
    for b, bow in enumerate(bows):
        start = round(min(bow.life_used / bow.life_limit, 1.0) * LEVEL_STEPS) if bow.life_limit else LEVEL_STEPS
        mine = [(var, k) for (k, bow_number), var in built.takes.items() if bow_number == b]
        if not mine:
            continue
        steps = [math.ceil(_wear(bookings[k], bow) / MICRO / bow.life_limit * LEVEL_STEPS) for _, k in mine]
        top = start + sum(steps)
        end = built.model.new_int_var(start, top, "")
        square = built.model.new_int_var(0, top * top, "")
        built.model.add(end == start + cp_model.LinearExpr.weighted_sum([var for var, _ in mine], steps))
        built.model.add_multiplication_equality(square, [end, end])
        squares.append(square)
    built.model.minimize(cp_model.LinearExpr.sum(squares))


def _oldest_first(built: _Model, bookings: tuple[GuestBooking, ...], bows: tuple[HireBow, ...]) -> None:
    """Maximise shots x share of life used so far: the most worn bow that still fits takes the most shots."""
    names, gains = [], []
    for (k, b), var in built.takes.items():
        used = bows[b].life_used / bows[b].life_limit if bows[b].life_limit else 1.0
        names.append(var)
        gains.append(round(used * LEVEL_STEPS * max(1.0, bookings[k].shots)))
    built.model.maximize(cp_model.LinearExpr.weighted_sum(names, gains))


def _solved(
    built: _Model, hint: dict[tuple[int, int], bool], effort: float, seed: int
) -> tuple[dict[tuple[int, int], bool], int]:
    """What the search takes; the hint (or nothing) when it ends without a result."""
    for key, taken in hint.items():
        built.model.add_hint(built.takes[key], taken)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(built.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return dict(hint), int(status)
    return {key: bool(solver.boolean_value(var)) for key, var in built.takes.items()}, int(status)


def _result(
    bookings: tuple[GuestBooking, ...],
    bows: tuple[HireBow, ...],
    today: date,
    taken: dict[tuple[int, int], bool],
    most: bool,
    wear_proven: bool,
) -> Assignment:
    bow_of = {bookings[k].reference: bows[b].id for (k, b), yes in taken.items() if yes}
    served = {bow.id: [one for one in bookings if bow_of.get(one.reference) == bow.id] for bow in bows}
    life = {bow.id: _life_at_end(served[bow.id], bow, today) for bow in bows}
    without = tuple(
        Without(booking.reference, _why_without(booking, bookings, bows, bow_of, today))
        for booking in bookings
        if booking.reference not in bow_of
    )
    return Assignment(bow_of, without, most, wear_proven, life)


def _life_at_end(served: list[GuestBooking], bow: HireBow, today: date) -> float:
    """Life used by the cords that the bow has at the end of the last booking that it serves."""
    last = max((booking.last for booking in served), default=today)
    shots = sum(booking.shots for booking in served if _same_set(bow, booking.last, last))
    return life_by_time(bow, today, last) + bow.life_per_shot * shots


def _why_without(
    booking: GuestBooking,
    bookings: tuple[GuestBooking, ...],
    bows: tuple[HireBow, ...],
    bow_of: dict[str, str],
    today: date,
) -> str:
    fits: list[Fit] = [fit_of(booking, bow, today) for bow in bows]
    able = [fit.bow for fit in fits if fit.fits]
    if not able:
        causes = Counter(misfit for fit in fits for misfit in fit.misfits)
        why = [say("%(why)s on %(count)d", why=say(misfit), count=count) for misfit, count in sorted(causes.items())]
        none = say("no bow fits: of %(all)d, %(why)s.", all=len(bows), why=joined(SEMICOLON, why))
        return none if bows else say("the site has no bow.")
    held = sorted(
        other.reference for other in bookings if bow_of.get(other.reference) in able and clash(booking, other)
    )
    if held:
        return say("the %(count)d that fit go out with %(held)s on those days.", count=len(able), held=", ".join(held))
    return say(
        "the %(count)d that fit would pass their limit with the other bookings that they serve.", count=len(able)
    )
