"""What goes on paper: the day's cover list and one sheet per work order, as plain data.

Quantities are SI floats (units.Dimension gives the unit of each); words are finished text in the reader's
language; dates are the site's dates. The caller fills these in; `service.printing.pdf` draws them and computes
nothing. Numbers of rows are free and texts may be as long as a page: the sheet flows to further pages.
"""

import math
from dataclasses import dataclass
from datetime import date, datetime

from service.units import Dimension, Units


@dataclass(frozen=True)
class BowFacts:
    """The bow as the sheet's head names it; lengths in m (true draw and AMO draw), peak weight in N."""

    tag: str
    serial: str
    model: str
    hand: str
    kind: str
    cam_system: str
    draw_length_m: float | None
    amo_draw_length_m: float | None
    peak_weight_n: float | None


@dataclass(frozen=True)
class Reason:
    """One need of the order: what, and why in numbers ("string at 0.86 of rated life: shots 0.58, ...")."""

    need: str
    why: str


@dataclass(frozen=True)
class ReferenceOrigin:
    """The frozen reference set that the rows come from."""

    version: int
    origin: str
    taken_by: str
    taken_on: date


@dataclass(frozen=True)
class MeasurementRow:
    """One reference measurement, with boxes for as found and as left: empty, or with what is kept already (SI).

    `reference`, `tolerance` (in service) and `bench_tolerance` are SI by `dimension`, tolerances symmetric and
    not below 0; None where the set has no value yet. `tool_warning` says that the tool's calibration is overdue.
    """

    name: str
    dimension: Dimension
    reference: float | None
    tolerance: float | None
    bench_tolerance: float | None
    where: str
    tool: str = ""
    tool_warning: str = ""
    as_found: float | None = None
    as_left: float | None = None

    def __post_init__(self) -> None:
        for quantity in (self.reference, self.tolerance, self.bench_tolerance, self.as_found, self.as_left):
            if quantity is not None and not math.isfinite(quantity):
                raise ValueError(f"{self.name}: {quantity} cannot be printed; give a finite number or None.")
        for tolerance in (self.tolerance, self.bench_tolerance):
            if tolerance is not None and tolerance < 0:
                raise ValueError(f"{self.name}: tolerance {tolerance} (SI) is below 0; give its size, 0 or more.")


@dataclass(frozen=True)
class LifeUsed:
    """Life used of a cord as fractions of rated life; heat is below 0 in a cold store.

    `label` tells on what the figure rests ("assumed", "learned from 12 cords").
    """

    shots: float
    time: float
    heat: float
    label: str = ""

    def __post_init__(self) -> None:
        for share in (self.shots, self.time, self.heat):
            if not math.isfinite(share):
                raise ValueError(f"A life share of {share} cannot be printed; give None for a cord of unknown life.")

    @property
    def total(self) -> float:
        return self.shots + self.time + self.heat


@dataclass(frozen=True)
class CordRow:
    """One fitted cord (or empty position), with boxes for the new lot and twists.

    Twists in half turns, as a bench counts and the register keeps them. `start_from` is what a new cord gets, in
    words ("24 1/2 turns", "if replaced: 24 1/2 turns", "until the marks return"). `life` None means unknown use.
    """

    position: str
    spec: str
    lot: str
    fitted_on: date | None
    life: LifeUsed | None
    half_twists_fitted: int | None
    start_from: str
    to_be_replaced: bool


@dataclass(frozen=True)
class PartLine:
    """A part to take to the bench: how many of what, and where it lies or when it comes."""

    quantity: int
    name: str
    where: str = ""


@dataclass(frozen=True)
class TimingNote:
    """What the as-found readings say: sentences, twists to start from, and per measurement its name, its reference,
    how it was found and what it should read once the twists are in. All finished words."""

    says: tuple[str, ...]
    twists: tuple[str, ...]
    expected: tuple[tuple[str, str, str, str], ...]
    rests_on: str


@dataclass(frozen=True)
class WorkOrderSheet:
    """Everything on the bench sheet of one work order."""

    number: str
    shop: str
    site: str
    units: Units
    planned_on: date
    technician: str
    minutes: int
    bow: BowFacts
    reasons: tuple[Reason, ...]
    likely_cause: str
    reference: ReferenceOrigin | None
    measurements: tuple[MeasurementRow, ...]
    cords: tuple[CordRow, ...]
    steps: tuple[str, ...]
    parts: tuple[PartLine, ...]
    warnings: tuple[str, ...]
    assumed: tuple[str, ...]
    second_person: str
    url: str
    # What the cautions go by; empty: those of any bow.
    bow_kind: str = ""
    diagnosis: "TimingNote | None" = None

    def __post_init__(self) -> None:
        if not self.number.strip():
            raise ValueError("A sheet needs the number of its work order; issue the order, then print it.")
        if not self.url.startswith(("http://", "https://")):
            raise ValueError(
                f"Order {self.number}: '{self.url}' is no address for its code; give the full address, "
                "beginning with http:// or https:// (the public base URL of the settings)."
            )


@dataclass(frozen=True)
class QueueLine:
    """One order on the cover, in the order of work."""

    order: str
    tag: str
    model: str
    place: str
    jobs: tuple[str, ...]
    technician: str
    minutes: int
    note: str = ""


@dataclass(frozen=True)
class QueueCover:
    """The day's list: orders in the order of work, and what to fetch before starting.

    `minutes_available` is the bench time of the named technicians on the day, None where it is not kept.
    `printed_at` is in the site's time zone.
    """

    shop: str
    site: str
    on: date
    technicians: tuple[str, ...]
    lines: tuple[QueueLine, ...]
    parts: tuple[PartLine, ...]
    minutes_available: int | None
    printed_at: datetime

    @property
    def minutes(self) -> int:
        return sum(line.minutes for line in self.lines)
