"""What was told stays told, a job moved by hand stays there, a stale draft is patched, guests keep their bow."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from fleet import record
from fleet.models import AuditEntry, Bow
from fleet.refusal import Refused
from service import decide, schedule
from service.models import Need, NeedKind, Plan
from service.plan.problem import SolveLimits
from service.plan.report import Status
from service.plan.solve import solve
from service.planning import made_from
from service.planning.moving import move_cost, move_job, standing
from service.planning.problem import site_plan
from service.planning.publishing import publish
from service.planning.told import draft_of
from tests import personas
from tests.personas import INCH_M, NOW, POUND_N
from tests.service.test_schedule import bow, days_of, jobs, limits, need

pytestmark = pytest.mark.django_db

TODAY = date(2026, 7, 1)  # a Wednesday; the technician is there Monday to Friday
DAYS = 14
TECHNICIAN = "larkspur-technician"


@pytest.fixture
def shop(db: None) -> personas.Shop:
    return personas.shop(labour_rate_per_hour=Decimal(30), rental_value_per_day=Decimal(40))


def day(ahead: int) -> date:
    return TODAY + timedelta(days=ahead)


def due(bow: Bow, ahead: int, kind: NeedKind = NeedKind.INSPECTION, **changes: object) -> Need:
    return need(bow, kind, due_on=day(ahead), latest_on=day(ahead), earliest_on=day(min(0, ahead)), **changes)


def draft(shop: personas.Shop, days: int = DAYS, now: datetime = NOW) -> Plan:
    return schedule.draft(shop.site, schedule.today_at(shop.site, now), days, now)


def as_after_a_refresh(shop: personas.Shop) -> None:
    """The same needs under new primary keys, as every refresh leaves them."""
    rows = list(Need.objects.all())
    Need.objects.all().delete()
    for row in rows:
        row.pk = None
    Need.objects.bulk_create(rows)


class TestPublished:
    def test_a_published_plan_is_kept_with_who_and_when(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 5)
        draft(shop)
        told = publish(shop.site, day(6), by=shop.manager, now=NOW)
        decide.rebuild(NOW)
        draft(shop)
        told.refresh_from_db()
        assert (told.published_by, told.published_at, told.jobs.count()) == (shop.manager, NOW, 1)
        entry = AuditEntry.objects.get(verb="note_plan_published")
        assert (entry.person, entry.detail["jobs"], entry.detail["last_day"]) == (shop.manager, 1, "2026-07-07")

    def test_only_the_days_told_are_published(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 1)
        due(bow(shop, "B"), 8)
        draft(shop)
        assert set(days_of(publish(shop.site, day(3), by=shop.manager, now=NOW))) == {"A"}

    def test_it_outlives_new_primary_keys(self, shop: personas.Shop) -> None:
        """A published day stays although a cheaper one opens, and although every need row was made anew."""
        record.add_absence(by=shop.manager, person=shop.technician, first_day=day(5), last_day=day(9))
        due(bow(shop, "A"), 7)
        assert days_of(draft(shop))["A"] == day(2)
        publish(shop.site, day(6), by=shop.manager, now=NOW)
        shop.technician.absences.all().delete()
        as_after_a_refresh(shop)
        kept = draft(shop)
        assert days_of(kept)["A"] == day(2)
        assert kept.report["moved"] == []
        Plan.objects.all().delete()
        assert days_of(draft(shop))["A"] == day(7)

    def test_a_job_that_must_move_says_why(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 7)
        told_for = days_of(draft(shop))["A"]
        publish(shop.site, day(9), by=shop.manager, now=NOW)
        record.add_absence(by=shop.manager, person=shop.technician, first_day=told_for, last_day=told_for)
        (moved,) = draft(shop).report["moved"]
        assert moved["need"] == "A inspection"
        assert moved["published_day"] == told_for.isoformat()
        assert "is not at the bench that day" in moved["sentence"]

    def test_yesterdays_job_that_was_not_done_is_moved_and_said(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 0)
        draft(shop)
        publish(shop.site, day(0), by=shop.manager, now=NOW)
        tomorrow = draft(shop, now=NOW + timedelta(days=1))
        assert days_of(tomorrow) == {"A": day(1)}
        assert "is past and it was not done" in tomorrow.report["moved"][0]["sentence"]

    def test_a_need_that_was_answered_since_is_a_new_one(self, shop: personas.Shop) -> None:
        """The bench did it early; the next inspection is not put on the day published for the last one."""
        one = personas.fitted_bow(shop, tag="A")
        Need.objects.all().delete()
        due(one, 7)
        draft(shop)
        publish(shop.site, day(9), by=shop.manager, now=NOW)
        later = NOW + timedelta(days=1)
        result = record.sign_result(
            by=shop.technician,
            bow=one,
            order_number="W-9",
            reference_set=one.reference_sets.get(current=True),
            readings=[],
            work=[{"kind": "inspection"}],
            cords_changed=[],
            steps_done=[],
            at=later,
        )
        record.sign_release(by=shop.manager, result=result, at=later)
        Need.objects.all().delete()
        due(one, 12)
        assert days_of(draft(shop, now=later))["A"] > day(9)

    def test_nothing_to_tell_is_refused(self, shop: personas.Shop) -> None:
        draft(shop)
        with pytest.raises(Refused, match="no job stands on a day up to 2026-07-03"):
            publish(shop.site, day(2), by=shop.manager, now=NOW)
        with pytest.raises(Refused, match="is not a day of the plan, which runs from 2026-07-01"):
            publish(shop.site, day(300), by=shop.manager, now=NOW)


class TestMoves:
    def test_the_price_is_told_and_the_job_stays_where_it_was_put(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 7)
        start = days_of(draft(shop))["A"]
        assert start == day(7)
        now = standing(shop.site, DAYS, NOW)
        (job,) = jobs(now.draft)
        priced = move_cost(now, job, day(2), None)
        # Five days early of a check every 30 days that takes 25 minutes at 30 an hour.
        assert priced.extra == pytest.approx(30 * 25 / 60 * 5 / 30, abs=0.011)
        move_job(shop.site, "A", (start, TECHNICIAN), (day(2), None), by=shop.manager, now=NOW)
        assert days_of(draft_of(shop.site) or Plan())["A"] == day(2)
        as_after_a_refresh(shop)
        again = draft(shop)
        assert (days_of(again)["A"], again.report["moved"]) == (day(2), [])
        entry = AuditEntry.objects.get(verb="note_job_moved")
        assert (entry.person, entry.detail["to_day"]) == (shop.manager, "2026-07-03")
        let_go = schedule.draft(shop.site, TODAY, DAYS, NOW, keep_by_hand=False)
        assert days_of(let_go)["A"] == day(7)

    def test_a_limit_forbids_it_in_words(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 7)
        draft(shop)
        with pytest.raises(Refused, match="its latest day is Wed 8 Jul 2026"):
            move_job(shop.site, "A", (day(7), TECHNICIAN), (day(8), None), by=shop.manager, now=NOW)
        with pytest.raises(Refused, match="technician absent"):
            move_job(shop.site, "A", (day(7), TECHNICIAN), (day(3), None), by=shop.manager, now=NOW)
        assert days_of(draft_of(shop.site) or Plan())["A"] == day(7)

    def test_a_plan_that_changed_meanwhile_is_looked_at_again(self, shop: personas.Shop) -> None:
        draft(shop)
        with pytest.raises(Refused, match="made anew; look at it again"):
            move_job(shop.site, "A", (day(1), TECHNICIAN), (day(2), None), by=shop.manager, now=NOW)


class TestPatching:
    def test_a_fact_leaves_every_job_where_it_stood_and_adds_what_is_new(self, shop: personas.Shop) -> None:
        for n in range(4):
            due(bow(shop, f"A{n}"), 2 + n)
        solved = schedule.current_draft(shop.site, TODAY, DAYS, NOW, solve_if_small=True)
        before = days_of(solved)
        due(bow(shop, "N"), 3)
        patched = schedule.current_draft(shop.site, TODAY, DAYS, NOW)
        assert (solved.report["solved"], patched.report["solved"], patched.report["gap"]) == (True, False, None)
        assert {tag: on for tag, on in days_of(patched).items() if tag != "N"} == before
        assert days_of(patched)["N"] == day(2)
        assert "not solved" in patched.report["sentence"]

    def test_a_fact_that_no_plan_reads_patches_nothing(self, shop: personas.Shop) -> None:
        """Use of a bow that needs nothing, another site's bow, somebody's saved view: the draft stays the row it is."""
        due(bow(shop, "A"), 2)
        idle = bow(shop, "idle")
        before = schedule.current_draft(shop.site, TODAY, DAYS, NOW).pk
        personas.shoot(shop, idle, 40, days_ago=1)
        record.save_view(by=shop.manager, page="due", name="mine", query="when=past")
        assert schedule.current_draft(shop.site, TODAY, DAYS, NOW).pk == before
        record.hold(by=shop.technician, bow=idle, reason="person", detail="frays", since=NOW)
        held = schedule.current_draft(shop.site, TODAY, DAYS, NOW).pk
        assert held != before
        due(idle, 3)
        assert schedule.current_draft(shop.site, TODAY, DAYS, NOW).pk not in (before, held)

    def test_a_draft_notes_how_far_it_was_held_against_the_facts(
        self, shop: personas.Shop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(made_from, "LOOKED_THROUGH_AGAIN", 0)
        idle = bow(shop, "idle")
        before = schedule.current_draft(shop.site, TODAY, DAYS, NOW)
        personas.shoot(shop, idle, 40, days_ago=1)
        after = schedule.current_draft(shop.site, TODAY, DAYS, NOW)
        assert (after.pk, after.report["read_to"]) == (before.pk, AuditEntry.objects.latest("pk").pk)
        assert Plan.objects.get(pk=before.pk).report["read_to"] > before.report["read_to"]


class TestGuests:
    def guest(self, shop: personas.Shop, on: int, reference: str = "G-1", **wants: object) -> None:
        start = datetime(2026, 7, 1, 18, tzinfo=UTC) + timedelta(days=on)
        asked = {"hand": "right", "draw_length_m": 28 * INCH_M, "peak_weight_min_n": 35 * POUND_N}
        record.put_booking(
            by=shop.counter,
            site=shop.site,
            reference=reference,
            start=start,
            end=start + timedelta(hours=2),
            **{**asked, **wants},
        )

    def booked(self, shop: personas.Shop) -> list[tuple[str, date]]:
        problem = site_plan(shop.site, TODAY, DAYS, NOW).problem
        return sorted((one.bow, one.first) for one in problem.bookings)

    def test_the_only_bow_that_fits_is_promised(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 7)
        self.guest(shop, 7)
        assert self.booked(shop) == [("A", day(7))]
        # The guest's rental day is worth more than a check a day early.
        assert days_of(draft(shop))["A"] == day(6)

    def test_one_of_two_can_be_spared_but_not_for_two_guests(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 7)
        due(bow(shop, "B"), 7)
        self.guest(shop, 7)
        assert self.booked(shop) == []
        self.guest(shop, 7, "G-2")
        assert self.booked(shop) == [("A", day(7)), ("B", day(7))]

    def test_another_hand_a_held_bow_and_a_booked_one_are_no_help(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 7)
        sheet = personas.spec_sheet(shop.owner)
        personas.bare_bow(shop, sheet, "L", hand="left")
        held = personas.bare_bow(shop, sheet, "H")
        record.hold(by=shop.technician, bow=held, reason="person", detail="odd noise", since=NOW)
        promised = personas.bare_bow(shop, sheet, "P")
        self.guest(shop, 7, "by name", bow=promised, hand="", draw_length_m=None, peak_weight_min_n=None)
        self.guest(shop, 7)
        assert ("A", day(7)) in self.booked(shop)

    def test_a_bow_out_with_a_guest_is_worked_on_when_it_is_back(self, shop: personas.Shop) -> None:
        one = personas.fitted_bow(shop, tag="A")
        Need.objects.all().delete()
        due(one, -1)
        self.guest(shop, 0, bow=one, hand="", draw_length_m=None, peak_weight_min_n=None)
        record.hand_out(by=shop.counter, bow=one, reference="G-1", at=NOW, known={})
        assert days_of(draft(shop)) == {"A": day(1)}


class TestEdges:
    def test_nobody_no_press_and_nothing_to_do(self, shop: personas.Shop) -> None:
        assert draft(shop).report["sentence"] == "Proven best: no plan costs less than 0.00 USD."
        due(bow(shop, "A"), 3, NeedKind.SETTLE_IN)
        shop.site.presses.all().delete()
        assert "presses" in limits(draft(shop))["A"]
        record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={})
        nobody = draft(shop)
        assert (jobs(nobody), limits(nobody)["A"]) == ([], 'no technician of the site has the skill "timing".')

    def test_due_yesterday_goes_to_the_first_day_that_is_open(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), -1)
        record.add_absence(by=shop.manager, person=shop.technician, first_day=day(0), last_day=day(0))
        assert days_of(draft(shop)) == {"A": day(1)}

    def test_what_cannot_be_done_by_its_latest_day_says_when_it_could(self, shop: personas.Shop) -> None:
        due(bow(shop, "A"), 1)
        record.add_absence(by=shop.manager, person=shop.technician, first_day=day(0), last_day=day(1))
        said = limits(draft(shop))["A"]
        assert "technician absent" in said
        assert "the bow is to be held after Thu 2 Jul 2026, and the first open day is Fri 3 Jul 2026" in said

    def test_out_of_effort_the_first_plan_stands_with_an_honest_gap(self, shop: personas.Shop) -> None:
        for n in range(8):
            due(bow(shop, f"A{n}"), 2)
        there = site_plan(shop.site, TODAY, DAYS, NOW, limits=SolveLimits(effort=0.0, gap=0.0))
        report = solve(there.problem)
        assert len(report.plan.placements) == 8
        assert report.bound <= report.objective
        assert (report.status is Status.PROVEN) == (report.gap == 0.0)

    def test_the_same_facts_give_the_same_plan_twice(self, shop: personas.Shop) -> None:
        for n in range(6):
            due(bow(shop, f"A{n}"), 3 + n % 3)
        reports = [solve(site_plan(shop.site, TODAY, DAYS, NOW).problem) for _ in range(2)]
        assert reports[0] == reports[1]


def test_guests_shoot_a_new_set_in_for_as_long_as_its_cord_spec_says(shop: personas.Shop) -> None:
    """Twice the settle-in shots: the check after the new set comes twice as many days after it."""
    record.put_site(by=shop.owner, code=shop.site.code, name=shop.site.name, guests_shoot_in=True)
    shop.site.refresh_from_db()
    one = personas.fitted_bow(shop, tag="A", days_ago=20.0)
    personas.shoot(shop, one, 600, days_ago=10.0)
    decide.rebuild(NOW)
    due(one, 3, NeedKind.REPLACEMENT)

    def waits() -> int:
        there = site_plan(shop.site, TODAY, DAYS, NOW)
        (after,) = (need for need in there.problem.needs if need.follows is not None)
        return after.after_days[0]

    by_default = waits()
    spec = one.fittings.first().cord.spec
    record.set_coefficient(
        by=shop.owner, cord_spec=spec, name="settle_in_shots", value=200.0, unit="shots", label="assumed", source="own",
        why="trial", at=NOW,
    )  # fmt: skip
    assert (by_default, waits()) == (3, 6)
