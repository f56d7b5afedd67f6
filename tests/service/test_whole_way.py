"""The whole way by commands, on a year of real hourly weather, each number on the sheet recomputed here.

Weather: the TMY3 file of Greensboro NC (723170) that pvlib ships (data: U.S. NREL, Typical Meteorological Year 3),
its dry-bulb temperature taken as a rack's logger. The register and the shot file are written for the purpose. Nothing
of service.wear or service.timing is used for the expected values: plain Python from the same files.
"""

import csv
import json
import math
import random
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from pypdf import PdfReader

from fleet import lookups, record
from fleet.models import Bow, Person
from fleet.vocabulary import BowState
from service.models import WorkOrder
from service.orders import close, work

SAMPLES = Path(__file__).parents[2] / "templates" / "samples"
GAS_CONSTANT = 8.314462618
ACTIVATION_ENERGY = 118_000.0
REFERENCE_K = 296.15
HOURS_PER_MONTH = 365.25 / 12 * 24
RATED_SHOTS, RATED_MONTHS, SHELF_FRACTION = 5_000, 12, 0.25
HOUR = timedelta(hours=1)
TAG = "FH-900"


@pytest.fixture(autouse=True)
def _weather_needs_no_network() -> None:
    assert files("pvlib").joinpath("data/723170TYA.CSV").is_file()


def dry_bulb() -> list[float]:
    """8,760 hourly dry-bulb temperatures (degC)."""
    with files("pvlib").joinpath("data/723170TYA.CSV").open() as lines:
        next(lines)
        return [float(row["Dry-bulb (C)"]) for row in csv.DictReader(lines)]


def factor(celsius: float) -> float:
    kelvin = celsius + 273.15
    return math.exp(ACTIVATION_ENERGY / GAS_CONSTANT * (1 / REFERENCE_K - 1 / kelvin))


def write(path: Path, header: str, rows: list[str]) -> str:
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return str(path)


class Season:
    """The invented bow's year: fitted a year ago, on a logged rack ever since, shot now and then."""

    def __init__(self) -> None:
        self.now = datetime.now(UTC)
        self.fitted = (self.now - 364 * timedelta(days=1)).replace(minute=0, second=0, microsecond=0)
        weather = dry_bulb()
        hours = int((self.now - self.fitted) / HOUR) + 1
        self.readings = [(self.fitted + hour * HOUR, weather[hour % len(weather)]) for hour in range(hours)]
        draw = random.Random(20)
        self.shots = [
            (self.fitted + timedelta(days=day, hours=3), draw.randint(20, 60)) for day in range(2, 360) if day % 4 == 1
        ]

    @property
    def heat_h(self) -> float:
        """Trapezoid of the acceleration factor over the readings; the indoor 70 degF after the last one."""
        pairs = zip(self.readings, self.readings[1:], strict=False)
        total = sum((factor(a) + factor(b)) / 2 * ((t2 - t1) / HOUR) for (t1, a), (t2, b) in pairs)
        return total + factor((70 - 32) / 1.8) * ((self.now - self.readings[-1][0]) / HOUR)

    @property
    def tension_h(self) -> float:
        return (self.now - self.fitted) / HOUR

    @property
    def life(self) -> tuple[float, float, float]:
        rated_h = RATED_MONTHS * HOURS_PER_MONTH
        count = sum(count for _, count in self.shots)
        return count / RATED_SHOTS, self.tension_h / rated_h, (self.heat_h - self.tension_h) / rated_h


def take_in(kind: str, file: str) -> str:
    out = StringIO()
    call_command("take_in", kind, file, stdout=out)
    return out.getvalue()


def take_all_in(folder: Path, season: Season) -> None:
    for kind in ("sites", "places", "specs", "people", "tools"):
        take_in(kind, str(SAMPLES / f"{kind}.csv"))
    fitted = season.fitted.isoformat()
    bow = f"{TAG},Z-1,QM-HERON,right,fenhollow,{season.fitted:%Y-%m-%d},28 1/2,50,"
    header = "tag,serial,spec_sheet,hand,site,in_service_on,draw_length_in,peak_weight_lb,set_up_since"
    take_in("bows", write(folder / "bows.csv", header, [bow]))
    cords = [
        f"{TAG}-{spec},{spec},L1,{TAG},{position},40,none,{fitted}"
        for spec, position in (("OC-S58", "string"), ("OC-U36", "upper cable"), ("OC-L36", "lower cable"))
    ]
    header = "serial,cord_spec,lot,tag,position,twists_half_turns,prior_use,fitted_at"
    take_in("cords", write(folder / "cords.csv", header, cords))
    header = "tag,origin,taken_at,axle_to_axle_in,brace_height_in,draw_length_in,peak_weight_lb,stop_sync_in"
    values = f"{TAG},draw board,{fitted},32 1/16,6 3/4,28 1/2,50,0"
    take_in("references", write(folder / "references.csv", header, [values]))
    take_in("stays", write(folder / "stays.csv", "tag,place,start", [f"{TAG},rack A,{fitted}"]))
    rows = [f"fenhollow,rack A,{at.isoformat()},{celsius}" for at, celsius in season.readings]
    take_in("temperatures", write(folder / "temperatures.csv", "site,place,at,temperature_c", rows))
    rows = [f"{TAG},{at.isoformat()},{(at + HOUR).isoformat()},{count},counter" for at, count in season.shots]
    take_in("shots", write(folder / "shots.csv", "tag,start,end,shots,how_known", rows))


@pytest.mark.django_db
def test_from_files_to_a_released_bow(tmp_path: Path) -> None:
    record.found_book(username="odd", display_name="Odd Owner", password="a long enough one")
    season = Season()
    take_all_in(tmp_path, season)
    again = take_in("shots", str(tmp_path / "shots.csv"))
    assert Bow.objects.get(tag=TAG).shots.count() == len(season.shots), again

    call_command("rebuild", stdout=StringIO())
    out = StringIO()
    call_command("due", format="json", site="fenhollow", stdout=out)
    string = next(row for row in json.loads(out.getvalue()) if row["position"] == "string")
    shots, time, heat = season.life
    assert string["shots"] == pytest.approx(shots, abs=1e-9)
    # The book was read a few seconds later than this test looked at the clock.
    assert string["time"] == pytest.approx(time, abs=1e-4)
    assert string["heat"] == pytest.approx(heat, abs=1e-4)
    assert string["life_used"] == pytest.approx(shots + time + heat, abs=1e-4)
    assert string["replace_on"] is not None and "of rated life: shots" in string["reason"]
    call_command("rebuild", check=True, stdout=StringIO())

    order = issued_by_the_queue(tmp_path, season)
    read_the_sheet(tmp_path / "queue.pdf", order, season)
    sign_and_release(order)


def issued_by_the_queue(folder: Path, season: Season) -> WorkOrder:
    """The first day of the coming fortnight on which the plan has work for the bow."""
    out = StringIO()
    call_command("plan", site="fenhollow", format="json", stdout=out)
    job = next(job for job in json.loads(out.getvalue())["jobs"] if job["bow"] == TAG)
    call_command("queue", date=job["day"], site="fenhollow", out=folder / "queue.pdf", stdout=StringIO())
    return WorkOrder.objects.get(bow__tag=TAG)


def read_the_sheet(path: Path, order: WorkOrder, season: Season) -> None:
    text = "\n".join(page.extract_text() for page in PdfReader(path).pages)
    flat = " ".join(text.split())
    shots, time, heat = season.life
    assert order.number in flat and TAG in flat
    assert f"{shots + time + heat:.2f}" in flat
    # Printed shares are rounded so that they add up: each is within a hundredth of its own value.
    assert any(f"shots {shots + step:.2f}" in flat for step in (-0.01, 0.0, 0.01))
    for reading in ("32 1/16 in", "6 3/4 in", "28 1/2 in", "50.0 lb"):
        assert reading in flat
    # House tolerances (common practice, no source), and half of each at the bench.
    for tolerance in ("±1/8 in", "±1/16 in", "±1/4 in", "±2 lb", "±1 lb"):
        assert tolerance in flat
    assert "A bow under load stores enough energy to maim" in flat


def sign_and_release(order: WorkOrder) -> None:
    technician, owner = Person.objects.get(username="bram"), Person.objects.get(username="odd")
    replaces = order.needs.filter(kind="replacement").exists()
    work.enter(
        order,
        by=technician,
        now=datetime.now(UTC),
        readings=[work.TypedReading(row["kind"], row["value"], row["value"]) for row in order.frozen["measurements"]],
        cords=[
            work.TypedCord(one.position, True, "planned", "", one.cord.spec, f"N-{one.position}", "L2", 40)
            for one in lookups.fitted(order.bow)
            if replaces
        ],
        steps_done=range(len(order.frozen["steps"])),
        note="",
    )
    close.sign(order, by=technician, now=datetime.now(UTC))
    close.release(order, by=owner, now=datetime.now(UTC))
    assert lookups.state_of(order.bow) == BowState.READY
    assert order.bow.results.get().measurements.count() == len(order.frozen["measurements"])
