"""The next guest on the phone: the bows that fit, the way to hand one out, and why others do not."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import lookups, record
from fleet.models import Bow
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop, before


@pytest.fixture
def bows(shop: Shop, computed: Callable[[], int]) -> list[Bow]:
    """A settled right-hand and left-hand bow, and a held one."""
    made = [
        personas.fitted_bow(shop, "twin", f"L-03{number}", days_ago=20.0, hand=hand, in_service_on=before(20).date())
        for number, hand in enumerate(("right", "left", "right"))
    ]
    for bow in made:
        personas.shoot(shop, bow, 150, days_ago=15.0)
        for fitting in lookups.fitted(bow):
            record.reset_cord(by=shop.technician, fitting=fitting, at=before(10))
    record.hold(by=shop.counter, bow=made[2], reason="person", detail="odd noise", since=before(1))
    computed()
    return made


def test_a_walk_in_is_offered_the_bows_that_fit_and_told_why_not_the_others(
    shop: Shop, bows: list[Bow], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.counter)
    assert "bows fit" not in Page(client.get("/next-guest/")).text
    response = client.get("/next-guest/", {"hand": "right", "draw_length": "28", "weight_to": "45", "hours": "2"})
    html, text = response.content.decode(), Page(response).text
    assert "One bow fits" in text
    assert 'href="/turnaround/L-030/?hand=1"' in html
    assert "L-031 other hand" in text and "odd noise" in text


def test_a_booking_of_today_brings_its_needs(shop: Shop, bows: list[Bow], signed_in: Callable[..., Client]) -> None:
    record.put_booking(
        by=shop.counter, site=shop.site, reference="B-9", start=before(hours=-1), end=before(hours=-3), hand="left"
    )
    response = signed_in(shop.counter).get("/next-guest/", {"booking": "B-9"})
    assert 'href="/turnaround/L-031/?hand=1&amp;booking=B-9"' in response.content.decode()


def test_what_cannot_be_read_is_told_with_its_range(
    shop: Shop, bows: list[Bow], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.counter)
    response = client.get("/next-guest/", {"hours": "1", "draw_length": "280"})
    assert response.status_code == 422
    assert "out of range" in Page(response).text
    assert client.get("/next-guest/", {"hours": "99"}).status_code == 422
