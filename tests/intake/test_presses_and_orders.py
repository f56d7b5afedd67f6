"""Presses and supplier orders from files: taken in, changed by a later file, and each bad cell named."""

import pytest

from fleet import record
from fleet.models import Press, SupplierOrder
from tests.intake.book import NOW, only_problem, owner, take, take_samples

pytestmark = pytest.mark.django_db
HEAD = "reference,cord_spec,site,quantity,ordered_on,expected_on\n"


@pytest.fixture(autouse=True)
def _book() -> None:
    take_samples("specs")


def test_a_later_file_changes_a_presss_minutes() -> None:
    take("presses", "name,site,minutes_per_day\nBench press,fenhollow,420\nField press,tarnside,\n")
    assert Press.objects.get(site__code="tarnside").minutes_per_day == 480  # what the file's column says of no cell
    changed = take("presses", "name,site,minutes_per_day\nBench press,fenhollow,300\n")
    assert (changed.new, changed.changed) == (0, 1)
    assert Press.objects.get(site__code="fenhollow").minutes_per_day == 300


@pytest.mark.parametrize("minutes", ["0", "1441", "many"])
def test_minutes_that_no_press_has_are_refused(minutes: str) -> None:
    problem = only_problem("presses", f"name,site,minutes_per_day\nBench press,fenhollow,{minutes}\n")
    assert (problem.column, problem.value) == ("minutes_per_day", minutes)


def test_a_later_day_of_arrival_changes_the_order() -> None:
    take("supplier_orders", HEAD + "PO-1,OC-S58,fenhollow,6,2026-03-20,2026-04-10\n")
    changed = take("supplier_orders", HEAD + "PO-1,OC-S58,fenhollow,6,2026-03-20,2026-04-17\n")
    assert (changed.new, changed.changed) == (0, 1)
    assert str(SupplierOrder.objects.get().expected_on) == "2026-04-17"


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("PO-1,OC-S59,fenhollow,6,2026-03-20,2026-04-10", "cord_spec"),
        ("PO-1,OC-S58,fenhollow,0,2026-03-20,2026-04-10", "quantity"),
        ("PO-1,OC-S58,fenhollow,6,2026-03-20,2026-03-10", "expected_on"),
        ("PO-1,OC-S58,fenhollow,6,2026-12-20,2026-12-24", "ordered_on"),
    ],
)
def test_orders_that_cannot_be_are_refused_by_their_cell(row: str, column: str) -> None:
    assert only_problem("supplier_orders", HEAD + row + "\n").column == column
    assert not SupplierOrder.objects.exists()


def test_an_order_that_came_in_is_not_rewritten_by_a_file() -> None:
    line = HEAD + "PO-1,OC-S58,fenhollow,{},2026-03-20,2026-04-01\n"
    take("supplier_orders", line.format(6))
    record.receive_order(by=owner(), order=SupplierOrder.objects.get(), at=NOW, now=NOW)
    assert take("supplier_orders", line.format(6)).unchanged == 1
    assert "already received" in str(only_problem("supplier_orders", line.format(8)))
