"""The whole way of one bow: facts in, wear out, needs, an order on paper, results back in, signed and released."""

from datetime import UTC, datetime
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet import lookups, record
from fleet.models import Fitting
from fleet.vocabulary import BowState, MeasurementKind
from service import decide, schedule
from service.models import CordWear, Need, NeedKind, OrderStatus, WorkOrder
from service.orders import close, work
from service.orders.issue import issue_now
from service.orders.paper import cover_of, sheet_of
from service.printing.pdf import render_queue
from tests import personas

pytestmark = pytest.mark.django_db
RATED_SHOTS_USED = 4_900


@pytest.fixture
def shop() -> personas.Shop:
    return personas.shop()


def worn_order(shop: personas.Shop) -> WorkOrder:
    """An order for a bow whose cords are near or past their rated shots."""
    bow = personas.fitted_bow(shop)
    personas.shoot(shop, bow, RATED_SHOTS_USED)
    now = datetime.now(UTC)
    decide.rebuild(now)
    return issue_now(bow, day=schedule.today_at(shop.site, now), by=shop.technician, now=now)


def as_left(order: WorkOrder, off: float = 0.0) -> list[work.TypedReading]:
    """Every reference read exactly, but for axle to axle that stands off by `off` (m)."""
    return [
        work.TypedReading(
            row["kind"],
            None,
            row["value"] + (off if row["kind"] == MeasurementKind.AXLE_TO_AXLE else 0.0),
            row["position"],
        )
        for row in order.frozen["measurements"]
    ]


def new_set(order: WorkOrder) -> list[work.TypedCord]:
    fitted = {one.position: one for one in lookups.fitted(order.bow)}
    return [
        work.TypedCord(position, True, "planned", "", one.cord.spec, f"NEW-{position}", "LOT-2", 40)
        for position, one in fitted.items()
    ]


def enter(order: WorkOrder, shop: personas.Shop, *, off: float = 0.0, cords: bool = True) -> None:
    work.enter(
        order,
        by=shop.technician,
        now=datetime.now(UTC),
        readings=as_left(order, off),
        cords=new_set(order) if cords else [],
        steps_done=[0, 1],
        note="",
    )
    order.refresh_from_db()


def test_shots_near_rated_life_call_for_a_new_set(shop: personas.Shop) -> None:
    order = worn_order(shop)
    wear = CordWear.objects.get(fitting__bow=order.bow, fitting__position="string")
    rated = wear.fitting.cord.spec.rated_shots
    assert wear.life_shots == pytest.approx(RATED_SHOTS_USED / rated)
    assert wear.life_used == pytest.approx(wear.life_shots + wear.life_time + wear.life_heat)
    assert NeedKind.REPLACEMENT in order.needs.values_list("kind", flat=True)


def test_the_sheet_carries_the_bow_the_reasons_and_the_references(shop: personas.Shop) -> None:
    order = worn_order(shop)
    now = datetime.now(UTC)
    pdf = render_queue(cover_of(shop.site, order.day, [order], now), [sheet_of(order)], "letter")
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert order.number in text and order.bow.tag in text
    assert "33 in" in text and "replacement" in text


def test_out_of_tolerance_does_not_sign_and_says_what_is_off(shop: personas.Shop) -> None:
    order = worn_order(shop)
    enter(order, shop, off=0.0254 / 4)
    with pytest.raises(record.Refused, match=r"axle to axle reads 33 1/4 in, \+1/4 in from 33 in"):
        close.sign(order, by=shop.technician, now=datetime.now(UTC))
    order.refresh_from_db()
    assert order.status == OrderStatus.IN_WORK


def test_a_replacement_without_a_new_cord_does_not_sign(shop: personas.Shop) -> None:
    order = worn_order(shop)
    enter(order, shop, cords=False)
    with pytest.raises(record.Refused, match="no cord is entered as replaced"):
        close.sign(order, by=shop.technician, now=datetime.now(UTC))


def test_a_signed_new_set_starts_at_zero_and_the_old_one_keeps_its_history(shop: personas.Shop) -> None:
    order = worn_order(shop)
    old = {one.pk for one in lookups.fitted(order.bow)}
    enter(order, shop)
    now = datetime.now(UTC)
    close.sign(order, by=shop.technician, now=now)
    decide.refresh([order.bow_id], now)
    assert lookups.state_of(order.bow) == BowState.ON_BENCH
    for wear in CordWear.objects.filter(fitting__bow=order.bow):
        assert wear.life_used == pytest.approx(0.0, abs=1e-6)
    assert Fitting.objects.filter(pk__in=old, removed_why="planned").count() == len(old)


def test_critical_work_is_released_by_a_second_person(shop: personas.Shop) -> None:
    order = worn_order(shop)
    enter(order, shop)
    close.sign(order, by=shop.technician, now=datetime.now(UTC))
    with pytest.raises(record.Refused, match="a second person"):
        close.release(order, by=shop.technician, now=datetime.now(UTC))
    close.release(order, by=shop.manager, now=datetime.now(UTC))
    order.refresh_from_db()
    assert order.status == OrderStatus.RELEASED
    assert lookups.state_of(order.bow) == BowState.READY


def test_an_issued_order_keeps_the_reference_set_it_was_printed_with(shop: personas.Shop) -> None:
    order = worn_order(shop)
    before = order.frozen["measurements"]
    personas.references(shop, order.bow, days_ago=0.5)
    order.refresh_from_db()
    assert order.frozen["measurements"] == before
    assert order.reference_set is not None and order.reference_set.version == order.frozen["reference"]["version"]


def test_needs_name_their_numbers(shop: personas.Shop) -> None:
    worn_order(shop)
    reason = Need.objects.get(kind=NeedKind.REPLACEMENT).reason
    assert "of rated life: shots" in reason and "time" in reason and "heat" in reason
