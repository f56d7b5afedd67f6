"""The demo's bench: sets of cords changed, new cords checked once they have settled, bows looked over each month.

Before the service came the shops wrote their orders on paper; they are in the book as signed results, with numbers of
their own ("HW-P0001") that the service's never take.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from itertools import count, pairwise
from typing import Any

import numpy as np

from fleet import lookups, record
from fleet.models import Fitting, Person
from fleet.vocabulary import RemovalReason
from service.demo import roster
from service.demo.cords import half_twists, put_cord, serial_of, stretch_of
from service.demo.diary import Diary
from service.demo.references import maker_values, readings, reference_values
from service.demo.sets import CordSet
from service.demo.shop import BowStory, Shop
from service.demo.stock import Shelf
from service.models import NeedKind

SETTLED_AFTER_SHOTS = 150
INSPECTED_EVERY_DAYS = 26
TIMING_EVERY_DAYS = 45
# The more of its life the present set has used, the more lately the bow was looked over: (life used, days ago).
LAST_LOOKED_OVER = ((0.8, 2), (0.6, 4), (0.4, 7), (0.0, 14))
STARTS_AT = 8  # the bench works before the first guest comes


@dataclass
class Bench:
    """The paper orders of both sites."""

    shop: Shop
    diary: Diary
    shelf: Shelf
    _numbers: "dict[str, count[int]]" = field(default_factory=dict)
    _known_resets: dict[tuple[str, int], list[int]] = field(default_factory=dict)

    def number(self, story: BowStory) -> str:
        """The next paper order's number at a bow's site."""
        site = story.plan.site_code
        return f"{site}-P{next(self._numbers.setdefault(site, count(1))):04d}"

    def note_season(self, story: BowStory) -> None:
        """Note everything that the bench did on a bow, from its first cords to the last inspection."""
        self._note_first_set(story)
        for before, after in pairwise(story.sets):
            self._note_change(story, before, after)
        for cords in story.sets:
            self._note_timing(story, cords)
        if story.plan.tag != roster.UNKNOWN_USE:
            self._note_inspections(story)

    def _note_first_set(self, story: BowStory) -> None:
        first = story.sets[0]
        at = self.shop.at(story.crew, first.fitted_day, STARTS_AT)

        def fit_all() -> None:
            for position in story.positions:
                self._fit(story, first, position, at)
            is_measured = story.plan.tag != roster.UNKNOWN_USE
            self._measure(story, "draw_board" if is_measured else "maker", at + timedelta(minutes=30))

        self.diary.note(at, fit_all)

    def _measure(self, story: BowStory, origin: str, at: datetime) -> None:
        record.record_reference_set(
            by=story.crew.technicians[0],
            bow=story.bow,
            origin=origin,
            taken_at=at,
            values=maker_values(story) if origin == "maker" else reference_values(story, _twists(story)),
            now=self.shop.now,
        )

    def _fit(self, story: BowStory, cords: CordSet, position: str, at: datetime) -> Fitting:
        return record.fit_cord(
            by=story.crew.technicians[0],
            cord=put_cord(self.shop, story, cords, position),
            bow=story.bow,
            position=position,
            at=at,
            now=self.shop.now,
            half_twists=half_twists(story, position),
        )

    def _note_change(self, story: BowStory, before: CordSet, after: CordSet) -> None:
        at = self.shop.at(story.crew, after.fitted_day, STARTS_AT, 15)
        self.diary.note(at, lambda: self._change(story, before, after, at))

    def _change(self, story: BowStory, before: CordSet, after: CordSet, at: datetime) -> None:
        crew, number, bow = story.crew, self.number(story), story.bow
        technician, second = crew.technicians[0], crew.manager
        record.take_to_bench(by=technician, bow=bow, order_number=number, at=at)
        stretches = self._stretches(story, before, after.fitted_day)
        for fitting in list(lookups.fitted(bow)):
            condemned = fitting.position == before.condemned
            record.remove_cord(
                by=technician,
                fitting=fitting,
                at=at + timedelta(minutes=15),
                why=before.removed_why if condemned or not before.condemned else RemovalReason.PLANNED,
                finding=before.finding if condemned else "",
                now=self.shop.now,
            )
        changed = [self._take_from_shelf(story, before, after, position, at, number) for position in story.positions]
        self._sign(story, number, NeedKind.REPLACEMENT, _why_changed(before), stretches, at, changed)
        self._measure(story, "after_service", at + timedelta(minutes=80))
        record.release(by=second, bow=bow, at=at + timedelta(minutes=90), order_number=number)

    def _take_from_shelf(
        self, story: BowStory, before: CordSet, after: CordSet, position: str, at: datetime, number: str
    ) -> dict[str, Any]:
        fitting = self._fit(story, after, position, at + timedelta(minutes=20))
        self.shelf.use(story.crew, story.make.cord_specs[position], at, f"{number}-{position}", number)
        return {
            "position": position,
            "old_serial": serial_of(story, before, position),
            "removed_why": before.removed_why,
            "finding": before.finding if position == before.condemned else "",
            "new_serial": fitting.cord.serial,
            "new_lot": fitting.cord.lot,
            "half_twists": fitting.half_twists,
        }

    def _note_timing(self, story: BowStory, cords: CordSet) -> None:
        """The check after the settle-in shots, then one every few weeks; each resets the timing by the twists."""
        for i, day in enumerate(self._resets(story, cords)):
            kind = NeedKind.SETTLE_IN if i == 0 and not cords.prior_life else NeedKind.TIMING_CHECK
            at = self.shop.at(story.crew, day, STARTS_AT, 30)
            self.diary.note(at, partial(self._reset, story, cords, kind, day, at))

    def _reset(self, story: BowStory, cords: CordSet, kind: NeedKind, day: int, at: datetime) -> None:
        number = self.number(story)
        reason = "the settle-in shots are shot" if kind is NeedKind.SETTLE_IN else "timing looked at every few weeks"
        self._sign(story, number, kind, reason, self._stretches(story, cords, day), at)
        for fitting in lookups.fitted(story.bow):
            turned = 2 if kind is NeedKind.SETTLE_IN and fitting.position == "string" else 1
            last = fitting.resets.order_by("-at").first()
            twists = (last.half_twists if last else fitting.half_twists) or 0
            record.reset_cord(
                by=story.crew.technicians[0],
                fitting=fitting,
                at=at + timedelta(minutes=40),
                half_twists=twists + turned,
                order_number=number,
            )

    def _note_inspections(self, story: BowStory) -> None:
        for day in _inspection_days(self.shop, story):
            at = self.shop.at(story.crew, day, STARTS_AT, 45)
            self.diary.note(at, partial(self._inspect, story, day, at))

    def _inspect(self, story: BowStory, day: int, at: datetime) -> None:
        cords = next(one for one in reversed(story.sets) if one.fitted_day <= day)
        stretches = self._stretches(story, cords, day)
        self._sign(story, self.number(story), NeedKind.INSPECTION, "monthly look-over", stretches, at)

    def _stretches(self, story: BowStory, cords: CordSet, day: int) -> dict[str, float]:
        """How much longer each cord is on the morning of a day than when its timing was last set."""
        reset = max((one for one in self._resets(story, cords) if one < day), default=cords.fitted_day)
        found = {}
        for position in story.positions:
            stretch = stretch_of(story, cords, position)
            then, now = (
                stretch.metres(story.shots_between(cords.fitted_day, one), one - cords.fitted_day)
                for one in (reset, day)
            )
            found[position] = now - then
        return found

    def _resets(self, story: BowStory, cords: CordSet) -> list[int]:
        key = (story.plan.tag, cords.fitted_day)
        if key not in self._known_resets:
            self._known_resets[key] = reset_days(self.shop, story, cords)
        return self._known_resets[key]

    def _sign(
        self,
        story: BowStory,
        number: str,
        kind: NeedKind,
        reason: str,
        stretches: Mapping[str, float],
        at: datetime,
        changed: list[dict[str, Any]] | None = None,
    ) -> None:
        references = lookups.current_reference_set(story.bow)
        if references is None:
            raise LookupError(f"{story.plan.tag} has no reference set at {at}: the demo's story is out of order")
        technician: Person = story.crew.technicians[-1 if kind is NeedKind.INSPECTION else 0]
        result = record.sign_result(
            by=technician,
            bow=story.bow,
            order_number=number,
            reference_set=references,
            readings=readings(story, references, stretches, all_kinds=kind is not NeedKind.INSPECTION),
            work=[{"kind": str(kind), "reason": reason}],
            cords_changed=changed or [],
            steps_done=[],
            note="from the paper order",
            at=at + timedelta(minutes=60),
        )
        releaser = story.crew.manager if kind is NeedKind.REPLACEMENT else technician
        record.sign_release(by=releaser, result=result, at=at + timedelta(minutes=75))


def _twists(story: BowStory) -> dict[str, int]:
    return {position: half_twists(story, position) for position in story.positions}


def _why_changed(before: CordSet) -> str:
    if before.condemned:
        return f"{before.condemned.replace('_', ' ')} condemned: {before.finding.replace('_', ' ')}"
    return {"incident": "changed after the incident", "unknown": "changed; the reason was not written down"}.get(
        before.removed_why, "rated life nearly used"
    )


def reset_days(shop: Shop, story: BowStory, cords: CordSet) -> list[int]:
    """Bench days on which a set's timing was reset: once it had settled, then every few weeks; compounds only."""
    if not story.make.plan.cam_system or story.plan.tag == roster.UNKNOWN_USE:
        return []
    end = story.last_day if cords.removed_day is None else cords.removed_day
    worked = [day for day in np.flatnonzero(shop.bench_days(story.crew)).tolist() if cords.fitted_day < day < end]
    found: list[int] = []
    for day in worked:
        if found or cords.prior_life:
            ready = day >= (found[-1] if found else cords.fitted_day) + TIMING_EVERY_DAYS
        else:
            ready = story.shots_between(cords.fitted_day, day) >= SETTLED_AFTER_SHOTS
        if ready:
            found.append(day)
    return found


def _inspection_days(shop: Shop, story: BowStory) -> list[int]:
    """Bench days on which a bow was looked over: each month, and lately the sooner the more worn its cords are."""
    bench_days = shop.bench_days(story.crew).copy()
    bench_days[[cords.fitted_day for cords in story.sets[1:]]] = False
    allowed = np.flatnonzero(bench_days[: story.last_day])
    lately = next(days for life, days in LAST_LOOKED_OVER if story.target >= life)
    last = int(allowed[np.searchsorted(allowed, story.last_day - lately, side="right") - 1])
    found, day = [last], last - INSPECTED_EVERY_DAYS
    while day > 0:
        found.append(int(allowed[np.searchsorted(allowed, day)]))
        day = found[-1] - INSPECTED_EVERY_DAYS
    return [one for one in reversed(found) if one > 1]
