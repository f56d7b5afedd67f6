"""Invented sites with bows, fitted cords, their wear and open needs, written straight into the tables: seeded.

Wear and needs are drawn, not computed: what is measured is the plan. Each bow has two or three needs.
"""

from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from fleet import record
from fleet.models import Bow, Cord, CordSpec, Fitting, Person, SetUp, Site, SpecSheet, StockMovement
from service.house import BENCH_WORK
from service.models import CordWear, Need, NeedKind
from service.use_ahead import learn_site_use
from tests import personas

TECHNICIANS = 4
MINUTES_A_DAY = 420
BOWS_FOR = 2.5
"""Needs for each bow."""


def many_sites(sites: int, needs: int, now: datetime, seed: int = 1) -> list[Site]:
    """So many sites with so many open needs each."""
    first = personas.shop("site-00", time_zone="UTC", opening_weekdays=[0, 1, 2, 3, 4, 5], rental_value_per_day=30)
    sheet = personas.spec_sheet(first.owner)
    found = []
    for number in range(sites):
        shop = first if number == 0 else personas.shop(f"site-{number:02d}", time_zone="UTC", rental_value_per_day=30)
        bench_people(shop.owner, shop.site)
        _fill(shop.site, sheet, shop.owner, needs, now, np.random.default_rng([seed, number]))
        learn_site_use(shop.site, now)
        found.append(shop.site)
    return found


def bench_people(owner: Person, site: Site) -> list[Person]:
    """Four technicians who can do everything, each with a press and full days."""
    found = []
    for n in range(TECHNICIANS):
        person = record.put_person(
            by=owner, username=f"{site.code}-t{n}", display_name=f"Technician {n}", site=site, role="technician"
        )
        record.set_skills(by=owner, person=person, skills=["inspection", "press", "timing", "limbs"])
        record.set_bench_hours(by=owner, person=person, minutes_by_weekday=dict.fromkeys(range(6), MINUTES_A_DAY))
        record.put_press(by=owner, site=site, name=f"Press {n}")
        found.append(person)
    return found


def _fill(site: Site, sheet: SpecSheet, by: Person, needs: int, now: datetime, rng: Any) -> None:
    today, count = now.date(), round(needs / BOWS_FOR)
    specs = [row.cord_spec for row in sheet.cords.select_related("cord_spec").order_by("position")]
    bows = Bow.objects.bulk_create(
        Bow(tag=f"{site.code}-{n:03d}", spec_sheet=sheet, hand="right", site=site, in_service_on=today - timedelta(400))
        for n in range(count)
    )
    long_ago = now - timedelta(days=200)
    SetUp.objects.bulk_create(SetUp(bow=bow, since=long_ago, draw_length_m=0.71, peak_weight_n=180.0) for bow in bows)
    fittings = _fittings(bows, specs, by, long_ago)
    used = rng.uniform(0.2, 0.99, len(fittings))
    CordWear.objects.bulk_create(_wear(one, float(life), now) for one, life in zip(fittings, used, strict=True))
    StockMovement.objects.bulk_create(
        StockMovement(cord_spec=spec, site=site, kind="received", quantity=count // 3, at=long_ago, by=by,
                      key=f"{site.code}-{spec.code}") for spec in specs
    )  # fmt: skip
    Need.objects.bulk_create(_needs(bows, fittings, specs, needs, today, rng))


def _fittings(bows: list[Bow], specs: list[CordSpec], by: Person, at: datetime) -> list[Fitting]:
    cords = Cord.objects.bulk_create(Cord(spec=spec, serial=f"{bow.tag}-{spec.code}") for bow in bows for spec in specs)
    pairs = zip(cords, (bow for bow in bows for _ in specs), strict=True)
    return Fitting.objects.bulk_create(
        Fitting(cord=cord, bow=bow, position=cord.spec.position, fitted_at=at, fitted_by=by) for cord, bow in pairs
    )


def _wear(fitting: Fitting, used: float, now: datetime) -> CordWear:
    """A row as the wear model writes it, with the fields that the plan's costs read; the rest is nothing."""
    plain = {
        field.name: 0.0
        for field in CordWear._meta.concrete_fields
        if field.get_internal_type() == "FloatField" and not field.null
    }
    known = {
        "life_shots": used,
        "life_used": used,
        "shots_per_day": 12.0,
        "life_per_day": 0.004,
        "inspect_days": 30.0,
        "replacement_point": 1.0,
    }
    return CordWear(fitting=fitting, as_of=now, reset_at=now, creep_pairs=0, assumed=[], **{**plain, **known})


def _needs(
    bows: list[Bow], fittings: list[Fitting], specs: list[CordSpec], count: int, today: date, rng: Any
) -> list[Need]:
    first_of = {fitting.bow_id: fitting for fitting in reversed(fittings)}
    kinds = (NeedKind.INSPECTION, NeedKind.TIMING_CHECK, NeedKind.REPLACEMENT)
    wanted = [(bow, kind) for kind in kinds for bow in bows][:count]
    found = []
    for bow, kind in wanted:
        work, due = BENCH_WORK[kind], today + timedelta(days=int(rng.integers(-2, 28)))
        replaced = kind == NeedKind.REPLACEMENT
        found.append(
            Need(
                bow=bow, fitting=first_of[bow.pk] if replaced else None, kind=kind, reason="drawn for the benchmark",
                earliest_on=due - timedelta(days=work.days_early), due_on=due,
                latest_on=None if kind == NeedKind.TIMING_CHECK else due, minutes=work.minutes_compound,
                skill=work.skill, needs_press=work.needs_press,
                parts={spec.code: 1 for spec in specs} if replaced else {},
            )
        )  # fmt: skip
    return found
