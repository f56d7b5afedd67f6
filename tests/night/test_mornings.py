"""The morning's mail through a real SMTP server: in whose morning, what it says, once, and again after a failure."""

import smtplib
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from fleet import record
from fleet.models import DigestWish
from service.models import DigestSent, NightlyRun
from service.night import digests
from tests import personas
from tests.night.conftest import Letterbox
from tests.pages import orders
from tests.pages.conftest import BACKEND
from tests.pages.reading import Page
from tests.personas import NOW, Shop

pytestmark = pytest.mark.both_engines
DAY = date(2026, 7, 1)


def wish(shop: Shop, **changes: Any) -> DigestWish:
    given = {"email": "marta@example.org", "time_zone": "America/Denver", "language": "en", "hour": 6}
    return record.ask_for_digest(by=shop.manager, site=shop.site, now=NOW, **{**given, **changes})


def test_each_person_has_their_own_morning(shop: Shop, letterbox: Letterbox) -> None:
    one = wish(shop)
    two = record.ask_for_digest(
        by=shop.technician,
        site=shop.site,
        email="t@example.org",
        time_zone="Asia/Tokyo",
        language="en",
        hour=7,
        now=NOW,
    )
    due = lambda hour, minute=0: digests.due(datetime(2026, 7, 1, hour, minute, tzinfo=UTC))  # noqa: E731
    assert due(11, 59) == []
    assert due(12) == [(one.pk, "2026-07-01")]  # 06:00 in Denver
    assert due(17, 59) == [(one.pk, "2026-07-01")]
    assert due(18) == []  # noon: no morning any more
    assert due(22) == [(two.pk, "2026-07-02")]  # 07:00 of the next day in Tokyo


def test_a_mail_says_the_day_in_the_sites_units_and_goes_once(shop: Shop, letterbox: Letterbox) -> None:
    bow = orders.worn_bow(shop)
    record.put_booking(
        by=shop.counter, site=shop.site, reference="B-7", start=NOW + timedelta(hours=3), end=NOW + timedelta(hours=4),
        hand="left", guest_name="Wilhelmina Quade",
    )  # fmt: skip
    one = wish(shop)
    assert digests.send(one.pk, DAY, NOW)
    assert not digests.send(one.pk, DAY, NOW + timedelta(minutes=5))
    ((to, letter),) = letterbox.letters
    text = letter.get_content()
    assert to == ["marta@example.org"]
    assert letter["Subject"].startswith("Larkspur Range, Wednesday 1 July: ")
    assert letter.get_content_type() == "text/plain"
    assert bow.tag in text and "B-7" in text and "Quade" not in text
    assert "59 1/16 in" in text  # a string of 1.5 m
    assert "To stop this mail" in text
    assert letter["Message-ID"] == f"<morning-{one.pk}-2026-07-01@127.0.0.1>"
    assert DigestSent.objects.get().sent_at == NOW
    assert digests.due(datetime(2026, 7, 1, 13, tzinfo=UTC)) == []


def test_a_metric_site_reads_millimetres(letterbox: Letterbox, db: None) -> None:
    camp = personas.shop("ridgecamp", units="metric", time_zone="Europe/Zurich")
    orders.worn_bow(camp)
    digests.send(wish(camp).pk, DAY, NOW)
    assert "1500 mm" in letterbox.letters[0][1].get_content()


def test_a_refused_mail_is_tried_again_and_arrives_once(shop: Shop, letterbox: Letterbox) -> None:
    one, letterbox.refuse = wish(shop), True
    with pytest.raises(smtplib.SMTPException):
        digests.send(one.pk, DAY, NOW)
    assert "451" in DigestSent.objects.get().error or "try again later" in DigestSent.objects.get().error
    letterbox.refuse = False
    assert digests.send(one.pk, DAY, NOW)
    assert not digests.send(one.pk, DAY, NOW)
    assert len(letterbox.letters) == 1
    kept = DigestSent.objects.get()
    assert (kept.tries, kept.error, kept.sent_at) == (2, "", NOW)


def test_a_mail_whose_program_was_killed_is_not_sent_twice(shop: Shop, letterbox: Letterbox) -> None:
    one = wish(shop)
    DigestSent.objects.create(wish=one, day=DAY, tried_at=NOW)
    assert not digests.send(one.pk, DAY, NOW)
    assert letterbox.letters == []


def test_who_works_there_no_more_gets_none(shop: Shop, letterbox: Letterbox) -> None:
    one = wish(shop)
    shop.manager.posts.all().delete()
    assert not digests.send(one.pk, DAY, NOW)
    assert letterbox.letters == []


def test_without_mail_nothing_is_due_and_the_pages_say_so(shop: Shop, settings: Any) -> None:
    settings.MAIL_IS_CONFIGURED = False
    one = wish(shop)
    assert digests.due(NOW) == []
    assert not digests.send(one.pk, DAY, NOW)
    client = Client()
    client.force_login(shop.manager, backend=BACKEND)
    for address in ("/account/morning/", "/nights/"):
        assert "No mail is configured" in Page(client.get(address)).text, address


@pytest.mark.parametrize(("error", "said"), [("abacus", "did not go well (abacus)"), ("", "has not been done")])
def test_a_failed_or_missing_night_is_said_first(shop: Shop, letterbox: Letterbox, error: str, said: str) -> None:
    if error:
        NightlyRun.objects.create(site=shop.site, night=DAY, started_at=NOW, ended_at=NOW, tries=1, error=error)
    digests.send(wish(shop).pk, DAY, NOW)
    assert said in letterbox.letters[0][1].get_content()


def test_the_page_asks_changes_and_stops(shop: Shop) -> None:
    client = Client()
    client.force_login(shop.technician, backend=BACKEND)
    with time_machine.travel(NOW):
        typed = {"email": "t@example.org", "hour": "7", "time_zone": "Europe/Oslo", "language": "fr"}
        client.post("/account/morning/", typed)
        assert DigestWish.objects.get().hour == 7
        wrong = client.post("/account/morning/", {**typed, "time_zone": "Oslo"})
        assert wrong.status_code == 422 and "time zone 'Oslo' is not known" in Page(wrong).text
        assert client.post("/account/morning/", {**typed, "email": "t"}).status_code == 422
        client.post("/account/morning/stop/")
    assert not DigestWish.objects.exists()
