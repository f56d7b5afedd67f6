"""One answer from a check between two guests: ready, check timing or hold, and why. No database here.

What this check found goes before what the book says; what the book holds stays held, however well the check went.
"""

from dataclasses import dataclass, field

from django.utils.translation import gettext_lazy as _

from fleet.vocabulary import Finding, HoldReason, IncidentKind, Verdict
from service.orders.wording import measured, measurement, off_as_read, within
from service.said import joined, say
from service.timing.tolerance import ROUNDING_SI
from service.turnaround.answers import Answers, Measured
from service.turnaround.short_list import FINE, NO_MARKS, NOT_FINE, NOT_LOOKED_AT, SETTLES, Topic
from service.units import Units
from service.verdict import Verdict as TableVerdict
from service.wear.cautions import HeatCaution
from service.wording import named

SOMETHING_ELSE = _("something else")


@dataclass(frozen=True)
class CabinHeat:
    """What a parked vehicle did to the cords: the caution that its estimated temperature calls for, told."""

    caution: HeatCaution
    told: str


@dataclass
class Judgement:
    """The answer and what follows from it. `because` is everything that speaks against the bow, `notes` the rest.

    `incidents` are reported, `holds` (reason -> text) are made; where both are empty nothing new holds the bow.
    """

    incidents: list[IncidentKind] = field(default_factory=list)
    holds: list[tuple[HoldReason, str]] = field(default_factory=list)
    off_time: list[str] = field(default_factory=list)
    by_the_book: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def verdict(self) -> Verdict:
        """The one answer."""
        if self.incidents or self.holds or self.by_the_book:
            return Verdict.HOLD
        return Verdict.CHECK_TIMING if self.off_time else Verdict.READY

    @property
    def because(self) -> list[str]:
        """Why, the gravest first."""
        reported = [named(kind.label) for kind in self.incidents]
        return [*reported, *(text for _reason, text in self.holds), *self.off_time, *self.by_the_book, *self.notes]


def judge(
    answers: Answers,
    topics: tuple[Topic, ...],
    to_settle: frozenset[str],
    heat: CabinHeat | None,
    table: TableVerdict,
    units: Units,
) -> Judgement:
    """The answer by the house's table. `to_settle` names the cams whose timing a measurement must show."""
    found = Judgement()
    if answers.dry_fired:
        found.incidents.append(IncidentKind.DRY_FIRE)
    if answers.dropped:
        found.incidents.append(IncidentKind.DROP)
    for topic in topics:
        answer = answers.topics[topic.key]
        if answer == NOT_LOOKED_AT:
            found.notes.append(say("%(topic)s: not looked at", topic=named(topic.name)))
        elif topic.timing:
            _judge_timing(topic, answers, to_settle, units, found)
        elif answer != FINE:
            _judge_finding(topic, answers.found[topic.key], found)
    if not any(topic.timing and answers.topics[topic.key] in (NOT_FINE, NO_MARKS) for topic in topics):
        found.off_time.extend(_outside(answers, units))
    _judge_heat(answers, heat, found)
    found.by_the_book.extend(table.because)
    found.notes.extend(table.warnings)
    return found


def _judge_finding(topic: Topic, value: str, found: Judgement) -> None:
    if value in IncidentKind.values:
        if IncidentKind(value) not in found.incidents:
            found.incidents.append(IncidentKind(value))
        return
    told = joined(": ", [named(topic.name), named(dict(topic.found).get(value, SOMETHING_ELSE))])
    found.holds.append((HoldReason.CONDEMNED if value in Finding.values else HoldReason.TURNAROUND, told))


def _judge_timing(topic: Topic, answers: Answers, to_settle: frozenset[str], units: Units, found: Judgement) -> None:
    """A doubt about timing is settled by measurements inside tolerance on every cam, and by nothing less."""
    answer = answers.topics[topic.key]
    if answer == FINE:
        return
    if answer == NO_MARKS:
        told = say("no timing marks on this bow")
    else:
        told = joined(": ", [named(topic.name), named(topic.not_fine)])
    outside = _outside(answers, units)
    read = {SETTLES[one.kind] for one in answers.measured if one.kind in SETTLES}
    if outside:
        found.off_time.extend([told, *outside])
    elif to_settle <= read:
        found.notes.append(say("%(told)s, but measured inside tolerance", told=told))
    elif answer == NO_MARKS:
        found.off_time.append(say("%(told)s: measure every cam's hole distance, or let the bench look", told=told))
    else:
        found.off_time.append(say("%(told)s, and not measured inside tolerance on every cam", told=told))


def _outside(answers: Answers, units: Units) -> list[str]:
    off = [one for one in answers.measured if abs(one.value - one.reference) - one.tolerance > ROUNDING_SI]
    return [_told(one, units) for one in off]


def _told(one: Measured, units: Units) -> str:
    return say(
        "%(name)s reads %(value)s, %(off)s from %(reference)s, outside %(tolerance)s",
        name=measurement(one.kind, one.position),
        value=measured(one.kind, one.value, units),
        off=off_as_read(one.kind, one.value - one.reference, units),
        reference=measured(one.kind, one.reference, units),
        tolerance=within(one.kind, one.tolerance, units),
    )


def _judge_heat(answers: Answers, heat: CabinHeat | None, found: Judgement) -> None:
    """Too hot by the estimate, or nobody knows how hot: the bench looks before the next guest."""
    if answers.parked_minutes and answers.outside_c is None:
        told = say("left in a hot vehicle, and nobody knows how hot it was outside: the cords are inspected first")
        found.holds.append((HoldReason.HEAT, told))
    if heat is None or heat.caution is HeatCaution.NONE:
        return
    if heat.caution >= HeatCaution.INSPECT:
        found.holds.append((HoldReason.HEAT, heat.told))
    else:
        found.notes.append(heat.told)
