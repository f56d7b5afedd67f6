"""Issuing: a number, the needs as they read, and a sheet that stays what it was printed with."""

from datetime import date, timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from fleet import record
from fleet.models import Bow, ReferenceSet
from fleet.record import ReferenceValue, Refused
from service import decide, schedule
from service.models import Need, NeedKind, OrderStatus, Plan, PlannedJob, WorkOrder
from service.orders import work
from service.orders.day import bench_day
from service.orders.issue import issue_day, issue_now, orders_of
from service.orders.numbers import next_number
from service.orders.paper import cover_of, sheet_of
from service.printing.pdf import render_order, render_queue
from tests import personas
from tests.orders.bench import DAY, NOW, issued, worn_bow

pytestmark = pytest.mark.django_db


@pytest.fixture
def bow(shop: personas.Shop) -> Bow:
    return worn_bow(shop)


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)


class TestFrozen:
    def test_the_order_keeps_the_reference_set_it_was_printed_with(self, shop: personas.Shop, bow: Bow) -> None:
        order = issued(shop, bow)
        before = render_order(sheet_of(order), NOW)
        first = order.reference_set
        newer = record.record_reference_set(
            by=shop.technician,
            bow=bow,
            origin="draw_board",
            taken_at=NOW,
            values=[ReferenceValue("axle_to_axle", 34 * personas.INCH_M, personas.INCH_M / 8)],
            now=NOW,
        )
        order = WorkOrder.objects.get(pk=order.pk)
        assert ReferenceSet.objects.get(bow=bow, current=True) == newer != first
        assert order.reference_set == first
        assert render_order(sheet_of(order), NOW) == before
        assert "33 in ±1/8 in ±1/16 in" in text_of(before)
        assert "34 in" not in text_of(before)

    def test_a_reprint_after_more_shots_and_a_new_name_of_the_cord_is_the_same_sheet(
        self, shop: personas.Shop, bow: Bow
    ) -> None:
        order = issued(shop, bow)
        before = render_order(sheet_of(order), NOW)
        personas.shoot(shop, bow, 500, days_ago=0.5)
        record.put_cord(
            by=shop.technician,
            serial=bow.fittings.first().cord.serial,
            spec=bow.fittings.first().cord.spec,
            lot="OTHER",
        )
        decide.refresh([bow.pk], NOW)
        assert render_order(sheet_of(WorkOrder.objects.get(pk=order.pk)), NOW) == before

    def test_it_says_why_with_the_numbers_of_that_day(self, shop: personas.Shop, bow: Bow) -> None:
        order = issued(shop, bow)
        reason = order.needs.get(kind=NeedKind.REPLACEMENT).reason
        assert reason == Need.objects.get(bow=bow, kind=NeedKind.REPLACEMENT).reason
        Need.objects.all().delete()
        assert order.needs.get(kind=NeedKind.REPLACEMENT).reason == reason
        assert reason in text_of(render_order(sheet_of(order), NOW))

    def test_a_bow_without_references_says_so_on_the_sheet(self, shop: personas.Shop) -> None:
        bare = personas.bare_bow(shop, personas.spec_sheet(shop.owner), "L-0")
        order = issued(shop, bare)
        assert (order.reference_set, order.frozen["measurements"]) == (None, [])
        assert "No reference measurements on record" in text_of(render_order(sheet_of(order), NOW))


class TestOneBow:
    def test_the_needs_of_today_are_on_it_and_later_ones_are_not(self, shop: personas.Shop) -> None:
        bow = personas.fitted_bow(shop, tag="L-2", days_ago=10.0, in_service_on=personas.before(10).date())
        record.report_incident(by=shop.counter, bow=bow, kind="drop", happened_at=NOW, key="d", now=NOW)
        order = issued(shop, bow)
        kinds = {need.kind for need in order.needs.all()}
        assert NeedKind.INCIDENT in kinds
        assert NeedKind.REPLACEMENT not in kinds
        assert order.minutes == 10 + sum(Need.objects.filter(bow=bow, kind__in=kinds).values_list("minutes", flat=True))

    def test_with_nothing_due_it_is_a_persons_wish(self, shop: personas.Shop) -> None:
        bare = personas.bare_bow(shop, personas.spec_sheet(shop.owner), "L-0")
        assert [need.kind for need in issued(shop, bare).needs.all()] == [NeedKind.REQUESTED]

    @pytest.mark.parametrize("status", ["issued", "in_work"])
    def test_a_second_order_is_refused_while_one_is_open(self, shop: personas.Shop, bow: Bow, status: str) -> None:
        order = issued(shop, bow)
        if status == "in_work":
            work.start(order, by=shop.technician, now=NOW)
        with pytest.raises(Refused, match=f"{bow.tag} has an open order, {order.number}: work on that one"):
            issued(shop, bow)
        work.cancel(order, by=shop.technician, why="wrong bow", now=NOW)
        assert issued(shop, bow).number != order.number


class TestDay:
    def test_every_planned_job_gets_one_order_however_often_it_is_issued(self, shop: personas.Shop, bow: Bow) -> None:
        personas.fitted_bow(shop, "hybrid", "L-9")
        decide.rebuild(NOW)
        first = issue_day(shop.site, DAY, by=shop.manager, now=NOW)
        assert {order.bow.tag for order in first} == {job.bow.tag for job in PlannedJob.objects.filter(day=DAY)}
        assert len(first) >= 2
        again = issue_day(shop.site, DAY, by=shop.manager, now=NOW)
        assert [order.number for order in again] == [order.number for order in first]
        assert {order.issued_by for order in first} == {shop.manager}
        assert all(order.technician == shop.technician for order in first)

    def test_the_cover_lists_them_in_the_order_of_work_with_the_minutes_there(
        self, shop: personas.Shop, bow: Bow
    ) -> None:
        decide.rebuild(NOW)
        orders = issue_day(shop.site, DAY, by=shop.manager, now=NOW)
        cover = cover_of(shop.site, DAY, orders, NOW)
        assert [line.order for line in cover.lines] == [order.number for order in orders]
        assert (cover.minutes, cover.minutes_available) == (sum(order.minutes for order in orders), 240)
        text = text_of(render_queue(cover, [sheet_of(order) for order in orders], "letter"))
        for order in orders:
            assert text.count(order.number) >= 2

    def test_a_day_gone_by_issues_nothing_and_shows_what_was_done(self, shop: personas.Shop, bow: Bow) -> None:
        decide.rebuild(NOW)
        order = issued(shop, bow)
        later = NOW + timedelta(days=3)
        personas.fitted_bow(shop, "hybrid", "L-9")
        assert issue_day(shop.site, DAY, by=shop.manager, now=later) == [order]
        assert issue_day(shop.site, DAY - timedelta(days=2), by=shop.manager, now=later) == []

    def test_a_published_job_whose_need_is_gone_is_not_issued(self, shop: personas.Shop, bow: Bow) -> None:
        decide.rebuild(NOW)
        plan = schedule.draft(shop.site, DAY, 28, NOW)
        plan.published_at, plan.published_by = NOW, shop.manager
        plan.save()
        Need.objects.all().delete()
        assert plan.jobs.filter(day=DAY).exists()
        assert issue_day(shop.site, DAY, by=shop.manager, now=NOW) == []

    @pytest.mark.parametrize(("ahead", "planned"), [(0, True), (83, True), (84, False), (300, False), (-1, False)])
    def test_the_bench_is_planned_as_far_as_a_plan_reaches(
        self, shop: personas.Shop, bow: Bow, ahead: int, planned: bool
    ) -> None:
        decide.rebuild(NOW)
        day = DAY + timedelta(days=ahead)
        found = bench_day(shop.site, day, NOW)
        assert (found.day, found.orders, bool(Plan.objects.exists())) == (day, [], planned)
        if ahead > 83:
            with pytest.raises(Refused, match="is too far ahead: the bench is planned up to 2026-09-22"):
                issue_day(shop.site, day, by=shop.manager, now=NOW)

    def test_cancelled_orders_leave_the_day(self, shop: personas.Shop, bow: Bow) -> None:
        order = issued(shop, bow)
        work.cancel(order, by=shop.manager, why="the bow is hired out", now=NOW)
        assert orders_of(shop.site, DAY) == []


class TestNumbers:
    def test_they_count_per_site_and_year(self, shop: personas.Shop, bow: Bow) -> None:
        assert issued(shop, bow).number == "LARKSPUR-2026-0001"
        assert next_number(shop.site, DAY) == "LARKSPUR-2026-0002"
        assert next_number(shop.site, date(2027, 1, 2)) == "LARKSPUR-2027-0001"
        assert next_number(personas.shop("camp").site, DAY) == "CAMP-2026-0001"

    def test_ten_thousand_follows_9999(self, shop: personas.Shop, bow: Bow) -> None:
        order = issued(shop, bow)
        WorkOrder.objects.filter(pk=order.pk).update(number="LARKSPUR-2026-9999", status=OrderStatus.CANCELLED)
        assert issued(shop, bow).number == "LARKSPUR-2026-10000"
        assert next_number(shop.site, DAY) == "LARKSPUR-2026-10001"

    def test_a_site_whose_name_begins_like_another_counts_its_own(self, shop: personas.Shop) -> None:
        camp = personas.shop("larkspur-2026")
        issued(camp, personas.bare_bow(camp, personas.spec_sheet(shop.owner), "C-1"))
        assert next_number(shop.site, DAY) == "LARKSPUR-2026-0001"


def test_an_order_of_tomorrow_is_for_tomorrow(shop: personas.Shop, bow: Bow) -> None:
    tomorrow = DAY + timedelta(days=1)
    order = issue_now(bow, day=tomorrow, by=shop.manager, now=NOW)
    assert (order.day, order.technician, order.status) == (tomorrow, None, OrderStatus.ISSUED)
    assert orders_of(shop.site, tomorrow) == [order]
