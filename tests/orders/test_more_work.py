"""Work found at the bench widens an order: its steps come in their place, and what was ticked stays ticked."""

import pytest

from fleet import record
from fleet.refusal import Refused
from service.models import WorkOrder
from service.orders import close, more_work, work
from tests import personas
from tests.orders.bench import enter, fresh_bow, issued, on_reference, worn_bow
from tests.personas import NOW, Shop

MODULE_SETTING = "set the changed draw stop from the module setting"


def inspection(shop: Shop) -> WorkOrder:
    """An order with the look over alone."""
    bow = fresh_bow(shop)
    for fitting in bow.fittings.all():
        record.reset_cord(by=shop.technician, fitting=fitting, at=personas.before(1))
    return issued(shop, bow)


def place(order: WorkOrder, words: str) -> int:
    return next(number for number, step in enumerate(order.frozen["steps"]) if words in step)


def test_a_stop_replaced_at_the_bench_is_first_set_from_the_module_setting(shop: Shop) -> None:
    """Common practice, no source: the module setting comes before the stops are matched on the board."""
    order = issued(shop, worn_bow(shop))
    last = len(order.frozen["steps"]) - 1
    enter(order, shop, steps_done=[0, 1, last])
    ticked = [order.frozen["steps"][number] for number in order.steps_done]
    more_work.add(order, "stop_changed", by=shop.technician, now=NOW)
    order.refresh_from_db()
    assert place(order, MODULE_SETTING) < place(order, "make both stops touch together")
    assert len(order.frozen["steps"]) == last + 2
    assert [order.frozen["steps"][number] for number in order.steps_done] == ticked


def test_an_inspection_takes_the_steps_of_timing_and_is_then_measured(shop: Shop) -> None:
    order = inspection(shop)
    assert not any("press" in step for step in order.frozen["steps"])
    assert not close.is_measured(order)
    more_work.add(order, "timing", by=shop.technician, now=NOW)
    assert place(order, "Before anything is loosened") < place(order, "Relax the bow in a press")
    assert close.is_measured(order) and close.what_is_open(order)
    work.enter(order, by=shop.technician, now=NOW, readings=on_reference(order), cords=[], steps_done=[], note="")
    assert not close.what_is_open(order)


def test_what_is_there_cannot_be_added_again(shop: Shop) -> None:
    order = issued(shop, worn_bow(shop))
    assert list(more_work.left_to_add(order)) == ["stop_changed"]
    more_work.add(order, "stop_changed", by=shop.technician, now=NOW)
    assert not more_work.left_to_add(order)
    with pytest.raises(
        Refused, match=f"'timing' cannot be added to the work of order {order.number}: it takes nothing"
    ):
        more_work.add(order, "timing", by=shop.technician, now=NOW)


def test_a_recurve_has_no_stop_to_replace(shop: Shop) -> None:
    assert "stop_changed" not in more_work.left_to_add(issued(shop, personas.fitted_bow(shop, "", kind="recurve")))


def test_a_signed_order_takes_no_more(shop: Shop) -> None:
    order = inspection(shop)
    enter(order, shop, readings=on_reference(order))
    close.sign(order, by=shop.technician, now=NOW)
    order.refresh_from_db()
    with pytest.raises(Refused, match="is signed"):
        more_work.add(order, "timing", by=shop.technician, now=NOW)
