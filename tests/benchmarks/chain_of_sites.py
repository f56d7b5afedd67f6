"""A chain of sites in its second year, written straight into PostgreSQL: 500 bows a site, 200 entries of shots a bow.

Seeded by the number of the site, so that a longer chain begins with the same sites. It is a book in its steady state:
sets were changed and bows looked over all along, so that on any day only some of the needs are inside a plan's
horizon. Everything is as of NOW. What the service computes is not drawn here: its nights do that.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from fleet import record
from fleet.models import CordSpec, Person, Site, SpecSheet
from tests import personas
from tests.benchmarks.chain_bench import bench_history
from tests.benchmarks.chain_bows import (
    BOWS,
    DAY_S,
    FIRST_S,
    FRESH,
    IN_SERVICE_DAYS,
    MAKES,
    MOST_CORDS,
    NOW,
    NOW_S,
    RATED_MONTHS,
    RATED_SHOTS,
    Drawn,
)
from tests.benchmarks.chain_use import bookings_ahead, shots, stock, where_kept
from tests.benchmarks.copied import copy, copying, days, instants
from tests.benchmarks.many_sites import bench_people


@dataclass(frozen=True)
class Chain:
    """Whose chain it is, and the makes of bow that all its sites have."""

    owner: Person
    sheets: list[SpecSheet]


def found_chain() -> Chain:
    """An empty book with the makes of bow and of cord."""
    owner = record.found_book(username="owner", display_name="Odile Owner", password=personas.PASSWORD)
    sheets = [personas.spec_sheet(owner, one, kind="compound" if one else "recurve") for one in MAKES]
    for code in CordSpec.objects.values_list("code", flat=True):
        record.put_cord_spec(
            by=owner, code=code, rated_shots=RATED_SHOTS, rated_months=RATED_MONTHS, rated_peak_weight_n=180.0
        )
    return Chain(owner, sheets)


def add_sites(chain: Chain, first: int, end: int) -> None:
    """The sites with these numbers, whole."""
    with copying():
        for number in range(first, end):
            _add_site(chain, number)


def _add_site(chain: Chain, number: int) -> None:
    site = record.put_site(
        by=chain.owner,
        code=f"site-{number:05d}",
        name=f"Range {number:05d}",
        time_zone="UTC",
        opening_weekdays=[0, 1, 2, 3, 4, 5, 6],
        rental_value_per_day=30,
    )
    random = np.random.default_rng([7, number])
    mine = _bows(chain, site, number, random)
    technician = bench_people(chain.owner, site)[0]
    _cords(chain, mine, technician, random)
    bench_history(mine, technician, random)
    where_kept(mine, chain.owner, random)
    shots(mine, technician, random)
    bookings_ahead(mine, random)
    stock(mine, technician)


def _bows(chain: Chain, site: Site, number: int, random: np.random.Generator) -> Drawn:
    bow = 1 + number * BOWS + np.arange(BOWS, dtype=np.int64)
    sheet = random.choice(len(MAKES), BOWS, p=list(MAKES.values()))
    came = np.full(BOWS, FIRST_S, dtype=np.float64)
    copy(
        "fleet_bow",
        id=bow,
        tag=[f"S{number:05d}-{n:03d}" for n in range(BOWS)],
        serial=[f"N{n:08d}" for n in bow.tolist()],
        spec_sheet_id=[chain.sheets[n].pk for n in sheet.tolist()],
        hand=["right" if one < 0.9 else "left" for one in random.random(BOWS).tolist()],
        site_id=site.pk,
        in_service_on=days(came),
    )
    copy(
        "fleet_setup",
        bow_id=bow,
        since=instants(came),
        draw_length_m=random.uniform(0.63, 0.76, BOWS),
        peak_weight_n=random.uniform(165.0, 190.0, BOWS),
    )
    per_day = random.gamma(8.0, 15.0 / 8.0, BOWS)
    # A set lasts until its shots and its months add up to its rated life; how far each has come is drawn evenly.
    lasts = 1.1 / (per_day / RATED_SHOTS + 1.0 / (RATED_MONTHS * 30.4))
    age = np.minimum(lasts * random.uniform(FRESH, 1.02, BOWS), IN_SERVICE_DAYS - 30.0)
    return Drawn(number, site, bow, sheet, per_day, age)


def _cords(chain: Chain, mine: Drawn, by: Person, random: np.random.Generator) -> None:
    """The set that is on each bow, and the one before it."""
    specs = [{row.position: row.cord_spec_id for row in sheet.cords.all()} for sheet in chain.sheets]
    rows = [
        (bow, position, spec, age, later)
        for bow, sheet, age in zip(mine.bow.tolist(), mine.sheet.tolist(), mine.set_age_days.tolist(), strict=True)
        for position, spec in specs[sheet].items()
        for later in (False, True)
    ]
    count = len(rows)
    ids = 1 + mine.number * BOWS * MOST_CORDS + np.arange(count)
    bow, position, spec, age, is_later = (list(column) for column in zip(*rows, strict=True))
    changed = NOW_S - np.array(age) * DAY_S
    came = FIRST_S + DAY_S
    fitted = np.where(is_later, changed, came)
    copy(
        "fleet_cord",
        id=ids,
        spec_id=spec,
        serial=[f"C{pk:09d}" for pk in ids.tolist()],
        lot=[f"LOT-{int(at) // (30 * DAY_S)}" for at in fitted.tolist()],
        made_on=days(fitted - random.integers(20, 200, count) * DAY_S),
        prior_use="none",
        prior_shots=0,
        prior_shots_sd=0,
        prior_tension_h=0,
        prior_heat_h=0,
        prior_heat_h_sd=0,
    )
    why = np.where(random.random(count) < 0.1, "condemned", "planned")
    copy(
        "fleet_fitting",
        cord_id=ids,
        bow_id=bow,
        position=position,
        fitted_at=instants(fitted),
        fitted_by_id=by.pk,
        half_twists=40,
        removed_at=instants(np.where(is_later, np.nan, changed)),
        removed_why=np.where(is_later, "", why),
        finding=np.where(~np.array(is_later) & (why == "condemned"), "deep_fuzz", ""),
    )


def next_day(number: int, site: Site, by: Person, day: int) -> tuple[int, datetime]:
    """A day's use of each bow of a site, through the same verb as a counter's batch; entries added, and when."""
    now = NOW + timedelta(days=day + 1)
    random = np.random.default_rng([11, number, day])
    begun = now - timedelta(hours=14)
    rows = [
        record.ShotsRow(bow, begun, begun + timedelta(hours=1), int(shot), "counter", f"api:{site.pk}:d{day}-{bow.tag}")
        for bow, shot in zip(site.bows.order_by("pk"), random.integers(5, 60, BOWS), strict=True)
    ]
    record.add_many_shots(by=by, rows=rows, source="counter", now=now)
    return len(rows), now
