"""The guests pages: a booking entered and cancelled, a walk-in, a bow promised and let go, the site's choice."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client

from fleet import record
from fleet.models import AuditEntry, Booking, Bow, Site
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


def changed_to(client: Client, booking: Booking, **changes: str) -> HttpResponse:
    """The booking's form sent as it stands, but for what is changed."""
    form = client.get(f"/guests/{booking.pk}/change/").context["form"]
    as_it_stands = {field.html_name: field.value() for field in form}
    as_it_stands |= {
        "start": "2026-07-02T10:00",
        "end": "2026-07-02T11:00",
        "bow": booking.bow.tag if booking.bow else "",
    }
    return client.post(f"/guests/{booking.pk}/change/", {**as_it_stands, **changes}, follow=True)


def test_a_booking_is_changed_and_what_it_said_stands_in_the_trail(client: Client, bow: Bow) -> None:
    client.post("/guests/book/", BOOKED | {"bow": "L-1"})
    booking = Booking.objects.get()
    erased_on = booking.guest.erase_on
    changed_to(client, booking)
    assert not AuditEntry.objects.filter(verb="change_booking").exists()
    text = Page(
        changed_to(
            client, booking, start="2026-07-03T09:00", end="2026-07-03T11:30", expected_shots="90", draw_length=""
        )
    ).text
    assert "B-77 is changed" in text
    before, booking = booking, Booking.objects.get()
    assert booking.start.isoformat() == "2026-07-03T15:00:00+00:00"
    assert (booking.expected_shots, booking.draw_length_m, booking.bow) == (90, None, bow)
    assert booking.peak_weight_min_n == before.peak_weight_min_n
    detail = AuditEntry.objects.get(verb="change_booking").detail["changed"]
    assert detail["expected_shots"] == [45, 90] and detail["draw_length_m"][1] is None
    assert booking.guest.erase_on == erased_on + timedelta(days=1)


def test_a_change_that_books_a_bow_twice_is_refused_with_the_other_booking(client: Client) -> None:
    client.post("/guests/book/", {**BOOKED, "bow": "L-1"})
    client.post("/guests/book/", {**BOOKED, "reference": "B-78", "bow": "L-1", "start": "2026-07-02T12:00",
                                  "end": "2026-07-02T13:00"})  # fmt: skip
    refused = changed_to(client, Booking.objects.get(reference="B-77"), end="2026-07-02T12:30")
    assert refused.status_code == 422
    text = Page(refused).text
    assert "L-1 is promised under B-78 from 2026-07-02 12:00 MDT to 2026-07-02 13:00 MDT: pick another" in text
    assert "lightest" in Page(changed_to(client, Booking.objects.get(reference="B-77"), peak_weight_max="20")).text


def test_a_cancelled_booking_and_one_whose_bow_is_out_are_not_moved(client: Client, shop: Shop, bow: Bow) -> None:
    client.post("/guests/book/", BOOKED | {"bow": "L-1"})
    booking = Booking.objects.get()
    record.hand_out(by=shop.counter, bow=bow, reference="B-77", booking=booking, at=personas.NOW, known={})
    assert "its begin" in Page(changed_to(client, booking, start="2026-07-02T09:00")).text
    assert "B-77 is changed" in Page(changed_to(client, booking, end="2026-07-02T12:00")).text
    client.post("/guests/book/", {**BOOKED, "reference": "B-79"})
    other = Booking.objects.get(reference="B-79")
    client.post(f"/guests/{other.pk}/cancel/")
    assert "was cancelled" in Page(changed_to(client, other, expected_shots="9")).text
