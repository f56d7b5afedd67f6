"""The guests' pages of a site with more bows and bookings than a page shows: as many queries, and page by page."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from fleet import record
from fleet.models import Booking
from service import decide
from service.guests import fitting, proposals, search
from service.models import Need
from service.pages import guests, guests_form
from tests import personas
from tests.pages.reading import Page
from tests.pages.test_page_queries import counted
from tests.personas import Shop

MOST_QUERIES = 60
NEED = (
    "hand=right&draw_length=28&peak_weight_min=&peak_weight_max=&expected_shots=45"
    "&start=2026-07-02T10:00&end=2026-07-02T11:00"
)


@pytest.fixture(autouse=True)
def _short_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages of a few rows, and a site that has many bows and bookings at four."""
    monkeypatch.setattr(search, "FITS_A_PAGE", 3)
    monkeypatch.setattr(search, "BEST_FEW", 2)
    monkeypatch.setattr(search, "OTHERS_A_PAGE", 2)
    monkeypatch.setattr(guests, "LINES_A_PAGE", 3)
    monkeypatch.setattr(guests_form, "LISTED_BOWS", 3)
    for module in (proposals, fitting):
        monkeypatch.setattr(module, "ON_THE_SPOT", 0)


def more(shop: Shop, first: int, last: int) -> None:
    """Right-hand and left-hand bows that are ready, and a booking for each."""
    for number in range(first, last):
        hand = "left" if number % 2 else "right"
        bow = personas.fitted_bow(shop, tag=f"L-{number:02}", hand=hand)
        personas.shoot(shop, bow, 120, days_ago=90)
        start = personas.NOW + timedelta(hours=24 + number)
        record.put_booking(
            by=shop.counter, site=shop.site, reference=f"B-{number:02}", start=start, end=start + timedelta(hours=1),
            hand=hand, expected_shots=45,
        )  # fmt: skip
    decide.rebuild(personas.NOW)
    Need.objects.all().delete()
    proposals.work_out(shop.site, personas.NOW)


def test_a_larger_fleet_and_more_bookings_take_no_more_queries(shop: Shop, signed_in: Callable[..., Client]) -> None:
    more(shop, 0, 10)
    client = signed_in(shop.owner)
    pages = ["/guests/", "/guests/?page=2", f"/guests/{Booking.objects.earliest('pk').pk}/"]
    pages += [f"/guests/walk-in/?{NEED}", f"/guests/walk-in/?{NEED}&fit=3", f"/guests/walk-in/?{NEED}&others=0"]
    pages += ["/next-guest/?hours=1&hand=right", "/next-guest/?hours=1&hand=right&others=2"]
    few = {address: counted(client, address) for address in pages}
    more(shop, 10, 20)
    many = {address: counted(client, address) for address in pages}
    assert {address: (few[address], count) for address, count in many.items() if count > few[address]} == {}
    assert max(many.values()) <= MOST_QUERIES, many


def test_the_further_bows_and_the_others_stand_on_further_pages(shop: Shop, signed_in: Callable[..., Client]) -> None:
    more(shop, 0, 10)
    client = signed_in(shop.counter)
    first = client.get(f"/guests/walk-in/?{NEED}")
    text = Page(first).text
    assert "About 3 more bows fit" in text and "Why 5 others do not" in text and "5: other hand" in text
    assert "L-01" not in text
    assert "fit=3" in first.content.decode() and "others=0" in first.content.decode()
    second = Page(client.get(f"/guests/walk-in/?{NEED}&fit=3")).text
    assert "L-06" in second and "L-08" in second and "L-00" not in second and "Back to the best" in second
    others = client.get(f"/guests/walk-in/?{NEED}&others=2")
    assert "L-05 " in Page(others).text and "others=4" in others.content.decode()
    phone = Page(client.get("/next-guest/?hours=1&hand=right")).text
    assert "About 5 bows fit" in phone and "5: other hand" in phone


def test_the_bookings_stand_page_by_page_and_a_tag_is_typed(shop: Shop, signed_in: Callable[..., Client]) -> None:
    more(shop, 0, 10)
    client = signed_in(shop.counter)
    first, last = (Page(client.get(f"/guests/?page={number}")) for number in (1, 4))
    assert "days: 10." in first.text and "everybody gets a bow" in first.text and "worked out at" in first.text
    assert "B-02" in first.text and "B-03" not in first.text and "B-09" in last.text
    assert "Page 1 of 4" in first.text
    booked = {
        "reference": "B-77", "hand": "right", "draw_length": "", "peak_weight_min": "", "peak_weight_max": "",
        "expected_shots": "45", "start": "2026-07-02T10:00", "end": "2026-07-02T11:00", "guest_name": "",
    }  # fmt: skip
    refused = client.post("/guests/book/", {**booked, "bow": "L-99"})
    assert refused.status_code == 422 and "L-99 is not the tag of a bow in service at this site" in Page(refused).text
    client.post("/guests/book/", {**booked, "bow": "L-00"})
    assert Booking.objects.filter(reference="B-77", bow__tag="L-00").exists()
    client.post("/guests/book/", {**booked, "reference": "B-78", "bow": ""})
    text = Page(client.get("/guests/")).text
    assert "wait to be worked out" not in text and "waits to be worked out" not in text
    assert "everybody gets a bow" in text
