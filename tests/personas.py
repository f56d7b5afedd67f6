"""Larkspur Range and its people, for every test: small functions that build the register through its own verbs.

    shop = personas.shop()                       a site with one person per role, a rack, a press and tools
    bow = personas.fitted_bow(shop, "hybrid")    a bow with all its cords, set up, with current references
    personas.shoot(shop, bow, 40, days_ago=3)    40 shots, three days before NOW

All is as of `NOW`, a Wednesday in season; every function takes what differs and fills in the rest. Lengths are m,
weights N. Nothing here is a default of the service: a test that needs a number states it.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from fleet import record
from fleet.models import Bow, Cord, CordSpec, Fitting, Person, Place, ReferenceSet, Shots, Site, SpecSheet
from fleet.record import ReferenceValue
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, MeasurementKind
from tests.remembered import remembered

NOW = datetime(2026, 7, 1, 15, 0, tzinfo=UTC)
PASSWORD = "larkspur-bench-4"
INCH_M = 0.0254
POUND_N = 4.4482216152605
CAM_SYSTEMS = ("single", "hybrid", "twin", "binary")


def now() -> datetime:
    """NOW, which tests that are served to a browser set to the real one."""
    return NOW


def before(days: float = 0.0, hours: float = 0.0) -> datetime:
    """An instant so long before NOW."""
    return NOW - timedelta(days=days, hours=hours)


@dataclass(frozen=True)
class Shop:
    """A site and who works there: one person per role, each with the sign-in password PASSWORD."""

    site: Site
    owner: Person
    manager: Person
    technician: Person
    counter: Person
    rack: Place
    tool_codes: dict[str, str] = field(default_factory=dict)  # tool kind -> code


@remembered(now)
def shop(code: str = "larkspur", **settings: Any) -> Shop:
    """A site (imperial, Letter, America/Denver unless told otherwise) with its people, a logged rack, press, tools."""
    owner = Person.objects.filter(username="owner").first() or record.found_book(
        username="owner", display_name="Odile Owner", password=PASSWORD
    )
    given = {"name": f"{code.title()} Range", "time_zone": "America/Denver", "opening_weekdays": [0, 1, 2, 3, 4, 5]}
    site = record.put_site(by=owner, code=code, **{**given, **settings})
    manager = person(owner, site, "manager", f"{code}-manager")
    technician = person(owner, site, "technician", f"{code}-technician")
    counter = person(owner, site, "counter", f"{code}-counter")
    record.set_skills(by=owner, person=technician, skills=["inspection", "press", "timing", "limbs"])
    record.set_bench_hours(by=owner, person=technician, minutes_by_weekday=dict.fromkeys(range(5), 240))
    rack = record.put_place(by=owner, site=site, name="Rack", temperature_source="logger")
    record.put_press(by=owner, site=site, name="Bench press")
    codes = {}
    for kind, resolution in (("rule", INCH_M / 32), ("scale", 0.1 * POUND_N), ("draw_board", INCH_M / 16)):
        codes[kind] = f"{code}-{kind}"
        due = date(2026, 12, 31)
        record.put_tool(by=owner, code=codes[kind], site=site, kind=kind, resolution=resolution, calibration_due_on=due)
    return Shop(site, owner, manager, technician, counter, rack, codes)


def person(by: Person, site: Site, role: str, username: str) -> Person:
    """Somebody with one role at one site, who can sign in with PASSWORD."""
    name = username.replace("-", " ").title()
    return record.put_person(by=by, username=username, display_name=name, site=site, role=role, password=PASSWORD)


def cord_spec(by: Person, position: str = "string", code: str = "", **changes: Any) -> CordSpec:
    """A make of cord: HMPE, 5,000 shots, 12 months, unless told otherwise."""
    given = {
        "maker": "Quillwort Cordage",
        "position": position,
        "length_m": 1.5 if position == "string" else 0.95,
        "strands": 24,
        "fibre": "hmpe",
        "rated_shots": 5_000,
        "rated_months": 12.0,
        "price": 48 if position == "string" else 36,
        "lead_days": 10,
        "reorder_point": 1,
        "diameter_m": 0.0025,
    }
    return record.put_cord_spec(by=by, code=code or f"QW-{position}", **{**given, **changes})


@remembered(now)
def spec_sheet(
    by: Person, cam_system: str = "twin", *, kind: str = "compound", code: str = "", **changes: Any
) -> SpecSheet:
    """A make of bow of a cam system (or a recurve, a longbow), with its cord specs and the maker's own values."""
    system = cam_system if kind == "compound" else ""
    given: dict[str, Any] = {
        "maker": "Tamarack Vale",
        "model": f"{(system or kind).title()} 30",
        "bow_kind": kind,
        "cam_system": system,
        "draw_length_min_m": 24 * INCH_M,
        "draw_length_max_m": 31 * INCH_M,
        "peak_weight_min_n": 30 * POUND_N,
        "peak_weight_max_n": 60 * POUND_N,
        "cords": {position: cord_spec(by, position) for position in POSITIONS_BY_CAM_SYSTEM[system]},
        "references": reference_values(kind, system),
    }
    return record.put_spec_sheet(by=by, code=code or f"TV-{system or kind}", **{**given, **changes})


def reference_values(kind: str = "compound", cam_system: str = "twin", tool_code: str = "") -> list[ReferenceValue]:
    """Reference measurements of a bow kind with the house's tolerances (common practice, no source)."""
    eighth, sixteenth = INCH_M / 8, INCH_M / 16
    weight = ReferenceValue(MeasurementKind.PEAK_WEIGHT, 40 * POUND_N, 2 * POUND_N, tool_code=tool_code)
    nocking = ReferenceValue(MeasurementKind.NOCKING_HEIGHT, 0.006, sixteenth, tool_code=tool_code)
    if kind != "compound":
        return [
            ReferenceValue(MeasurementKind.BRACE_HEIGHT, 8.25 * INCH_M, eighth, tool_code=tool_code),
            weight,
            nocking,
        ]
    lengths = [
        (MeasurementKind.AXLE_TO_AXLE, 33 * INCH_M, eighth),
        (MeasurementKind.BRACE_HEIGHT, 7 * INCH_M, eighth),
        (MeasurementKind.DRAW_LENGTH, 28 * INCH_M, INCH_M / 4),
        (MeasurementKind.HOLE_DISTANCE_LOWER, 0.012, sixteenth),
    ]
    if cam_system != "single":
        lengths += [
            (MeasurementKind.HOLE_DISTANCE_UPPER, 0.012, sixteenth),
            (MeasurementKind.STOP_SYNC, 0.0, sixteenth),
        ]
    return [*(ReferenceValue(*one, tool_code=tool_code) for one in lengths), weight, nocking]


def bare_bow(shop: Shop, sheet: SpecSheet, tag: str = "", **changes: Any) -> Bow:
    """A bow without cords, set up at 28 in and 40 lb, half a year in service."""
    number = Bow.objects.count() + 1
    given = {"serial": f"TV{number:05d}", "hand": "right", "site": shop.site, "in_service_on": before(180).date()}
    bow = record.put_bow(by=shop.manager, tag=tag or f"L-{number:03d}", spec_sheet=sheet, **{**given, **changes})
    record.set_up(
        by=shop.manager, bow=bow, since=before(180), draw_length_m=28 * INCH_M, peak_weight_n=40 * POUND_N, now=NOW
    )
    return bow


def cord(shop: Shop, spec: CordSpec, **changes: Any) -> Cord:
    """A new cord of a spec, on the shelf."""
    number = Cord.objects.count() + 1
    given = {"lot": "LOT-A", "made_on": before(200).date()}
    return record.put_cord(by=shop.technician, serial=f"C-{number:05d}", spec=spec, **{**given, **changes})


def fit(
    shop: Shop,
    bow: Bow,
    cord: Cord,
    *,
    days_ago: float = 100.0,
    half_twists: int | None = 40,
    again_because: str = "looked over, sound",
) -> Fitting:
    """A cord on a bow at its own position; one that came off a bow before goes on again by this shop's decision."""
    return record.fit_cord(
        by=shop.technician,
        cord=cord,
        bow=bow,
        position=cord.spec.position,
        at=before(days_ago),
        now=NOW,
        half_twists=half_twists,
        again_because=again_because,
    )


@remembered(now)
def fitted_bow(
    shop: Shop,
    cam_system: str = "twin",
    tag: str = "",
    *,
    kind: str = "compound",
    days_ago: float = 100.0,
    **changes: Any,
) -> Bow:
    """A bow with all its cords fitted so long ago, on the rack since, with current reference measurements."""
    sheet = spec_sheet(shop.owner, cam_system, kind=kind)
    bow = bare_bow(shop, sheet, tag, **changes)
    for row in sheet.cords.select_related("cord_spec"):
        fit(shop, bow, cord(shop, row.cord_spec), days_ago=days_ago)
    record.add_stay(by=shop.technician, bow=bow, place=shop.rack, start=before(days_ago), now=NOW)
    references(shop, bow, days_ago=days_ago)
    return bow


def references(shop: Shop, bow: Bow, *, days_ago: float = 100.0) -> ReferenceSet:
    """Reference measurements off the draw board, current from then on."""
    sheet = bow.spec_sheet
    return record.record_reference_set(
        by=shop.technician,
        bow=bow,
        origin="draw_board",
        taken_at=before(days_ago),
        values=reference_values(sheet.bow_kind, sheet.cam_system),
        now=NOW,
    )


def shoot(shop: Shop, bow: Bow, count: int, *, days_ago: float = 1.0, key: str = "", **changes: Any) -> Shots:
    """Shots of one hour, so many days before NOW."""
    given: dict[str, Any] = {
        "start": before(days_ago),
        "end": before(days_ago, hours=-1),
        "how_known": "counter",
        "key": key or f"shots-{Shots.objects.count() + 1}",
    }
    return record.add_shots(by=shop.counter, bow=bow, count=count, now=NOW, **{**given, **changes})
