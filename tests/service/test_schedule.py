"""Needs on days: within minutes, skills, presses, bookings and parts, or with the limit that blocks them in words."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from fleet import record
from fleet.models import Bow, CordSpec
from service import schedule
from service.house import BENCH_WORK, SET_UP_MINUTES
from service.models import Need, NeedKind, OrderStatus, Plan, PlannedJob, WorkOrder
from service.orders import work
from service.orders.issue import issue_now
from tests import personas

pytestmark = pytest.mark.django_db

MONDAY = date(2026, 7, 6)  # personas.NOW is the Wednesday before
DAYS = 14
AT_BENCH_MIN = 240  # Monday to Friday, as the personas' technician is


@pytest.fixture
def shop(db: None) -> personas.Shop:
    return personas.shop()


def day(ahead: int) -> date:
    return MONDAY + timedelta(days=ahead)


def bow(shop: personas.Shop, tag: str) -> Bow:
    return personas.bare_bow(shop, personas.spec_sheet(shop.owner), tag)


def need(bow: Bow, kind: NeedKind = NeedKind.INSPECTION, due: int = 3, **changes: Any) -> Need:
    """A need as the service computes it, due so many days after Monday."""
    work_of = BENCH_WORK[kind]
    given = {
        "reason": f"{kind} due",
        "earliest_on": MONDAY,
        "due_on": day(due),
        "latest_on": day(due),
        "minutes": work_of.minutes_compound,
        "skill": work_of.skill,
        "needs_press": work_of.needs_press,
    }
    return Need.objects.create(bow=bow, kind=kind, **{**given, **changes})


def draft(shop: personas.Shop, days: int = DAYS) -> Plan:
    return schedule.draft(shop.site, MONDAY, days, personas.NOW)


def jobs(plan: Plan) -> list[PlannedJob]:
    return list(plan.jobs.select_related("bow", "technician").order_by("day", "place_in_day"))


def days_of(plan: Plan) -> dict[str, date]:
    """The first day on which each bow is at the bench."""
    found: dict[str, date] = {}
    for job in jobs(plan):
        found.setdefault(job.bow.tag, job.day)
    return found


def kinds_of(plan: Plan) -> list[list[str]]:
    return [[entry["kind"] for entry in job.needs] for job in jobs(plan)]


def limits(plan: Plan) -> dict[str, str]:
    return {left.bow.tag: left.limit for left in plan.unplaced.select_related("bow")}


class TestPeople:
    def test_no_day_holds_more_than_its_minutes(self, shop: personas.Shop) -> None:
        for n in range(9):
            need(bow(shop, f"R-{n}"), NeedKind.INCIDENT, due=1, latest_on=None)
        plan = draft(shop)
        by_day: dict[date, int] = {}
        for job in jobs(plan):
            assert job.minutes == SET_UP_MINUTES + BENCH_WORK[NeedKind.INCIDENT].minutes_compound
            by_day[job.day] = by_day.get(job.day, 0) + job.minutes
        assert not limits(plan)
        assert all(minutes <= AT_BENCH_MIN for minutes in by_day.values())
        # 55 minutes each: four fit into 240, so nine need three days, and no more.
        assert len(by_day) == 3

    def test_nobody_works_while_away_or_on_a_closed_day(self, shop: personas.Shop) -> None:
        record.add_absence(by=shop.manager, person=shop.technician, first_day=day(0), last_day=day(1))
        record.close_day(by=shop.manager, site=shop.site, day=day(2))
        need(bow(shop, "A"), due=0, latest_on=None)
        assert days_of(draft(shop)) == {"A": day(3)}
        assert [schedule.minutes_on(shop.technician, day(n)) for n in (1, 3, 5)] == [0, AT_BENCH_MIN, 0]

    def test_a_shop_without_bench_hours_says_that_nobody_has_minutes(self, shop: personas.Shop) -> None:
        record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={})
        need(bow(shop, "A"))
        plan = draft(shop)
        assert not jobs(plan)
        assert limits(plan)["A"]

    def test_a_skill_that_nobody_has_is_named(self, shop: personas.Shop) -> None:
        record.set_skills(by=shop.owner, person=shop.technician, skills=["inspection"])
        need(bow(shop, "A"), NeedKind.INCIDENT)
        need(bow(shop, "B"), NeedKind.INSPECTION)
        plan = draft(shop)
        assert limits(plan) == {"A": 'no technician of the site has the skill "limbs".'}
        assert set(days_of(plan)) == {"B"}

    def test_presses_limit_what_needs_one(self, shop: personas.Shop) -> None:
        record.put_press(by=shop.owner, site=shop.site, name="Bench press", minutes_per_day=60)
        for tag in ("A", "B", "C"):
            need(bow(shop, tag), NeedKind.SETTLE_IN, due=0, latest_on=None)
        need(bow(shop, "D"), NeedKind.INSPECTION, due=0, latest_on=None)
        found = days_of(draft(shop))
        assert sorted(found[tag] for tag in "ABC") == [day(0), day(1), day(2)]
        assert found["D"] == day(0)


class TestBows:
    def test_needs_of_one_bow_on_one_day_share_the_set_up(self, shop: personas.Shop) -> None:
        one = bow(shop, "A")
        need(one, NeedKind.INSPECTION)
        need(one, NeedKind.NOTICE)
        (job,) = jobs(draft(shop))
        assert job.minutes == SET_UP_MINUTES + 15 + 30
        assert {entry["kind"] for entry in job.needs} == {"inspection", "notice"}
        assert job.why == f"due on {day(3)}"

    def test_a_new_set_makes_its_checks_pointless(self, shop: personas.Shop) -> None:
        one = bow(shop, "A")
        need(one, NeedKind.REPLACEMENT)
        need(one, NeedKind.TIMING_CHECK)
        need(one, NeedKind.INSPECTION)
        plan = draft(shop)
        assert kinds_of(plan) == [["replacement"], ["settle_in"]]
        assert (plan.report["placed"], plan.report["unplaced"], plan.report["cancelled"]) == (2, 0, 2)

    def test_a_held_bow_comes_first_on_its_day(self, shop: personas.Shop) -> None:
        need(bow(shop, "A"), due=0, latest_on=None)
        need(bow(shop, "Z"), NeedKind.INCIDENT, due=0, holds=True)
        assert [(job.day, job.bow.tag) for job in jobs(draft(shop))] == [(day(0), "Z"), (day(0), "A")]

    def test_what_is_past_its_last_day_is_done_as_soon_as_there_is_room(self, shop: personas.Shop) -> None:
        need(bow(shop, "A"), NeedKind.REPLACEMENT, due=-9, earliest_on=day(-20))
        plan = draft(shop)
        assert (days_of(plan), limits(plan)) == ({"A": day(0)}, {})

    def test_a_bow_in_work_is_on_its_way_and_an_issued_one_keeps_its_day(self, shop: personas.Shop) -> None:
        in_work, issued = bow(shop, "A"), bow(shop, "B")
        for one in (in_work, issued):
            personas.references(shop, one)
        orders = [
            issue_now(one, day=day(4), by=shop.technician, now=personas.NOW, technician=shop.technician)
            for one in (in_work, issued)
        ]
        work.start(orders[0], by=shop.technician, now=personas.NOW)
        Need.objects.all().delete()
        need(in_work, due=0, latest_on=None)
        need(issued, due=0, latest_on=None)
        assert WorkOrder.objects.filter(status=OrderStatus.IN_WORK).count() == 1
        assert days_of(draft(shop)) == {"B": day(4)}


class TestBookings:
    def book(self, shop: personas.Shop, bow: Bow, start: datetime, end: datetime) -> None:
        record.put_booking(by=shop.counter, site=shop.site, reference=f"K-{bow.tag}", bow=bow, start=start, end=end)

    def test_a_promised_bow_is_worked_on_around_its_days(self, shop: personas.Shop) -> None:
        one = bow(shop, "A")
        need(one, due=0, latest_on=None)
        noon = datetime(2026, 7, 6, 18, tzinfo=UTC)
        self.book(shop, one, noon, noon + timedelta(days=2))
        assert days_of(draft(shop)) == {"A": day(3)}

    @pytest.mark.parametrize(
        ("zone", "local_hour", "offset_h"), [("Pacific/Auckland", 9, 12), ("Pacific/Honolulu", 20, -10)]
    )
    def test_the_days_are_the_sites_own(self, zone: str, local_hour: int, offset_h: int) -> None:
        """Morning far in the east is the day before in UTC, evening far in the west the day after."""
        shop = personas.shop("rim", time_zone=zone)
        first, last = bow(shop, "A"), bow(shop, "B")
        need(first, due=0, latest_on=None)
        need(last, due=6, earliest_on=day(4), latest_on=None)
        for one, on in ((first, MONDAY), (last, day(4))):
            start = datetime(on.year, on.month, on.day, local_hour, tzinfo=UTC) - timedelta(hours=offset_h)
            self.book(shop, one, start, start + timedelta(hours=2))
        # Five days, Monday to Friday: the first and the last of them are booked.
        found = draft(shop, 7)
        assert days_of(found)["A"] == day(1)
        assert "B" not in days_of(found) or days_of(found)["B"] > day(4)

    def test_a_cancelled_booking_is_no_obstacle(self, shop: personas.Shop) -> None:
        one = bow(shop, "A")
        need(one, due=0, latest_on=None)
        noon = datetime(2026, 7, 6, 18, tzinfo=UTC)
        self.book(shop, one, noon, noon + timedelta(days=5))
        record.cancel_booking(by=shop.counter, booking=one.bookings.get(), at=personas.NOW)
        assert days_of(draft(shop)) == {"A": day(0)}


class TestParts:
    def string(self, shop: personas.Shop) -> CordSpec:
        return personas.cord_spec(shop.owner, "string", "OC-S58")

    def replacement(self, shop: personas.Shop, tag: str, count: int = 1) -> None:
        need(bow(shop, tag), NeedKind.REPLACEMENT, due=1, latest_on=None, parts={"OC-S58": count})

    def receive(self, shop: personas.Shop, quantity: int) -> None:
        record.move_stock(
            by=shop.technician,
            site=shop.site,
            cord_spec=self.string(shop),
            kind="received",
            quantity=quantity,
            at=personas.before(3),
            key=f"in-{quantity}",
            now=personas.NOW,
        )

    def test_stock_never_goes_below_nought(self, shop: personas.Shop) -> None:
        self.receive(shop, 3)
        for tag in ("A", "B", "C", "D"):
            self.replacement(shop, tag, 2 if tag == "A" else 1)
        plan = draft(shop)
        replaced = [job.bow.tag for job in jobs(plan) if job.needs[0]["kind"] == "replacement"]
        used = sum(2 if tag == "A" else 1 for tag in replaced)
        assert used <= 3
        assert len(limits(plan)) >= 1
        assert all("OC-S58" in said for said in limits(plan).values())

    def test_what_is_on_order_is_waited_for(self, shop: personas.Shop) -> None:
        self.replacement(shop, "A")
        record.put_supplier_order(
            by=shop.manager,
            site=shop.site,
            cord_spec=self.string(shop),
            reference="PO-1",
            quantity=1,
            ordered_on=day(-3),
            expected_on=day(7),
        )
        assert days_of(draft(shop)) == {"A": day(7)}

    def test_nothing_on_the_shelf_and_nothing_on_order_is_said(self, shop: personas.Shop) -> None:
        self.string(shop)
        self.replacement(shop, "A")
        plan = draft(shop)
        assert not jobs(plan)
        assert "OC-S58" in limits(plan)["A"]


class TestDrafts:
    def test_a_new_draft_takes_the_place_of_the_former(self, shop: personas.Shop) -> None:
        need(bow(shop, "A"))
        first = draft(shop)
        second = draft(shop)
        assert list(Plan.objects.values_list("pk", flat=True)) == [second.pk] != [first.pk]

    def test_the_same_facts_give_the_same_plan(self, shop: personas.Shop) -> None:
        for n in range(12):
            kind = [NeedKind.INSPECTION, NeedKind.TIMING_CHECK, NeedKind.NOTICE][n % 3]
            need(bow(shop, f"M-{n}"), kind, due=n)
        told = [(job.day, job.bow.tag, job.place_in_day, job.minutes) for job in jobs(draft(shop))]
        assert told == [(job.day, job.bow.tag, job.place_in_day, job.minutes) for job in jobs(draft(shop))]
        assert len(told) == 12

    def test_it_is_kept_until_a_fact_changes(self, shop: personas.Shop) -> None:
        one = bow(shop, "A")
        need(one)
        first = schedule.current_draft(shop.site, MONDAY, DAYS, personas.NOW)
        assert schedule.current_draft(shop.site, MONDAY, DAYS, personas.NOW).pk == first.pk
        assert schedule.current_draft(shop.site, MONDAY, DAYS + 1, personas.NOW).pk != first.pk
        again = schedule.current_draft(shop.site, MONDAY, DAYS, personas.NOW)
        record.add_absence(by=shop.manager, person=shop.technician, first_day=day(0), last_day=day(0))
        changed = schedule.current_draft(shop.site, MONDAY, DAYS, personas.NOW)
        assert changed.pk != again.pk
        assert days_of(changed)["A"] > day(0)

    @pytest.mark.parametrize("days", [0, 6, 91])
    def test_a_horizon_out_of_range_is_refused_with_the_range(self, shop: personas.Shop, days: int) -> None:
        with pytest.raises(ValueError, match="allowed are 7 to 90 days"):
            draft(shop, days)

    def test_another_sites_needs_are_not_in_it(self, shop: personas.Shop) -> None:
        camp = personas.shop("camp")
        need(bow(camp, "C"))
        need(bow(shop, "A"))
        assert set(days_of(draft(shop))) == {"A"}
