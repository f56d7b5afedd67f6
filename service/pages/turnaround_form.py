"""The check's form on the phone: its chips, and its questions with what was answered before a slip."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.models import ReferenceMeasurement, Site
from fleet.vocabulary import MeasurementKind
from service.measuring import WHERE_TO_MEASURE
from service.orders.wording import label, measured, within
from service.turnaround.answers import UNKNOWN
from service.turnaround.short_list import NO_MARKS, Topic
from service.units import Units

Chip = tuple[str, str | Promise]

# Hours of shooting as chips: one tap. The value is read as hours, "shots" and "hours" open a field.
USE: tuple[Chip, ...] = (
    ("none", _("not shot")),
    ("0.5", _("½ h")),
    ("1", _("1 h")),
    ("1.5", _("1½ h")),
    ("2", _("2 h")),
    ("3", _("3 h")),
    ("shots", _("count")),
    ("hours", _("longer")),
)
# Minutes in a vehicle and the temperature outside: the next higher chip is the safe one.
PARKED: tuple[Chip, ...] = (
    ("10", _("10 min")),
    ("30", _("30 min")),
    ("60", _("1 h")),
    ("120", _("2 h")),
    ("240", _("4 h")),
    ("480", _("8 h")),
)
OUTSIDE_F: tuple[Chip, ...] = (
    *((str(degrees), f"{degrees} °F") for degrees in (60, 70, 80, 90, 100, 110)),
    (UNKNOWN, _("nobody knows")),
)
OUTSIDE_C: tuple[Chip, ...] = (
    *((str(degrees), f"{degrees} °C") for degrees in (15, 20, 25, 30, 35, 40)),
    (UNKNOWN, _("nobody knows")),
)


@dataclass(frozen=True)
class Question:
    """One topic of the short list, with its chips and what was answered."""

    topic: Topic
    chips: tuple[Chip, ...]
    given: str = ""
    what: str = ""


@dataclass(frozen=True)
class QuickMeasurement:
    """One field of a quick measurement beside its reference, in the site's units."""

    name: str
    title: str
    where: str
    reference: str
    tolerance: str
    given: str = ""


@dataclass(frozen=True)
class CheckForm:
    """The questions of the short list and the quick measurements."""

    questions: list[Question] = field(default_factory=list)
    measurements: list[QuickMeasurement] = field(default_factory=list)


def check_form(
    topics: tuple[Topic, ...], references: list[ReferenceMeasurement], site: Site, given: Mapping[str, str] | None
) -> CheckForm:
    """The form of a bow; `given` is what was answered, after a slip."""
    data, units = given or {}, Units(site.units)
    return CheckForm([_question(one, data) for one in topics], [_measurement(one, units, data) for one in references])


def _question(topic: Topic, data: Mapping[str, str]) -> Question:
    chips: list[Chip] = [("fine", topic.fine), ("not_fine", topic.not_fine)]
    if topic.may_lack_marks:
        chips.append((NO_MARKS, _("no marks")))
    return Question(topic, tuple(chips), data.get(f"topic-{topic.key}", ""), data.get(f"what-{topic.key}", ""))


def _measurement(one: ReferenceMeasurement, units: Units, data: Mapping[str, str]) -> QuickMeasurement:
    name = f"measure-{one.kind}"
    return QuickMeasurement(
        name=name,
        title=label(one.kind, one.position),
        where=str(WHERE_TO_MEASURE[MeasurementKind(one.kind)]),
        reference=measured(one.kind, one.value, units),
        tolerance=within(one.kind, one.tolerance, units),
        given=data.get(name, ""),
    )
