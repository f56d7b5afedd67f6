"""The assignment that is kept: what a page shows of it is checked now, and what changed is worked out anew."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from fleet import record
from fleet.models import Booking
from service import decide
from service.guest_models import ProposedBows
from service.guests import fitting, proposals
from service.guests.fitting import BookingLine, guests_ahead
from service.guests.proposals import WORKER_IS_AWAY, give_one, keep_all_up, keep_up
from tests import personas
from tests.guests.test_fitting import looked_over, ready_bow
from tests.personas import NOW, Shop

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]
TOMORROW = datetime(2026, 7, 2, 16, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def many(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every site has many bookings: a page works none out itself."""
    for module in (proposals, fitting):
        monkeypatch.setattr(module, "ON_THE_SPOT", 0)


def book(shop: Shop, reference: str, hour: int = 0, **changes: Any) -> Booking:
    given: dict[str, Any] = {"hand": "right", "expected_shots": 45, "start": TOMORROW + hour * HOUR}
    given |= {"end": TOMORROW + (hour + 1) * HOUR, **changes}
    return record.put_booking(by=shop.counter, site=shop.site, reference=reference, **given)


def line(shop: Shop, reference: str, now: datetime = NOW) -> BookingLine:
    return next(one for one in guests_ahead(shop.site, now).lines if one.booking.reference == reference)


def test_a_booking_that_comes_in_is_given_a_bow_that_nobody_else_has_then(shop: Shop, many: None) -> None:
    bows = [ready_bow(shop, f"L-{n}") for n in range(2)]
    book(shop, "B-1")
    first = line(shop, "B-1").proposed
    book(shop, "B-2")
    ahead = guests_ahead(shop.site, NOW + MINUTE)
    assert [one.is_open for one in ahead.lines] == [False, True] and ahead.waiting == 1
    give_one(Booking.objects.get(reference="B-2"), NOW + MINUTE)
    ahead = guests_ahead(shop.site, NOW + MINUTE)
    assert ahead.waiting == 0 and ahead.without == 0 and ahead.most_served
    assert ahead.lines[0].proposed == first
    assert {one.proposed for one in ahead.lines} == set(bows)


def test_where_no_bow_is_free_it_waits_for_all_to_be_worked_out_anew(shop: Shop, many: None) -> None:
    """The first guest gives way to a picky one: that only the whole can see."""
    light = ready_bow(shop, "L-1")
    strong = ready_bow(shop, "L-2")
    personas.shoot(shop, light, 300, days_ago=3)
    decide.refresh([light.pk], NOW)
    looked_over(light)
    record.set_up(
        by=shop.technician, bow=strong, since=NOW, draw_length_m=28 * personas.INCH_M,
        peak_weight_n=50 * personas.POUND_N, now=NOW,
    )  # fmt: skip
    decide.refresh([strong.pk], NOW)
    looked_over(strong)
    book(shop, "B-1")
    taken = line(shop, "B-1").proposed
    assert taken == strong
    weight = 50 * personas.POUND_N
    picky = book(shop, "B-2", peak_weight_min_n=weight, peak_weight_max_n=weight + 20)
    give_one(picky, NOW + MINUTE)
    assert line(shop, "B-2", NOW + MINUTE).is_open
    assert keep_up(shop.site, NOW + MINUTE)
    ahead = guests_ahead(shop.site, NOW + MINUTE)
    assert {one.booking.reference: one.proposed for one in ahead.lines} == {"B-1": light, "B-2": strong}
    assert not keep_up(shop.site, NOW + 2 * MINUTE)


def test_a_proposed_bow_that_is_held_or_promised_to_another_is_not_shown(shop: Shop, many: None) -> None:
    ready_bow(shop, "L-1")
    book(shop, "B-1")
    bow = line(shop, "B-1").proposed
    assert bow is not None
    promised = book(shop, "B-2")
    record.promise_bow(by=shop.counter, booking=promised, bow=bow)
    assert line(shop, "B-1").is_open and line(shop, "B-1").proposed is None
    record.promise_bow(by=shop.counter, booking=promised, bow=None)
    assert line(shop, "B-1").proposed == bow
    record.hold(by=shop.manager, bow=bow, reason="person", detail="creaks", since=NOW)
    decide.refresh([bow.pk], NOW)
    ahead = guests_ahead(shop.site, NOW + MINUTE)
    assert ahead.lines[0].is_open and ahead.waiting == 2
    later = NOW + 6 * MINUTE
    assert keep_all_up(later) == 1
    ahead = guests_ahead(shop.site, later)
    assert ahead.without == 2 and ahead.most_served and "not ready" in ahead.lines[0].without


def test_that_nobody_could_serve_more_is_said_only_while_it_is_known(shop: Shop, many: None) -> None:
    ready_bow(shop, "L-1")
    for number in range(3):
        book(shop, f"B-{number}")
    ahead = guests_ahead(shop.site, NOW)
    assert (ahead.without, ahead.most_served, ahead.made_at) == (2, True, NOW)
    served = next(one.booking for one in ahead.lines if one.proposed is not None)
    record.cancel_booking(by=shop.counter, booking=served, at=NOW)
    ahead = guests_ahead(shop.site, NOW + MINUTE)
    assert (ahead.without, ahead.most_served, ahead.made_at) == (2, False, NOW)
    assert keep_up(shop.site, NOW + 6 * MINUTE)
    ahead = guests_ahead(shop.site, NOW + 6 * MINUTE)
    assert (ahead.without, ahead.most_served) == (1, True)


def test_where_no_worker_comes_the_page_works_it_out(shop: Shop, many: None) -> None:
    ready_bow(shop, "L-1")
    book(shop, "B-1")
    guests_ahead(shop.site, NOW)
    book(shop, "B-2", hour=3)
    assert line(shop, "B-2", NOW + MINUTE).is_open
    assert line(shop, "B-2", NOW + WORKER_IS_AWAY).proposed is not None


def test_few_bookings_are_worked_out_at_once(shop: Shop) -> None:
    bow, other = ready_bow(shop, "L-1"), ready_bow(shop, "L-2", hand="left")
    book(shop, "B-1")
    book(shop, "B-2", hand="left")
    ahead = guests_ahead(shop.site, NOW)
    assert [one.proposed for one in ahead.lines] == [bow, other]
    record.hold(by=shop.manager, bow=bow, reason="person", detail="creaks", since=NOW)
    decide.refresh([bow.pk], NOW)
    ahead = guests_ahead(shop.site, NOW + MINUTE)
    assert ahead.made_at == NOW + MINUTE
    assert "not ready" in ahead.lines[0].without and ahead.lines[1].proposed == other
    book(shop, "B-3", hour=5, hand="left")
    assert line(shop, "B-3", NOW + 2 * MINUTE).proposed == other


def test_what_is_kept_may_be_dropped(shop: Shop) -> None:
    bow = ready_bow(shop, "L-1")
    book(shop, "B-1")
    assert line(shop, "B-1").proposed == bow
    ProposedBows.objects.all().delete()
    assert line(shop, "B-1").proposed == bow


def test_a_page_shows_its_lines_and_counts_all(shop: Shop) -> None:
    ready_bow(shop, "L-1")
    for number in range(5):
        book(shop, f"B-{number}", hour=number)
    ahead = guests_ahead(shop.site, NOW, shown=slice(2, 4))
    assert [one.booking.reference for one in ahead.lines] == ["B-2", "B-3"]
    assert ahead.count == 5 and ahead.without == 0
