"""Stock: on hand is the sum of the movements and never below nothing; a supplier order comes in once."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from fleet import lookups, record
from fleet.models import CordSpec, StockMovement, SupplierOrder
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, Shop, before


@pytest.fixture
def string(shop: Shop) -> CordSpec:
    return personas.cord_spec(shop.owner)


def move(
    shop: Shop, spec: CordSpec, kind: str, quantity: int, *, days_ago: float = 1.0, key: str = ""
) -> StockMovement:
    return record.move_stock(
        by=shop.manager,
        site=shop.site,
        cord_spec=spec,
        kind=kind,
        quantity=quantity,
        at=before(days_ago),
        key=key or f"{kind}-{quantity}-{days_ago}",
        now=NOW,
    )


def test_on_hand_is_the_sum_of_the_movements(shop: Shop, string: CordSpec) -> None:
    move(shop, string, "received", 10, days_ago=9)
    move(shop, string, "used", 3, days_ago=5)
    move(shop, string, "scrapped", 1, days_ago=4)

    assert lookups.on_hand(shop.site, string) == 6
    assert lookups.on_hand(shop.site, string, before(6)) == 10
    assert [one.quantity for one in StockMovement.objects.order_by("at")] == [10, -3, -1]


def test_a_count_sets_the_shelf_right(shop: Shop, string: CordSpec) -> None:
    move(shop, string, "received", 10, days_ago=9)

    assert move(shop, string, "counted", 7, days_ago=1).quantity == -3
    assert lookups.on_hand(shop.site, string) == 7


def test_a_count_typed_in_late_counts_the_shelf_of_its_own_day(shop: Shop, string: CordSpec) -> None:
    move(shop, string, "received", 10, days_ago=9)
    move(shop, string, "used", 4, days_ago=2)

    move(shop, string, "counted", 9, days_ago=5)

    assert lookups.on_hand(shop.site, string, before(3)) == 9
    assert lookups.on_hand(shop.site, string) == 5


def test_stock_never_goes_below_nothing(shop: Shop, string: CordSpec) -> None:
    move(shop, string, "received", 2, days_ago=9)

    with pytest.raises(
        Refused, match=r"QW-string at Larkspur Range: 3 used on 2026-06-30, but only 2 are on the shelf"
    ):
        move(shop, string, "used", 3)
    assert lookups.on_hand(shop.site, string) == 2


def test_nor_in_the_past(shop: Shop, string: CordSpec) -> None:
    move(shop, string, "received", 2, days_ago=9)
    move(shop, string, "used", 2, days_ago=5)
    move(shop, string, "received", 5, days_ago=1)

    with pytest.raises(
        Refused, match=r"1 used on 2026-06-24, but only 0 are on the shelf from then on: count the shelf"
    ):
        move(shop, string, "used", 1, days_ago=7)


def test_each_site_has_its_own_shelf(shop: Shop, string: CordSpec) -> None:
    camp = record.put_site(by=shop.owner, code="camp", name="Camp", time_zone="Europe/Oslo")
    move(shop, string, "received", 2)

    assert lookups.on_hand(camp, string) == 0


def test_a_movement_sent_twice_moves_once(shop: Shop, string: CordSpec) -> None:
    assert move(shop, string, "received", 4, key="m") == move(shop, string, "received", 4, key="m")
    assert lookups.on_hand(shop.site, string) == 4
    with pytest.raises(Refused, match=r"key 'm' was used for another entry, whose kind is received and not scrapped"):
        move(shop, string, "scrapped", 4, key="m")


@pytest.mark.parametrize(("kind", "quantity"), [("received", 0), ("used", -2), ("counted", -1)])
def test_quantities_that_cannot_be_are_refused(shop: Shop, string: CordSpec, kind: str, quantity: int) -> None:
    with pytest.raises(Refused, match=rf"{quantity} cords is outside [01] to 100000 cords: check"):
        move(shop, string, kind, quantity)


@pytest.mark.parametrize(("kind", "quantity"), [("received", -1), ("used", 1), ("scrapped", 1)])
def test_the_database_holds_the_sign_of_a_movement(shop: Shop, string: CordSpec, kind: str, quantity: int) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        StockMovement.objects.create(
            cord_spec=string, site=shop.site, kind=kind, quantity=quantity, at=NOW, by=shop.manager, key="k"
        )


def order(shop: Shop, string: CordSpec, **changes: object) -> SupplierOrder:
    given = {"quantity": 6, "ordered_on": date(2026, 6, 20), "expected_on": date(2026, 7, 4)}
    return record.put_supplier_order(
        by=shop.manager,
        site=shop.site,
        cord_spec=string,
        reference="PO-1",
        **{**given, **changes},  # type: ignore[arg-type]
    )


def test_a_supplier_order_comes_in_once(shop: Shop, string: CordSpec) -> None:
    placed = order(shop, string)
    stale = SupplierOrder.objects.get(pk=placed.pk)

    record.receive_order(by=shop.counter, order=placed, at=before(0.5), now=NOW)

    assert lookups.on_hand(shop.site, string) == 6
    with pytest.raises(Refused, match=r"order PO-1 was already received at 2026-07-01 03:00 UTC"):
        record.receive_order(by=shop.counter, order=stale, at=NOW, now=NOW)
    assert lookups.on_hand(shop.site, string) == 6


def test_what_came_in_or_was_cancelled_does_not_change(shop: Shop, string: CordSpec) -> None:
    record.receive_order(by=shop.counter, order=order(shop, string), at=before(0.5), now=NOW)

    order(shop, string)  # the same order from the same file again
    with pytest.raises(Refused, match=r"order PO-1 was already received"):
        order(shop, string, quantity=8)
    with pytest.raises(Refused, match=r"order PO-1 was already received"):
        record.cancel_order(by=shop.manager, order=order(shop, string), at=NOW, why="too late")


def test_a_cancelled_order_never_comes_in(shop: Shop, string: CordSpec) -> None:
    placed = order(shop, string)
    record.cancel_order(by=shop.manager, order=placed, at=before(0.5), why="out of make")

    with pytest.raises(Refused, match=r"order PO-1 was cancelled at 2026-07-01 03:00 UTC: give a new reference"):
        record.receive_order(by=shop.counter, order=placed, at=NOW, now=NOW)
    assert lookups.on_hand(shop.site, string) == 0


def test_an_order_expected_before_it_was_placed_is_refused(shop: Shop, string: CordSpec) -> None:
    with pytest.raises(Refused, match=r"PO-1: expected on 2026-06-01, before it was ordered on 2026-06-20: swap"):
        order(shop, string, expected_on=date(2026, 6, 1))
    with pytest.raises(Refused, match=r"quantity 0 cords is outside 1 to 100000 cords"):
        order(shop, string, quantity=0)
