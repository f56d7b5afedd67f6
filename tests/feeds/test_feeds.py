"""The bench's calendar, read by a second library: identities, updates, cancellations, the change of the clocks."""

import csv
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from zoneinfo import ZoneInfo

import icalendar
import pytest
import time_machine
import vobject
from django.core.cache import cache, caches
from django.core.cache.backends.redis import RedisCache
from django.test import Client

from fleet import record
from fleet.models import Bow, FeedKey, Person
from service import shared_counts
from service.feeds.calendar import as_csv, as_icalendar, feed_of
from service.feeds.keys import WRONG_TOKENS, key_of
from service.models import OrderStatus, WorkOrder
from tests import personas
from tests.feeds.telling import issue, publish
from tests.pages.conftest import BACKEND
from tests.personas import NOW, Shop

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]
TODAY = date(2026, 7, 1)
THURSDAY, FRIDAY = TODAY + timedelta(days=1), TODAY + timedelta(days=2)
INSPECTION, REPLACEMENT = ("inspection",), ("replacement", "timing_check")


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def bows(shop: Shop) -> list[Bow]:
    sheet = personas.spec_sheet(shop.owner)
    return [personas.bare_bow(shop, sheet, f"L-{n}") for n in (1, 2)]


def key(shop: Shop, technician: Person | None = None) -> FeedKey:
    return record.make_feed(by=shop.manager, site=shop.site, technician=technician, now=NOW)[0]


def events(shop: Shop, technician: Person | None = None, now: datetime = NOW) -> dict[str, vobject.base.Component]:
    """The feed's events by the bow's tag, as vobject reads them."""
    parsed = vobject.readOne(as_icalendar(feed_of(key(shop, technician), now), now).decode())
    return {event.summary.value.split(":")[0]: event for event in parsed.contents.get("vevent", [])}


def hours(count: float) -> datetime:
    return NOW + timedelta(hours=count)


def test_a_published_day_is_laid_out_in_the_order_of_work(shop: Shop, bows: list[Bow]) -> None:
    publish(shop, NOW, TODAY, 7, [(bows[0], THURSDAY, 95, REPLACEMENT), (bows[1], THURSDAY, 25, INSPECTION)])
    first, second = events(shop)["L-1"], events(shop)["L-2"]
    zone = ZoneInfo("America/Denver")
    assert first.dtstart.value == datetime(2026, 7, 2, 8, 0, tzinfo=zone)
    assert (first.dtend.value, second.dtstart.value) == (datetime(2026, 7, 2, 9, 35, tzinfo=zone),) * 2
    assert first.summary.value == "L-1: replacement, timing check"
    assert (first.status.value, first.sequence.value) == ("CONFIRMED", "0")


def test_nobody_is_at_two_bows_at_once(shop: Shop, bows: list[Bow]) -> None:
    """Orders issued from the queue without a published plan follow each other, and a plan published later gives way."""
    third = personas.bare_bow(shop, bows[0].spec_sheet, "L-3")
    issue(shop, bows[0], THURSDAY, NOW, INSPECTION, "LK-1")
    issue(shop, bows[1], THURSDAY, NOW, INSPECTION, "LK-2")
    publish(shop, hours(1), TODAY, 7, [(third, THURSDAY, 95, REPLACEMENT), (bows[1], THURSDAY, 40, INSPECTION)])
    found = events(shop)
    spans = sorted((found[tag].dtstart.value, found[tag].dtend.value, tag) for tag in ("L-1", "L-2", "L-3"))
    assert [tag for _, _, tag in spans] == ["L-1", "L-2", "L-3"]
    assert [after[0] for after in spans[1:]] == [before[1] for before in spans[:-1]]
    assert [found[tag].sequence.value for tag in ("L-1", "L-2", "L-3")] == ["0", "0", "0"]


def test_a_job_keeps_its_identity_through_every_telling(shop: Shop, bows: list[Bow]) -> None:
    publish(shop, NOW, TODAY, 7, [(bows[0], THURSDAY, 95, REPLACEMENT)])
    uid = events(shop)["L-1"].uid.value
    publish(shop, hours(1), TODAY, 7, [(bows[0], THURSDAY, 95, REPLACEMENT)])
    same = events(shop)["L-1"]
    assert (same.uid.value, same.sequence.value, same.last_modified.value) == (uid, "0", NOW)
    publish(shop, hours(2), TODAY, 7, [(bows[0], FRIDAY, 95, REPLACEMENT)])
    moved = events(shop)["L-1"]
    assert (moved.uid.value, moved.sequence.value, moved.last_modified.value) == (uid, "1", hours(2))
    assert moved.dtstart.value.date() == FRIDAY
    order = issue(shop, bows[0], FRIDAY, hours(3), REPLACEMENT)
    issued = events(shop)["L-1"]
    assert (issued.uid.value, issued.sequence.value) == (uid, "2")
    assert f"Order {order.number}" in issued.description.value
    WorkOrder.objects.update(status=OrderStatus.RELEASED, closed_at=hours(4))
    publish(shop, hours(5), TODAY, 7, [(bows[1], FRIDAY, 20, INSPECTION)])
    done = events(shop)["L-1"]
    assert (done.uid.value, done.sequence.value, done.status.value) == (uid, "2", "CONFIRMED")


def test_a_job_that_is_dropped_is_cancelled_and_its_next_one_is_another(shop: Shop, bows: list[Bow]) -> None:
    publish(shop, NOW, TODAY, 7, [(bows[0], THURSDAY, 25, INSPECTION)])
    uid = events(shop)["L-1"].uid.value
    publish(shop, hours(1), TODAY, 7, [(bows[1], THURSDAY, 25, INSPECTION)])
    struck = events(shop)["L-1"]
    assert (struck.uid.value, struck.status.value, struck.sequence.value) == (uid, "CANCELLED", "1")
    publish(shop, hours(2), TODAY, 7, [(bows[0], FRIDAY, 25, INSPECTION)])
    both = icalendar.Calendar.from_ical(as_icalendar(feed_of(key(shop), NOW), NOW)).events
    mine = {str(one["uid"]): str(one["status"]) for one in both if str(one["summary"]).startswith("L-1")}
    assert mine[uid] == "CANCELLED" and sorted(mine.values()) == ["CANCELLED", "CONFIRMED"]


def test_a_day_beyond_a_later_and_shorter_plan_stands(shop: Shop, bows: list[Bow]) -> None:
    publish(shop, NOW, TODAY, 28, [(bows[0], TODAY + timedelta(days=20), 25, INSPECTION)])
    publish(shop, hours(1), TODAY, 7, [(bows[1], THURSDAY, 25, INSPECTION)])
    assert events(shop)["L-1"].status.value == "CONFIRMED"


def test_a_cancelled_order_is_cancelled(shop: Shop, bows: list[Bow]) -> None:
    issue(shop, bows[0], THURSDAY, NOW, INSPECTION)
    WorkOrder.objects.update(status=OrderStatus.CANCELLED, closed_at=hours(1))
    found = events(shop)["L-1"]
    assert (found.status.value, found.sequence.value, found.last_modified.value) == ("CANCELLED", "1", hours(1))


def test_a_job_that_went_to_somebody_else_leaves_the_technicians_calendar(shop: Shop, bows: list[Bow]) -> None:
    other = personas.person(shop.owner, shop.site, "technician", "imre")
    publish(shop, NOW, TODAY, 7, [(bows[0], THURSDAY, 25, INSPECTION)])
    publish(shop, hours(1), TODAY, 7, [(bows[0], THURSDAY, 25, INSPECTION)], other)
    assert events(shop, shop.technician)["L-1"].status.value == "CANCELLED"
    assert events(shop, other)["L-1"].status.value == "CONFIRMED"
    assert events(shop, shop.technician)["L-1"].uid.value == events(shop, other)["L-1"].uid.value
    assert events(shop, personas.person(shop.owner, shop.site, "technician", "third")) == {}


@pytest.mark.parametrize(
    ("zone", "saturday", "utc_before", "utc_after"),
    [
        # Summer time ends on the last Sunday of October in the EU (Directive 2000/84/EC), 25 October 2026, and on the
        # first Sunday of November in the USA (Energy Policy Act of 2005), 1 November 2026.
        ("Europe/Zurich", date(2026, 10, 24), 6, 7),
        ("America/Denver", date(2026, 10, 31), 14, 15),
    ],
)
def test_eight_o_clock_stays_eight_o_clock_when_the_clocks_change(
    zone: str, saturday: date, utc_before: int, utc_after: int, bows: list[Bow], shop: Shop
) -> None:
    record.put_site(by=shop.owner, code=shop.site.code, time_zone=zone)
    shop.site.refresh_from_db()
    monday = saturday + timedelta(days=2)
    now = datetime(2026, 10, 20, 12, tzinfo=UTC)
    publish(shop, now, saturday, 7, [(bows[0], saturday, 25, INSPECTION), (bows[1], monday, 25, INSPECTION)])
    found = events(shop, now=now)
    starts = [found[tag].dtstart.value for tag in ("L-1", "L-2")]
    # vobject knows nothing of the zone but what the feed's own VTIMEZONE says.
    assert [start.strftime("%Y-%m-%d %H:%M") for start in starts] == [f"{saturday} 08:00", f"{monday} 08:00"]
    assert [start.astimezone(UTC).hour for start in starts] == [utc_before, utc_after]
    with time_machine.travel(now):
        assert [row["start"][11:16] for row in csv.DictReader(StringIO(as_csv(feed_of(key(shop), now))))] == [
            "08:00"
        ] * 2


def test_no_guest_and_no_free_text_is_in_a_feed(shop: Shop, bows: list[Bow]) -> None:
    record.put_booking(
        by=shop.counter, site=shop.site, reference="B-1", start=hours(20), end=hours(22), bow=bows[0],
        guest_name="Wilhelmina Quade",
    )  # fmt: skip
    publish(shop, NOW, TODAY, 7, [(bows[0], THURSDAY, 25, INSPECTION)])
    issue(shop, bows[1], THURSDAY, NOW, INSPECTION)
    feed = feed_of(key(shop), NOW)
    for text in (as_icalendar(feed, NOW).decode(), as_csv(feed)):
        assert "L-1" in text and "L-2" in text
        assert "Quade" not in text.replace("\r\n ", "")


def test_the_feed_is_iCalendar_as_RFC_5545_has_it(shop: Shop, bows: list[Bow]) -> None:
    publish(shop, NOW, TODAY, 7, [(bows[0], THURSDAY, 25, INSPECTION)])
    text = as_icalendar(feed_of(key(shop), NOW), NOW)
    lines = text.split(b"\r\n")
    assert (lines[0], lines[-2], lines[-1]) == (b"BEGIN:VCALENDAR", b"END:VCALENDAR", b"")  # 3.4
    assert all(len(line) <= 75 for line in lines)  # 3.1: octets, without the line break
    assert b"\nVERSION:2.0\r" in text and b"\nPRODID:" in text  # 3.7.3, 3.7.4
    assert b"BEGIN:VTIMEZONE" in text and b"DTSTART;TZID=America/Denver:20260702T080000" in text  # 3.6.5, 3.2.19
    assert text == as_icalendar(feed_of(key(shop), NOW), NOW)
    vobject.readOne(text.decode()).validate()


@pytest.mark.parametrize(
    "spoil", [lambda token: token[:-1], lambda token: token + "x", lambda token: token.upper(), lambda token: ""]
)
def test_a_wrong_token_opens_nothing(shop: Shop, spoil: Callable[[str], str]) -> None:
    made, token = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)
    assert key_of(token) == made
    assert key_of(spoil(token)) is None


def test_a_technician_who_left_takes_the_feed_along(shop: Shop) -> None:
    token = record.make_feed(by=shop.manager, site=shop.site, technician=shop.technician, now=NOW)[1]
    shop.technician.posts.all().delete()
    assert key_of(token) is None


@pytest.fixture
def stranger() -> Client:
    """Nobody, from an address that has sent nothing yet."""
    cache.clear()
    return Client()


def test_the_address_opens_without_signing_in_until_it_is_revoked(
    shop: Shop, bows: list[Bow], stranger: Client
) -> None:
    made, token = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)
    answer = stranger.get(f"/calendars/{token}.ics")
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert stranger.get(f"/calendars/{token}.csv").status_code == 200
    assert stranger.post(f"/calendars/{token}.ics").status_code == 405
    record.revoke_feed(by=shop.manager, key=made, now=NOW)
    for ending in ("ics", "csv"):
        assert stranger.get(f"/calendars/{token}.{ending}").status_code == 404


def test_who_guesses_waits(shop: Shop, stranger: Client) -> None:
    token = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)[1]
    assert [stranger.get(f"/calendars/x{n}.ics").status_code for n in range(WRONG_TOKENS)] == [404] * WRONG_TOKENS
    answer = stranger.get(f"/calendars/{token}.ics")
    assert (answer.status_code, answer["Retry-After"]) == (429, "600")
    assert stranger.get(f"/calendars/{token}.ics", REMOTE_ADDR="192.0.2.7").status_code == 200


def test_the_wait_ends_after_its_ten_minutes(shop: Shop, stranger: Client) -> None:
    token = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)[1]
    with time_machine.travel(NOW, tick=False) as clock:
        for number in range(WRONG_TOKENS):
            stranger.get(f"/calendars/x{number}.ics")
        clock.shift(599)
        assert stranger.get(f"/calendars/{token}.ics").status_code == 429
        clock.shift(2)
        assert stranger.get(f"/calendars/{token}.ics").status_code == 200


def test_no_clock_put_back_opens_a_revoked_feed(shop: Shop) -> None:
    made, token = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)
    record.revoke_feed(by=shop.manager, key=made, now=NOW)
    for days in (-400, 0, 400):
        with time_machine.travel(NOW + timedelta(days=days), tick=False):
            assert key_of(token) is None, days


def test_wrong_addresses_are_counted_for_all_web_processes_together(
    shop: Shop, stranger: Client, valkey: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two processes: what is counted in one's own memory is thrown away between the requests."""
    shared = RedisCache(valkey.replace("redis+socket://", "unix://"), {})
    monkeypatch.setattr(shared_counts, "caches", {"shared": shared, "default": caches["default"]})
    for number in range(WRONG_TOKENS):
        assert stranger.get(f"/calendars/x{number}.ics").status_code == 404
        caches["default"].clear()
    assert stranger.get("/calendars/x.ics").status_code == 429


def test_the_page_shows_an_address_once_and_revokes_it(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.technician, backend=BACKEND)
    shown = client.post("/calendars/make/", {"whose": shop.technician.username})
    made = FeedKey.objects.get()
    assert (made.technician, made.made_by, shown["Cache-Control"]) == (shop.technician, shop.technician, "no-store")
    assert ".ics" in shown.content.decode() and ".ics" not in client.get("/calendars/").content.decode()
    assert client.post("/calendars/make/", {"whose": shop.manager.username}).status_code == 404
    client.post("/calendars/make/", {"whose": ""})
    assert set(FeedKey.objects.values_list("technician", flat=True)) == {shop.technician.pk}, (
        "the whole bench is the manager's"
    )
    client.post(f"/calendars/{made.pk}/revoke/")
    made.refresh_from_db()
    assert made.revoked_by == shop.technician


def test_another_persons_feed_is_the_managers_to_revoke(shop: Shop) -> None:
    made = key(shop)
    client = Client()
    client.force_login(shop.technician, backend=BACKEND)
    assert client.post(f"/calendars/{made.pk}/revoke/").status_code == 404
    client.force_login(shop.manager, backend=BACKEND)
    client.post("/calendars/opening/", {"bench_opens": "07:30"})
    assert client.post(f"/calendars/{made.pk}/revoke/").status_code == 302
    shop.site.refresh_from_db()
    assert str(shop.site.bench_opens) == "07:30:00"
