"""A site's night: once, each on its own clock, without the others' failures; shown to the manager."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client

from fleet import record
from fleet.models import AuditEntry, GuestName, Person, Site
from service import decide, schedule
from service.learned import learn_all
from service.models import CordWear, Need, NightlyRun, Plan, SpecLife
from service.night import run
from tests import personas
from tests.pages.conftest import BACKEND
from tests.pages.reading import Page
from tests.personas import NOW, Shop, before

pytestmark = pytest.mark.both_engines
Send = Callable[[int, str], None]
TODAY = date(2026, 7, 1)


def wrong(*_args: object, **_kwargs: object) -> None:
    raise RuntimeError("the abacus broke")


def test_a_night_computes_drafts_and_erases(shop: Shop) -> None:
    personas.fitted_bow(shop)
    record.put_booking(
        by=shop.counter, site=shop.site, reference="B-1", start=before(40), end=before(40, hours=-1), hand="right",
        guest_name="Wilhelmina Quade",
    )  # fmt: skip
    assert run.run_site(shop.site.pk, TODAY, NOW)
    assert CordWear.objects.count() == 3 and Need.objects.exists()
    assert Plan.objects.get().report["solved"]
    assert not GuestName.objects.exists()
    night = NightlyRun.objects.get()
    assert (night.night, night.error, night.tries, night.names_erased) == (TODAY, "", 1, 1)
    erased = AuditEntry.objects.get(verb="erase_guest_names")
    assert (erased.person.username, erased.person.is_active) == ("bracebook-by-night", False)


def test_a_large_site_is_computed_in_turns_where_one_writer_holds_up_the_others(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite has one writer at a time; PostgreSQL takes a site whole. Either way every bow is computed once."""
    bows = {personas.fitted_bow(shop, "single").pk for _ in range(3)}
    turns: list[set[int]] = []
    refresh = decide.refresh
    monkeypatch.setattr(decide, "NIGHT_TURN", 2)
    monkeypatch.setattr(decide, "refresh", lambda ids, now: turns.append(set(ids)) or refresh(ids, now))
    run.compute(shop.site, NOW)
    whole = connection.features.has_select_for_update
    assert [len(turn) for turn in turns] == ([3] if whole else [2, 1])
    assert set().union(*turns) == bows
    assert CordWear.objects.filter(as_of=NOW, fitting__bow__in=bows).count() == 2 * len(bows)


def test_a_night_that_went_well_is_not_done_again(shop: Shop) -> None:
    personas.fitted_bow(shop)
    run.run_site(shop.site.pk, TODAY, NOW)
    made = Plan.objects.get().pk
    assert not run.run_site(shop.site.pk, TODAY, NOW + timedelta(hours=1))
    assert Plan.objects.get().pk == made
    assert run.run_site(shop.site.pk, TODAY + timedelta(days=1), NOW + timedelta(days=1))


def test_the_night_looks_as_far_ahead_as_the_manager_chose(shop: Shop) -> None:
    run.run_site(shop.site.pk, TODAY, NOW)
    assert Plan.objects.get().days == schedule.DEFAULT_DAYS
    schedule.draft(shop.site, TODAY, 75, NOW)
    run.run_site(shop.site.pk, TODAY + timedelta(days=1), NOW + timedelta(days=1))
    drafted = Plan.objects.get()
    assert (drafted.first_day, drafted.days) == (TODAY + timedelta(days=1), 75)


@pytest.mark.parametrize(
    ("module", "name", "step"),
    [(run, "compute", "computing wear and needs"), (schedule, "draft", "drafting the plan")],
)
def test_what_fails_is_written_down_raised_and_tried_again(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, module: object, name: str, step: str
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr(module, name, wrong)
        for tries in (1, 2):
            with pytest.raises(RuntimeError, match="abacus"):
                run.run_site(shop.site.pk, TODAY, NOW)
            assert NightlyRun.objects.get().tries == tries
    night = NightlyRun.objects.get()
    assert night.error == f"{step}: RuntimeError: the abacus broke"
    assert night.ended_at is not None
    assert run.run_site(shop.site.pk, TODAY, NOW)
    assert NightlyRun.objects.get().error == ""


def test_one_sites_failure_does_not_stop_the_others(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    camp = personas.shop("ridgecamp", time_zone="Europe/Zurich")
    for one in (shop, camp):
        personas.fitted_bow(one)
    real = run.compute

    def breaks_at_larkspur(site: Site, now: datetime) -> None:
        if site == shop.site:
            wrong()
        real(site, now)

    monkeypatch.setattr(run, "compute", breaks_at_larkspur)

    def in_turn(site_id: int, night: str) -> None:
        try:
            run.run_site(site_id, date.fromisoformat(night), NOW)
        except RuntimeError:
            return

    assert run.begin(NOW, in_turn) == 2
    assert {one.site.code: bool(one.error) for one in NightlyRun.objects.all()} == {
        "larkspur": True,
        "ridgecamp": False,
    }
    assert [plan.site for plan in Plan.objects.all()] == [camp.site]


def test_each_site_begins_at_two_on_its_own_clock(shop: Shop, sent: list[tuple[int, str]], send: Send) -> None:
    camp = personas.shop("ridgecamp", time_zone="Europe/Zurich").site
    # 00:30 UTC on 2 July: 02:30 in Zurich, 18:30 on 1 July in Denver (whose night of 1 July is done).
    NightlyRun.objects.create(site=shop.site, night=TODAY, started_at=NOW, ended_at=NOW, tries=1)
    run.begin(datetime(2026, 7, 2, 0, 30, tzinfo=UTC), send)
    assert sent == [(camp.pk, "2026-07-02")]
    NightlyRun.objects.filter(site=camp).update(ended_at=NOW, tries=1)
    # 07:30 UTC: 01:30 in Denver; 08:10 UTC: 02:10.
    run.begin(datetime(2026, 7, 2, 7, 30, tzinfo=UTC), send)
    assert len(sent) == 1
    run.begin(datetime(2026, 7, 2, 8, 10, tzinfo=UTC), send)
    assert sent[1:] == [(shop.site.pk, "2026-07-02")]


def test_a_night_under_way_is_left_alone_and_a_killed_one_begun_again(
    shop: Shop, sent: list[tuple[int, str]], send: Send
) -> None:
    for minutes, expected in ((0, 1), (10, 1), (59, 1), (61, 2)):
        run.begin(NOW + timedelta(minutes=minutes), send)
        assert len(sent) == expected, minutes


def test_after_the_most_tries_the_next_night_is_awaited(shop: Shop, sent: list[tuple[int, str]], send: Send) -> None:
    NightlyRun.objects.create(
        site=shop.site,
        night=TODAY,
        started_at=before(hours=9),
        ended_at=before(hours=9),
        tries=run.MOST_TRIES,
        error="x",
    )
    assert run.begin(NOW, send) == 0
    assert run.begin(NOW + timedelta(days=1), send) == 1


def test_learning_that_fails_is_said_and_stops_no_site(shop: Shop, monkeypatch: pytest.MonkeyPatch, send: Send) -> None:
    monkeypatch.setattr(run, "learn_all", wrong)
    assert run.begin(NOW, send) == 1
    assert run.run_site(shop.site.pk, TODAY, NOW)
    assert NightlyRun.objects.get().error.startswith("learning cord lives (the last learned ones stand): RuntimeError")


def test_learning_that_fails_while_it_saves_leaves_what_was_learned(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, send: Send
) -> None:
    personas.fitted_bow(shop)
    learn_all(NOW)
    learned = set(SpecLife.objects.values_list("cord_spec", "learned_at"))
    assert learned
    monkeypatch.setattr(SpecLife.objects, "bulk_create", wrong)
    run.begin(NOW + timedelta(days=1), send)
    assert set(SpecLife.objects.values_list("cord_spec", "learned_at")) == learned


def test_the_manager_sees_what_failed_on_every_page(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "compute", wrong)
    with pytest.raises(RuntimeError):
        run.run_site(shop.site.pk, TODAY, NOW)
    with time_machine.travel(NOW):
        pages = {}
        for person in (shop.manager, shop.counter):
            client = Client()
            client.force_login(person, backend=BACKEND)
            pages[person] = Page(client.get("/bows/")).text
        client.force_login(shop.manager, backend=BACKEND)
        shown = Page(client.get("/nights/")).text
    assert "did not go well" in pages[shop.manager]
    assert "did not go well" not in pages[shop.counter]
    assert "the abacus broke" in shown


def test_the_night_watch_has_no_role_and_cannot_sign_in(shop: Shop) -> None:
    run.run_site(shop.site.pk, TODAY, NOW)
    watch = Person.objects.get(username="bracebook-by-night")
    assert not watch.has_usable_password() and not watch.posts.exists()
