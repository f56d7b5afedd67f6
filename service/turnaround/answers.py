"""What was answered at the check between two guests: typed text -> answers in SI, every slip named by its field."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from fleet.models import ReferenceMeasurement
from fleet.ranges import MEASUREMENTS, OUTSIDE_TEMPERATURE, SHOTS
from fleet.refusal import Refused
from service.orders.wording import label, shown_dimension
from service.quantity_refusals import QuantityError
from service.turnaround.short_list import NOT_FINE, NOT_LOOKED_AT, SOMETHING_ELSE, Topic
from service.units import Dimension, Units, from_si, read_quantity, symbol, to_si, unit_shown

LONGEST_HOURS = 200.0
LONGEST_PARKED_MINUTES = 7 * 24 * 60
UNKNOWN = "unknown"
NOTE_LENGTH = 400


@dataclass(frozen=True)
class Measured:
    """One quick measurement beside its reference (SI)."""

    kind: str
    position: str
    value: float
    reference: float
    tolerance: float


@dataclass(frozen=True)
class Answers:
    """One check as answered. Shots as counted, or hours of shooting; None where the other was given.

    `parked_minutes` is 0 where the bow was in no hot vehicle; `outside_c` is None where nobody knows how hot it was.
    `topics` maps a topic's key to its answer, `found` to what was found where it is not fine.
    """

    shots: int | None
    hours: float | None
    parked_minutes: int
    outside_c: float | None
    shade: bool
    boot: bool
    dropped: bool
    dry_fired: bool
    topics: dict[str, str]
    found: dict[str, str]
    measured: tuple[Measured, ...] = ()
    note: str = ""

    def as_kept(self) -> dict[str, Any]:
        """The answers as the book keeps them, in plain values."""
        return {
            "shots": self.shots,
            "hours": self.hours,
            "parked_minutes": self.parked_minutes,
            "outside_c": self.outside_c,
            "shade": self.shade,
            "boot": self.boot,
            "dropped": self.dropped,
            "dry_fired": self.dry_fired,
            **{key: self.found.get(key, answer) for key, answer in self.topics.items()},
            "note": self.note,
        }

    def measurements_as_kept(self) -> list[dict[str, Any]]:
        """The quick measurements with what they were held to (SI)."""
        return [dict(vars(one)) for one in self.measured]


@dataclass
class Reading:
    """Reads one form; `problems` fills with a text for each field that cannot be taken."""

    data: Mapping[str, str]
    problems: dict[str, str] = field(default_factory=dict)

    def choice(self, name: str, allowed: tuple[str, ...], asked: str) -> str:
        """A chosen value, or a problem that says what is still to be answered."""
        given = self.data.get(name, "")
        if given not in allowed:
            self.problems[name] = _("%(asked)s: not answered yet. Choose one.") % {"asked": asked}
            return ""
        return given

    def number(self, name: str, low: float, high: float, unit: str, asked: str) -> float:
        """A typed number inside its range, or 0 with a problem."""
        text = self.data.get(name, "").strip().replace(",", ".")
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            self.problems[name] = _("%(asked)s: '%(text)s' is not %(low)g to %(high)g %(unit)s. Type the number.") % {
                "asked": asked,
                "text": text[:20],
                "low": low,
                "high": high,
                "unit": unit,
            }
            return 0.0
        return value


def read_answers(
    data: Mapping[str, str], topics: tuple[Topic, ...], references: list[ReferenceMeasurement], units: Units
) -> tuple[Answers | None, dict[str, str]]:
    """The answers, or None with the problem of each field that was left out or cannot be read."""
    reading = Reading(data)
    shots, hours = _use(reading)
    parked, outside = _vehicle(reading, units)
    yes_no = ("no", "yes")
    dropped = reading.choice("dropped", yes_no, _("Dropped")) == "yes"
    dry_fired = reading.choice("dry_fired", yes_no, _("Dry-fired")) == "yes"
    found = {
        one.key: data.get(f"what-{one.key}", "") or SOMETHING_ELSE
        for one in topics
        if data.get(f"topic-{one.key}") == NOT_FINE and not one.timing
    }
    given = _topics(reading, topics, held_anyway=dropped or dry_fired or bool(found))
    answers = Answers(
        shots=shots,
        hours=hours,
        parked_minutes=parked,
        outside_c=outside,
        shade=parked > 0 and "shade" in data,
        boot=parked > 0 and "boot" in data,
        dropped=dropped,
        dry_fired=dry_fired,
        topics=given,
        found=found,
        measured=tuple(_measured(reading, references, units)),
        note=data.get("note", "").strip()[:NOTE_LENGTH],
    )
    return (None if reading.problems else answers), reading.problems


def _topics(reading: Reading, topics: tuple[Topic, ...], *, held_anyway: bool) -> dict[str, str]:
    """The answer of each topic; what was left out is a problem, unless the bow is held anyway."""
    given = {}
    for one in topics:
        name = f"topic-{one.key}"
        if held_anyway and name not in reading.data:
            given[one.key] = NOT_LOOKED_AT
        else:
            given[one.key] = reading.choice(name, one.allowed, str(one.name).capitalize())
    return given


def _use(reading: Reading) -> tuple[int | None, float | None]:
    """Shots as counted or hours; a chip carries its hours as its value."""
    given = reading.data.get("use", "")
    if given == "none":
        return 0, None
    if given == "shots":
        count = reading.number("shots", 1, SHOTS.high, _("shots"), _("Shots"))
        if count != int(count):
            reading.problems["shots"] = _("Shots: %(count)g is not a whole number. Count them again.") % {
                "count": count
            }
        return int(count), None
    if given == "hours":
        return None, reading.number("hours", 0.1, LONGEST_HOURS, _("hours"), _("Hours of shooting"))
    try:
        hours = float(given)
    except ValueError:
        hours = 0.0
    if not 0 < hours <= LONGEST_HOURS:
        reading.problems["use"] = _("How much it was shot: not answered yet. Choose one.")
    return None, hours


def _vehicle(reading: Reading, units: Units) -> tuple[int, float | None]:
    """Minutes in a hot vehicle and degC outside; 0 minutes where it was in none."""
    if reading.choice("vehicle", ("no", "yes"), _("Left in a hot vehicle")) != "yes":
        return 0, None
    minutes = int(reading.number("parked", 1, LONGEST_PARKED_MINUTES, _("minutes"), _("How long in the vehicle")))
    if reading.data.get("outside") == UNKNOWN:
        return minutes, None
    unit = unit_shown(Dimension.TEMPERATURE, units)
    low, high = (from_si(to_si(celsius, "c"), unit) for celsius in (OUTSIDE_TEMPERATURE.low, OUTSIDE_TEMPERATURE.high))
    shown = reading.number("outside", low, high, symbol(unit), _("How hot outside"))
    try:
        return minutes, OUTSIDE_TEMPERATURE.check(from_si(to_si(shown, unit), "c"))
    except Refused as problem:
        reading.problems["outside"] = str(problem)
        return minutes, None


def _measured(reading: Reading, references: list[ReferenceMeasurement], units: Units) -> list[Measured]:
    found = []
    for one in references:
        name, text = f"measure-{one.kind}", reading.data.get(f"measure-{one.kind}", "").strip()
        if not text:
            continue
        allowed, unit = MEASUREMENTS[one.kind], unit_shown(shown_dimension(one.kind), units)
        try:
            value = read_quantity(text, unit, name=label(one.kind), low=allowed.low, high=allowed.high)
        except QuantityError as problem:
            reading.problems[name] = str(problem)
            continue
        found.append(Measured(one.kind, one.position, value, one.value, one.tolerance))
    return found
