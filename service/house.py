"""The house's bench times and windows. Common practice, no source: a shop changes them to what it sees."""

from dataclasses import dataclass

from fleet.vocabulary import BowKind, Skill
from service.models import NeedKind


@dataclass(frozen=True)
class BenchWork:
    """What a kind of need takes: own minutes (compound, other), skill, press, and how early it may be done (days)."""

    minutes_compound: int
    minutes_other: int
    skill: Skill
    needs_press: bool
    days_early: int

    def minutes(self, bow_kind: str) -> int:
        """Own bench minutes for a kind of bow, without the set-up."""
        return self.minutes_compound if bow_kind == BowKind.COMPOUND else self.minutes_other

    def press(self, bow_kind: str) -> bool:
        """Whether the bow goes into a press; a recurve or longbow is unstrung with a stringer."""
        return self.needs_press and bow_kind == BowKind.COMPOUND


# Shots of a guest in an hour of shooting, and how far that is from certain (one standard deviation): half of the
# 30 to 60 of a hire session, derived, taken as evenly likely.
HIRE_SHOTS_AN_HOUR = 45
HIRE_SHOTS_AN_HOUR_SD = 30 / 12**0.5
SET_UP_MINUTES = 10
SETTLE_IN_LONGEST_DAYS = 30
# How long a due replacement may be put off where the cord spec states no hard limit.
LONGEST_DEFERRAL_DAYS = 14

BENCH_WORK: dict[str, BenchWork] = {
    NeedKind.INCIDENT: BenchWork(45, 25, Skill.LIMBS, True, 0),
    NeedKind.NOTICE: BenchWork(30, 20, Skill.INSPECTION, False, 0),
    NeedKind.TURNAROUND: BenchWork(25, 15, Skill.TIMING, True, 0),
    NeedKind.REPLACEMENT: BenchWork(75, 25, Skill.PRESS, True, 14),
    NeedKind.INSPECTION: BenchWork(15, 10, Skill.INSPECTION, False, 10),
    NeedKind.TIMING_CHECK: BenchWork(25, 15, Skill.TIMING, True, 10),
    NeedKind.SETTLE_IN: BenchWork(20, 10, Skill.TIMING, True, 0),
    NeedKind.REQUESTED: BenchWork(30, 20, Skill.INSPECTION, False, 0),
}

# Work that a second person signs: the whole set came off, or something broke.
CRITICAL_NEEDS = frozenset({NeedKind.REPLACEMENT, NeedKind.INCIDENT})
# Kinds whose order ends with every reference measurement taken again.
MEASURED_NEEDS = frozenset(
    {NeedKind.REPLACEMENT, NeedKind.INCIDENT, NeedKind.TIMING_CHECK, NeedKind.SETTLE_IN, NeedKind.TURNAROUND}
)
# Kinds of order in whose course the bow is looked over, so that the next inspection counts from them.
INSPECTING_NEEDS = frozenset({*MEASURED_NEEDS, NeedKind.INSPECTION, NeedKind.NOTICE, NeedKind.REQUESTED})
