"""The shelf under the saved plan: reserved, on order, what to order by when; never below nothing."""

import csv
from collections.abc import Callable
from datetime import date, timedelta
from io import BytesIO, StringIO
from random import Random

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet import record
from fleet.models import CordSpec, SupplierOrder
from service import decide, schedule
from service.models import NeedKind, Plan, PlannedJob
from service.plan.greedy import first_plan
from service.plan.parts import stock_run
from service.plan.solve import solve
from service.printing.pdf_reorder import render_reorder
from service.stock.reorder import grouped, reorder_csv
from service.stock.shelf import PartLine, Shelf, shelf_of
from tests import personas
from tests.pages import orders
from tests.personas import NOW, Shop
from tests.plan.random_shops import random_shop

TODAY = date(2026, 7, 1)
POSITIONS = ("string", "upper_cable", "lower_cable")


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


def receive(shop: Shop, count: int, *, positions: tuple[str, ...] = POSITIONS) -> None:
    for position in positions:
        record.move_stock(
            by=shop.manager, site=shop.site, cord_spec=CordSpec.objects.get(code=f"QW-{position}"), kind="received",
            quantity=count, at=personas.before(2), key=f"in-{position}", now=NOW,
        )  # fmt: skip


def draft(shop: Shop) -> Plan:
    decide.rebuild(NOW)
    return schedule.draft(shop.site, TODAY, 28, NOW)


def replacements(plan: Plan) -> list[PlannedJob]:
    return [job for job in plan.jobs.all() if any(one["kind"] == NeedKind.REPLACEMENT for one in job.needs)]


def line(shelf: Shelf, code: str = "QW-string") -> PartLine:
    found = shelf.line_of(code)
    assert found is not None
    return found


def test_what_the_plan_uses_is_reserved_and_runs_down(shop: Shop) -> None:
    orders.worn_bow(shop)
    receive(shop, 3)
    plan = draft(shop)
    (job,) = replacements(plan)
    string = line(shelf_of(shop.site, NOW))
    assert (string.on_hand, string.reserved, string.at_end, string.is_low) == (3, 1, 2, False)
    used = [day for day in string.run if day.used]
    assert [(day.day, day.used, day.on_hand) for day in used] == [(job.day, 1, 2)]


def test_without_a_plan_a_need_wants_its_cords_when_it_is_due(shop: Shop) -> None:
    orders.worn_bow(shop)
    decide.rebuild(NOW)
    shelf = shelf_of(shop.site, NOW)
    assert shelf.plan is None
    order = next(one.order for one in shelf.to_order if one.spec.code == "QW-string" and one.bows)
    # Past its rated shots and nothing on the shelf: wanted today, ten days of lead time, so it comes late.
    assert (order.count, order.needed_by, order.late) == (1, TODAY, True)
    assert order.earliest_arrival == TODAY + timedelta(days=10)


def test_below_the_reorder_point_the_shelf_is_refilled(shop: Shop) -> None:
    personas.fitted_bow(shop)
    decide.rebuild(NOW)
    shelf = shelf_of(shop.site, NOW)
    refill = next(one for one in shelf.to_order if one.spec.code == "QW-string")
    assert line(shelf).is_low
    assert (refill.order.count, refill.bows, refill.order.cost) == (1, (), 48.0)
    assert shelf.cost == pytest.approx(48 + 2 * 36)


def test_what_is_on_its_way_counts_from_its_day(shop: Shop) -> None:
    orders.worn_bow(shop)
    spec = CordSpec.objects.get(code="QW-string")
    record.put_supplier_order(
        by=shop.manager, site=shop.site, cord_spec=spec, reference="PO-1", quantity=5,
        ordered_on=date(2026, 6, 25), expected_on=date(2026, 7, 6),
    )  # fmt: skip
    receive(shop, 2, positions=("upper_cable", "lower_cable"))
    plan = draft(shop)
    string = line(shelf_of(shop.site, NOW))
    assert (string.on_order, string.next_arrival) == (5, date(2026, 7, 6))
    assert all(job.day >= date(2026, 7, 6) for job in replacements(plan))
    assert all(day.on_hand == 0 for day in string.run if day.day < date(2026, 7, 6))
    record.cancel_order(by=shop.manager, order=SupplierOrder.objects.get(), at=NOW, why="out of make")
    assert line(shelf_of(shop.site, NOW)).on_order == 0


def test_cords_that_left_the_shelf_after_the_plan_are_said_and_ordered(shop: Shop) -> None:
    bow = orders.worn_bow(shop)
    receive(shop, 1)
    draft(shop)
    spec = CordSpec.objects.get(code="QW-string")
    record.move_stock(
        by=shop.manager, site=shop.site, cord_spec=spec, kind="scrapped", quantity=1, at=NOW, key="x", now=NOW
    )
    shelf = shelf_of(shop.site, NOW)
    assert shelf.short == (bow.tag,)
    assert all(day.on_hand >= 0 for one in shelf.lines for day in one.run)
    assert [one.bows for one in shelf.to_order if one.spec == spec and one.bows] == [(bow.tag,)]


def test_a_bow_in_work_has_its_cords_at_the_bench(shop: Shop) -> None:
    from service.orders import work

    bow = orders.worn_bow(shop)
    receive(shop, 2)
    order = orders.issued(shop, bow)
    work.enter(order, by=shop.technician, now=NOW, readings=[], cords=[], steps_done=[0], note="")
    string = line(shelf_of(shop.site, NOW))
    assert (string.on_hand, string.begun, string.reserved) == (2, 1, 0)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_stock_is_never_negative_in_any_plan(seed: int) -> None:
    problem = random_shop(Random(seed), most_needs=9)
    for plan in (first_plan(problem), solve(problem).plan):
        for run in stock_run(problem, plan).values():
            assert min(day.on_hand for day in run) >= 0


def test_the_csv_runs_no_formula_and_groups_by_cord(shop: Shop) -> None:
    bow = orders.worn_bow(shop)
    record.put_cord_spec(by=shop.owner, code="QW-string", maker='=HYPERLINK("http://x")')
    decide.rebuild(NOW)
    rows = list(csv.DictReader(StringIO(reorder_csv(shelf_of(shop.site, NOW)))))
    assert [row["cord_spec"] for row in rows] == sorted(row["cord_spec"] for row in rows)
    string = next(row for row in rows if row["cord_spec"] == "QW-string" and row["for_bows"] == bow.tag)
    assert string["maker"].startswith("'=")
    assert (string["strands"], string["late"], string["cost"]) == ("24", "yes", "48.00")
    assert float(string["length_in"]) == pytest.approx(1.5 / 0.0254)


@pytest.mark.parametrize(("paper", "size"), [("letter", [612, 792]), ("a4", [595, 842])])
def test_the_paper_lists_every_cord_with_its_length(
    shop: Shop, paper: str, size: list[int], wide_maker: Callable[[], None]
) -> None:
    orders.worn_bow(shop)
    wide_maker()
    decide.rebuild(NOW)
    shelf = shelf_of(shop.site, NOW)
    pdf = pypdf.PdfReader(BytesIO(render_reorder(shelf, NOW, paper)))
    assert [round(float(side)) for side in pdf.pages[0].mediabox[2:]] == size
    text = "".join(page.extract_text() for page in pdf.pages)
    for group in grouped(shelf.to_order):
        assert f"{group.count} × {group.spec.code}" in text
    assert "59 1/16 in" in text  # 1.5 m
    assert "24 strands" in text
    assert render_reorder(shelf, NOW, paper) == render_reorder(shelf, NOW, paper)


@pytest.fixture
def wide_maker(shop: Shop) -> Callable[[], None]:
    """A maker's name as long as the register takes one."""
    return lambda: record.put_cord_spec(by=shop.owner, code="QW-string", maker="Quillwort " * 6) and None
