"""What pages read instead of computing: equal to a fresh computation, checked by a command, made anew by night."""

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from kombu.exceptions import OperationalError

from fleet import record
from fleet.models import CordSpec
from fleet.record import TemperatureRow
from service import decide, lives_to_learn, schedule, upkeep
from service.calibrations import saved_calibration
from service.kept_figures import as_kept, as_was, same
from service.learned import histories
from service.life_report import LifeReport, report_of
from service.models import (
    DraftOutlook,
    LifeToLearn,
    Need,
    NeedKind,
    Plan,
    SiteCalibration,
    SpecLife,
    SpecReport,
    StaleBow,
    YearsAhead,
)
from service.night import run as night
from service.place_heat import story_of
from service.planning import kept_outlook, standing_draft
from service.planning.figures import PlanFigures
from service.planning.kept_outlook import figures_for, fresh_figures, kept, was
from service.planning.standing_draft import bring_up_to_date, shown_draft
from service.rated_life import RatedLife, years_ahead
from service.saved_checks import check_saved
from service.saved_years import PERCENTS, reckon_years, saved_years
from service.silent_places import silence_at
from service.spec_coefficients import Given, set_value, take_back
from service.spec_histories import kept_lives, lives_kept
from service.spec_reports import saved_report
from service.use_ahead import calibration_of
from tests import personas
from tests.pages.conftest import BACKEND
from tests.pages.reading import Page
from tests.personas import NOW, Shop
from tests.service.commands import refused, run
from tests.service.test_schedule import need

pytestmark = pytest.mark.django_db
Committed = Callable[..., AbstractContextManager[object]]
TODAY = date(2026, 7, 1)
OFF = 1e-6


@pytest.fixture
def shop(db: None) -> Shop:
    """A season of two bows, three strings condemned, one lost, and a plan."""
    shop = personas.shop()
    for tag in ("L-1", "L-2"):
        bow = personas.fitted_bow(shop, tag=tag, kind="recurve", days_ago=170.0)
        for n in range(150):
            personas.shoot(shop, bow, 20 + 7 * (n % 5), days_ago=165.0 - n, key=f"{tag}-{n}")
    for n, why in enumerate(("condemned", "condemned", "condemned", "incident")):
        bow = personas.fitted_bow(shop, tag=f"L-9{n}", kind="recurve")
        personas.shoot(shop, bow, 1_500 + 400 * n, days_ago=40.0)
        record.remove_cord(
            by=shop.technician,
            fitting=bow.fittings.get(position="string"),
            at=personas.before(10),
            why=why,
            finding="broken_strand" if why == "condemned" else "",
            now=NOW,
        )
    decide.rebuild(NOW)
    for days, tag in ((3, "L-1"), (12, "L-2")):
        due = TODAY + timedelta(days=days)
        bow = personas.Bow.objects.get(tag=tag)
        Need.objects.filter(bow=bow).delete()
        need(bow, NeedKind.INSPECTION, earliest_on=TODAY, due_on=due, latest_on=due)
    schedule.draft(shop.site, TODAY, schedule.DEFAULT_DAYS, NOW)
    return shop


@pytest.fixture
def spec(shop: Shop) -> CordSpec:
    return CordSpec.objects.get(code="QW-string")


def manager(shop: Shop) -> Client:
    client = Client()
    client.force_login(shop.manager, backend=BACKEND)
    return client


class TestEqualToAFreshComputation:
    def test_a_cord_specs_history(self, spec: CordSpec) -> None:
        found, saved = histories(NOW, [spec.pk])[0], saved_report(spec)
        assert saved is not None and saved.learned_at == NOW
        assert saved.report == report_of(found)
        assert (saved.report.failures, saved.report.counts["incident"]) == (3, 1)

    def test_the_lives_that_it_was_learned_from(self, spec: CordSpec) -> None:
        found = histories(NOW, [spec.pk])[0]
        again = lives_kept(spec, SpecReport.objects.get(cord_spec=spec).lives)
        assert kept_lives(again) == kept_lives(found)
        assert again.prior == found.prior and again.history.counts == found.history.counts

    def test_the_coming_year_under_another_rated_life(self, shop: Shop, spec: CordSpec) -> None:
        fresh = years_ahead(histories(NOW, [spec.pk])[0], shop.site, [*PERCENTS, 115.0])
        reckoned = reckon_years(spec, shop.site, [115.0], NOW)
        assert reckoned.years == sorted(fresh, key=lambda one: one.percent)
        saved = saved_years(spec, shop.site)
        assert saved is not None
        assert saved.years == [one for one in reckoned.years if one.percent != 115.0]

    def test_how_the_forecast_kept_its_word(self, shop: Shop) -> None:
        saved = saved_calibration(shop.site)
        assert saved is not None and saved.report is not None
        assert saved.report == calibration_of(shop.site, NOW)

    def test_the_outlook_of_a_draft(self, shop: Shop) -> None:
        draft = Plan.objects.get()
        fresh = fresh_figures(draft, NOW)
        assert figures_for(draft, NOW, whole=True) == fresh
        assert sum(load.used for week in fresh.weeks for load in week.loads if not load.is_press) > 0


class TestKeptAndBack:
    def test_a_bound_that_nothing_bounds(self, spec: CordSpec) -> None:
        report = report_of(histories(NOW, [spec.pk])[0])
        assert report.fit.eta is not None
        open_ended = replace(report, fit=replace(report.fit, eta=replace(report.fit.eta, upper=float("inf"))))
        content = as_kept(open_ended)
        assert content["fit"]["eta"]["upper"] == "Infinity"
        assert as_was(LifeReport, content) == open_ended

    def test_all_that_found_no_day_is_there_when_asked_for(self, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
        record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={})
        schedule.draft(shop.site, TODAY, schedule.DEFAULT_DAYS, NOW)
        fresh: PlanFigures = fresh_figures(Plan.objects.get(), NOW)
        assert {"L-1 inspection", "L-2 inspection"} < {one.need for one in fresh.unplaced}
        monkeypatch.setattr(kept_outlook, "LEFT_SHOWN", 1)
        content = kept(fresh)
        assert was(content, whole=True) == fresh
        assert was(content).unplaced == fresh.unplaced[:1] and was(content).unplaced_count == len(fresh.unplaced)
        assert fresh.stopped_by == ("no people",)

    def test_numbers_are_compared_to_a_tolerance_and_all_else_exactly(self) -> None:
        assert same({"a": [1.0, None, "x"]}, {"a": [1.0 + 1e-12, None, "x"]}, 1e-9)
        for other in ({"a": [1.0 + OFF, None, "x"]}, {"a": [1.0, None]}, {"b": []}, {"a": [1.0, 0.0, "x"]}):
            assert not same({"a": [1.0, None, "x"]}, other, 1e-9)


def tamper_report(spec: CordSpec) -> None:
    row = SpecReport.objects.get(cord_spec=spec)
    row.report["b10"]["upper"] += OFF
    row.save()


def tamper_life(spec: CordSpec) -> None:
    row = SpecLife.objects.get(cord_spec=spec)
    SpecLife.objects.filter(pk=row.pk).update(eta=row.eta + OFF)


def tamper_calibration(_spec: CordSpec) -> None:
    row = SiteCalibration.objects.get()
    row.report["coverage"] += OFF
    row.save()


def tamper_years(_spec: CordSpec) -> None:
    row = YearsAhead.objects.get()
    row.years[2]["cost"] += 0.01
    row.save()


def tamper_outlook(_spec: CordSpec) -> None:
    row = DraftOutlook.objects.get()
    row.content["weeks"][0]["risk"]["condemned"] += OFF
    row.save()


@pytest.mark.parametrize(
    ("tamper", "said"),
    [
        (tamper_report, "QW-string: what its history says"),
        (tamper_life, "QW-string: the life to plan with"),
        (tamper_calibration, "how it kept its word"),
        (tamper_years, "QW-string: the coming year at"),
        (tamper_outlook, "outlook of"),
    ],
)
def test_a_check_finds_what_is_off_and_a_rebuild_mends_it(
    tamper: Callable[[CordSpec], None], said: str, shop: Shop, spec: CordSpec
) -> None:
    reckon_years(spec, shop.site, [], NOW)
    assert check_saved().differing == []
    tamper(spec)
    (found,) = check_saved().differing
    assert said in found
    assert "1 saved figures differ from a rebuild" in refused("rebuild", "--check")
    run("rebuild")
    assert check_saved().differing == []


def test_what_later_facts_have_overtaken_is_counted_and_not_compared(shop: Shop, spec: CordSpec) -> None:
    reckon_years(spec, shop.site, [], NOW)
    assert check_saved().overtaken == 0
    tamper_calibration(spec)
    personas.shoot(shop, personas.Bow.objects.get(tag="L-1"), 60, days_ago=0.1)
    found = check_saved()
    assert found.differing == []
    assert found.overtaken == SiteCalibration.objects.count() + SpecReport.objects.count() + YearsAhead.objects.count()


def test_the_night_makes_all_of_it_anew(shop: Shop, spec: CordSpec) -> None:
    reckon_years(spec, shop.site, [], NOW)
    later = NOW + timedelta(days=1)
    assert night.begin(later, lambda site, day: night.run_site(site, date.fromisoformat(day), later)) == 1
    assert not YearsAhead.objects.exists()
    assert SpecReport.objects.get(cord_spec=spec).learned_at == later
    assert SiteCalibration.objects.get().computed_at == later
    assert DraftOutlook.objects.get().plan.made_at == later
    assert check_saved().differing == []


class TestAChangedCoefficient:
    GIVEN = Given(5.0, "own measurement", "a trial", "a test")

    @pytest.fixture
    def committed(self, django_capture_on_commit_callbacks: Committed) -> Committed:
        return django_capture_on_commit_callbacks

    @pytest.fixture(autouse=True)
    def many_cords(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(lives_to_learn, "LEARNED_AT_ONCE_CORDS", 0)

    def test_is_learned_by_a_task_and_until_then_the_page_says_so(
        self, shop: Shop, spec: CordSpec, monkeypatch: pytest.MonkeyPatch, committed: Committed
    ) -> None:
        sent: list[object] = []
        monkeypatch.setattr(upkeep.refresh_stale, "apply_async", lambda **options: sent.append(options))
        before = SpecLife.objects.get(cord_spec=spec).beta
        with committed(execute=True):
            set_value(spec, "weibull_shape", self.GIVEN, by=shop.manager, now=NOW)
        assert sent == [{"retry": False}]
        assert SpecLife.objects.get(cord_spec=spec).beta == before
        at = f"/cord-specs/{spec.code}/history/"
        assert "is being learned anew" in Page(manager(shop).get(at)).text
        StaleBow.objects.all().delete()
        upkeep.refresh_stale()
        assert SpecLife.objects.get(cord_spec=spec).beta > before
        assert not LifeToLearn.objects.exists() and not StaleBow.objects.exists()
        assert "is being learned anew" not in Page(manager(shop).get(at)).text

    def test_of_the_house_marks_every_cord_spec(self, shop: Shop) -> None:
        set_value(None, "weibull_shape", self.GIVEN, by=shop.owner, now=NOW)
        assert set(LifeToLearn.objects.values_list("cord_spec", flat=True)) == set(
            CordSpec.objects.values_list("pk", flat=True)
        )
        assert lives_to_learn.learn_marked(NOW) == CordSpec.objects.count()
        assert lives_to_learn.learn_marked(NOW) == 0

    def test_changed_again_while_it_is_learned_stays_marked(
        self, shop: Shop, spec: CordSpec, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        set_value(spec, "weibull_shape", self.GIVEN, by=shop.manager, now=NOW)
        from service import learned

        real = learned.histories

        def meanwhile(*given: Any) -> object:
            found = real(*given)
            take_back(spec, "weibull_shape", why="too bold", by=shop.manager, now=NOW + timedelta(minutes=1))
            return found

        with monkeypatch.context() as slow:
            slow.setattr(learned, "histories", meanwhile)
            lives_to_learn.learn_marked(NOW)
        assert LifeToLearn.objects.get().since == NOW + timedelta(minutes=1)

    def test_a_queue_that_is_away_stops_nobody(
        self, shop: Shop, spec: CordSpec, monkeypatch: pytest.MonkeyPatch, committed: Committed
    ) -> None:
        def away(**_options: object) -> None:
            raise OperationalError("no broker")

        monkeypatch.setattr(upkeep.refresh_stale, "apply_async", away)
        with committed(execute=True):
            set_value(spec, "weibull_shape", self.GIVEN, by=shop.manager, now=NOW)
        assert LifeToLearn.objects.count() == 1


class TestTheDraftOfALargeSite:
    @pytest.fixture(autouse=True)
    def large(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(standing_draft, "SOLVED_ON_SIGHT_NEEDS", -1)

    def test_is_shown_as_it_stands_while_nothing_changed(self, shop: Shop) -> None:
        def never(_site: int) -> None:
            raise AssertionError("nothing is to be brought up to date")

        shown = shown_draft(shop.site, schedule.DEFAULT_DAYS, NOW, never)
        assert (shown.draft, shown.is_behind, shown.waiting) == (Plan.objects.get(), False, 0)

    def test_is_behind_once_a_fact_changed_and_a_task_brings_it_up_to_date(self, shop: Shop) -> None:
        sent: list[int] = []
        stood = Plan.objects.get().pk
        record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={2: 300})
        shown = shown_draft(shop.site, schedule.DEFAULT_DAYS, NOW, sent.append)
        assert (shown.draft.pk, shown.is_behind, sent) == (stood, True, [shop.site.pk])
        bring_up_to_date(shop.site.pk, NOW)
        shown = shown_draft(shop.site, schedule.DEFAULT_DAYS, NOW, sent.append)
        assert shown.draft.pk != stood and not shown.is_behind and len(sent) == 1

    def test_is_made_here_and_now_without_a_queue(self, shop: Shop) -> None:
        def away(_site: int) -> None:
            raise OperationalError("no broker")

        stood = Plan.objects.get().pk
        record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={2: 300})
        shown = shown_draft(shop.site, schedule.DEFAULT_DAYS, NOW, away)
        assert shown.draft.pk != stood and not shown.is_behind

    def test_says_how_many_bows_wait(self, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(standing_draft, "STALE_AT_ONCE", 1)
        for bow in personas.Bow.objects.filter(tag__in=("L-1", "L-2")):
            personas.shoot(shop, bow, 60, days_ago=0.1)
        shown = shown_draft(shop.site, schedule.DEFAULT_DAYS, NOW, lambda _site: None)
        assert shown.waiting == StaleBow.objects.count() == 2


def test_silent_places_have_the_gaps_of_their_stories(shop: Shop) -> None:
    for n, hours in enumerate((range(0, 200), range(60, 200), [5, 6, 7, 30, 31, 90], [400])):
        place = record.put_place(by=shop.owner, site=shop.site, name=f"P{n}", temperature_source="logger")
        rows = [TemperatureRow(place, NOW - timedelta(hours=h), 20.0) for h in hours]
        record.add_many_readings(by=shop.owner, rows=rows, source="log")
    record.put_place(by=shop.owner, site=shop.site, name="Van", temperature_source="parked_vehicle")
    stories = [story for one in shop.site.places.order_by("name") if (story := story_of(one, NOW, 7)).gaps]
    found = silence_at(shop.site, NOW, 7)
    assert [one.place for one in found.places] == [one.place for one in stories]
    assert [one.gap_h for one in found.places] == pytest.approx([one.gap_h for one in stories])
    assert [one.is_unread_vehicle for one in found.places] == [one.is_unread_vehicle for one in stories]
    assert len(stories) >= 4 and found.max_gap_h == stories[0].max_gap_h


def test_what_is_kept_of_a_year_is_a_year(shop: Shop, spec: CordSpec) -> None:
    years = reckon_years(spec, shop.site, [], NOW).years
    assert as_was(list[RatedLife], as_kept(years)) == years
