"""Somebody sets the machine's clock, or daylight saving does: each site-day has one night, and no fact goes wrong."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from unittest.mock import patch
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client

from fleet import record
from fleet.models import Shots, Site, TurnaroundCheck
from fleet.record.kernel import FUTURE_ALLOWANCE_S
from fleet.refusal import Refused
from service import decide
from service.models import CordWear, NightlyRun
from service.night import run
from tests import personas
from tests.pages.conftest import BACKEND
from tests.personas import NOW, Shop
from tests.turnaround.typed import fine

pytestmark = pytest.mark.django_db
STEP = timedelta(minutes=30)
JUMPS = [timedelta(hours=1), timedelta(days=1), timedelta(hours=-1), timedelta(days=-1)]


@pytest.fixture
def shop() -> Shop:
    return personas.shop()


@pytest.fixture
def nights(shop: Shop) -> Iterator[Counter[tuple[int, date]]]:
    """How often each site's night was sent; each goes well at once. Two sites, either side of the sea."""
    personas.shop("ridgecamp", time_zone="Europe/Zurich")
    with patch.object(run, "_learn", return_value=""):
        yield Counter()


def pass_days(nights: Counter[tuple[int, date]], start: datetime, days: float) -> datetime:
    """Ask as the clock does; returns the instant at the end."""
    now = start
    while now < start + timedelta(days=days):

        def send(site: int, night: str, now: datetime = now) -> None:
            nights[site, date.fromisoformat(night)] += 1
            NightlyRun.objects.filter(site=site, night=night).update(ended_at=now, tries=1)

        run.begin(now, send)
        now += STEP
    return now


def site_days(start: datetime, end: datetime) -> set[tuple[int, date]]:
    """Every day of every site on which its clock has passed the hour."""
    found = set()
    for site in Site.objects.all():
        local, last = start.astimezone(ZoneInfo(site.time_zone)), end.astimezone(ZoneInfo(site.time_zone))
        days = (last.date() - local.date()).days
        found |= {(site.pk, local.date() + timedelta(days=n)) for n in range(days + 1)}
        if last.hour < run.BEGINS_AT_HOUR:
            found.discard((site.pk, last.date()))
    return found


@pytest.mark.parametrize(
    "start",
    [
        # The nights in which Denver, then Zurich, go forward, and in which Zurich, then Denver, go back (tzdata).
        datetime(2026, 3, 7, 12, tzinfo=UTC),
        datetime(2026, 3, 28, 12, tzinfo=UTC),
        datetime(2026, 10, 24, 12, tzinfo=UTC),
        datetime(2026, 10, 31, 12, tzinfo=UTC),
    ],
)
def test_each_site_day_has_one_night_across_daylight_saving(nights: Counter[tuple[int, date]], start: datetime) -> None:
    end = pass_days(nights, start, 3)
    assert set(nights) == site_days(start, end - STEP)
    assert set(nights.values()) == {1}


@pytest.mark.parametrize("jump", JUMPS)
def test_and_over_a_clock_that_is_set(nights: Counter[tuple[int, date]], jump: timedelta) -> None:
    now = pass_days(nights, NOW, 2)
    now = pass_days(nights, now + jump, 2)
    assert set(nights.values()) == {1}
    assert set(nights) >= site_days(NOW, NOW + timedelta(days=2)) | site_days(now - timedelta(days=2), now - STEP)


@pytest.mark.parametrize("back", [timedelta(hours=1), timedelta(days=1), timedelta(days=400)])
def test_wear_is_never_negative_and_right_again_when_the_clock_is(shop: Shop, back: timedelta) -> None:
    bow = personas.fitted_bow(shop, "single")
    personas.shoot(shop, bow, 300, days_ago=0.2)
    decide.rebuild(NOW)
    before = dict(CordWear.objects.values_list("fitting", "life_used"))
    decide.rebuild(NOW - back)
    there = list(CordWear.objects.values_list("life_used", flat=True))
    assert there and min(there) >= 0
    decide.rebuild(NOW)
    assert dict(CordWear.objects.values_list("fitting", "life_used")) == pytest.approx(before, abs=1e-12)


def test_no_fact_is_taken_from_the_future(shop: Shop) -> None:
    """The limit is the one stated: FUTURE_ALLOWANCE_S, for a device whose clock runs a little fast."""
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"))
    later = NOW + timedelta(seconds=FUTURE_ALLOWANCE_S + 1)
    given = {"by": shop.technician, "bow": bow, "now": NOW}
    for fact in (
        lambda: personas.shoot(shop, bow, 9, days_ago=-1),
        lambda: record.report_incident(kind="drop", happened_at=later, key="k", **given),
        lambda: record.add_stay(place=shop.rack, start=later, **given),
        lambda: personas.fit(shop, bow, personas.cord(shop, personas.cord_spec(shop.owner)), days_ago=-1),
    ):
        with pytest.raises(Refused, match="in the future"):
            fact()


@pytest.mark.parametrize("jump", JUMPS)
def test_what_is_sent_again_by_another_clock_is_there_once(shop: Shop, jump: timedelta) -> None:
    bow = personas.fitted_bow(shop, kind="recurve", days_ago=20)
    fields, client = fine("recurve"), Client()
    address, headers = f"/turnaround/{bow.tag}/", {"Accept": "application/json"}
    with time_machine.travel(NOW, tick=False) as clock:
        client.force_login(shop.counter, backend=BACKEND)
        first = client.post(address, fields, headers=headers)
        clock.shift(jump)
        again = client.post(address, fields, headers=headers)
    assert (first.status_code, again.status_code) == (200, 200), "and whoever was signed in still is"
    assert again.json() == first.json()
    assert TurnaroundCheck.objects.count() == 1 == Shots.objects.filter(bow=bow).count()
