"""The guests pages: a booking entered and cancelled, a walk-in, a bow promised and let go, the site's choice."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet.models import Booking, Bow, Site
from service import decide
from service.models import Need, NeedKind
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop

BOOKED = {
    "reference": "B-77", "hand": "right", "draw_length": "28", "peak_weight_min": "38", "peak_weight_max": "42 lb",
    "expected_shots": "45", "start": "2026-07-02T10:00", "end": "2026-07-02T11:00", "bow": "", "guest_name": "Ada Fern",
}  # fmt: skip


@pytest.fixture
def bow(shop: Shop) -> Bow:
    bow = personas.fitted_bow(shop, tag="L-1")
    personas.shoot(shop, bow, 120, days_ago=90)  # settled in
    decide.refresh([bow.pk], personas.NOW)
    Need.objects.filter(kind__in=[NeedKind.INSPECTION, NeedKind.SETTLE_IN]).delete()
    return bow


@pytest.fixture
def client(shop: Shop, bow: Bow, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.counter)


def test_a_booking_is_entered_in_the_sites_units_and_proposed_a_bow(client: Client) -> None:
    page = Page(client.post("/guests/book/", BOOKED, follow=True))
    assert "B-77 is booked" in page.text and "Promise it" in page.text
    booking = Booking.objects.get()
    assert booking.draw_length_m == pytest.approx(28 * 0.0254)
    assert booking.start.isoformat() == "2026-07-02T16:00:00+00:00"  # 10:00 in Denver in summer
    listed = Page(client.get("/guests/")).text
    assert "Ada Fern" in listed and "L-1 proposed" in listed and "everybody gets a bow" in listed


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"end": "2026-07-02T09:00"}, "It ends before it begins"),
        ({"peak_weight_max": "20"}, "The heaviest is lighter"),
        ({"draw_length": "9"}, "draw length"),
        ({"hand": ""}, "name the very bow by its tag, or the hand"),
        ({"expected_shots": "9000"}, "less than or equal to 5000"),
    ],
)
def test_a_booking_that_cannot_be_stands_open_with_what_is_wrong(
    client: Client, changes: dict[str, str], said: str
) -> None:
    response = client.post("/guests/book/", {**BOOKED, **changes})
    assert response.status_code == 422
    assert said in Page(response).text
    assert Page(response).value("reference") == "B-77"
    assert not Booking.objects.exists()


def test_a_reference_is_never_taken_twice(client: Client, shop: Shop) -> None:
    client.post("/guests/book/", BOOKED)
    again = client.post("/guests/book/", {**BOOKED, "expected_shots": "9"})
    assert "is in the book already" in Page(again).text
    assert Booking.objects.get().expected_shots == 45


def test_the_same_bow_is_not_booked_twice(client: Client) -> None:
    client.post("/guests/book/", {**BOOKED, "bow": "L-1"})
    again = client.post("/guests/book/", {**BOOKED, "reference": "B-78", "bow": "L-1"})
    assert again.status_code == 422
    assert "L-1 is promised under B-77 from 2026-07-02 10:00" in Page(again).text


def test_a_bow_is_promised_let_go_and_the_booking_cancelled(client: Client, bow: Bow) -> None:
    client.post("/guests/book/", BOOKED)
    booking = Booking.objects.get()
    client.post(f"/guests/{booking.pk}/promise/", {"bow": "L-1"})
    booking.refresh_from_db()
    assert booking.bow == bow
    client.post(f"/guests/{booking.pk}/promise/")
    booking.refresh_from_db()
    assert booking.bow is None
    assert "B-77 is cancelled" in Page(client.post(f"/guests/{booking.pk}/cancel/", follow=True)).text
    assert "Cancelled on" in Page(client.get(f"/guests/{booking.pk}/")).text


def test_a_booking_of_a_very_bow_shows_what_is_like_it(client: Client, shop: Shop, bow: Bow) -> None:
    needs = {"hand": "", "draw_length": "", "peak_weight_min": "", "peak_weight_max": ""}
    client.post("/guests/book/", BOOKED | needs | {"bow": "L-1"})
    text = Page(client.get(f"/guests/{Booking.objects.get().pk}/")).text
    assert "ask the guest before you promise another" in text


def test_a_walk_in_sees_which_bow_fits_and_why_others_do_not(client: Client, shop: Shop) -> None:
    left = personas.fitted_bow(shop, tag="L-2", hand="left")
    decide.refresh([left.pk], personas.NOW)
    needs = {name: BOOKED[name] for name in BOOKED if name not in ("reference", "bow", "guest_name")}
    page = Page(client.get("/guests/walk-in/", needs)).text
    assert page.index("L-1") < page.index("L-2")
    assert "other hand" in page
    assert client.get("/guests/walk-in/", {**needs, "end": "2026-07-01"}).status_code == 422
    assert client.get("/guests/walk-in/").status_code == 200


def test_another_sites_booking_is_not_there(client: Client, camp: Shop, signed_in: Callable[..., Client]) -> None:
    client.post("/guests/book/", BOOKED)
    booking = Booking.objects.get()
    other = signed_in(camp.manager)
    for address in ("", "promise/", "cancel/"):
        call = other.get if not address else other.post
        assert call(f"/guests/{booking.pk}/{address}").status_code == 404


def test_the_manager_chooses_how_wear_is_spread(client: Client, shop: Shop, signed_in: Callable[..., Client]) -> None:
    assert client.post("/guests/wear-choice/", {"wear_choice": "oldest_first"}).status_code == 403
    manager = signed_in(shop.manager)
    manager.post("/guests/wear-choice/", {"wear_choice": "oldest_first"})
    assert Site.objects.get(pk=shop.site.pk).wear_choice == "oldest_first"
    assert "Choose one of the two" in Page(manager.post("/guests/wear-choice/", {"wear_choice": "x"}, follow=True)).text
