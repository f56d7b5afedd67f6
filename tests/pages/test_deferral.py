"""A manager puts a due replacement off in writing: to the hard limit at most, and the bow may go out until then."""

from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from typing import Any

import time_machine
from django.test import Client

from fleet import record
from fleet.models import Bow, Deferral
from service import decide
from service.deferring import defer_replacement
from service.house import LONGEST_DEFERRAL_DAYS
from service.models import Need
from service.verdicts import verdict_of
from tests import personas
from tests.pages.reading import Page
from tests.personas import NOW, Shop

TODAY = NOW.date()


def worn(shop: Shop, **limits: float) -> Bow:
    """A bow that came lately, whose set passed its replacement point yesterday or so."""
    bow = personas.fitted_bow(shop, "single", "L-1", days_ago=20, in_service_on=personas.before(5).date())
    for fitting in bow.fittings.select_related("cord__spec"):
        record.put_cord_spec(by=shop.owner, code=fitting.cord.spec.code, **limits)
    personas.shoot(shop, bow, 4_700, days_ago=2)
    decide.rebuild(NOW)
    return bow


def put_off(client: Client, days: int, why: str = "string looks good, spare set comes Friday") -> str:
    until = TODAY + timedelta(days=days)
    return Page(client.post("/bows/L-1/defer/", {"until": until.isoformat(), "why": why}, follow=True)).text


def held_by_its_set(bow: Bow, days: int) -> bool:
    """Whether the replacement is among what holds the bow so many days from now."""
    return any(line.startswith("replacement was due") for line in verdict_of(bow, NOW + timedelta(days=days)).because)


def test_a_bow_past_its_date_goes_out_again_until_the_day_it_was_put_off_to(
    shop: Shop, signed_in: Callable[..., Client]
) -> None:
    bow = worn(shop)
    assert held_by_its_set(bow, 0)
    client = signed_in(shop.manager)
    assert "is put off to July 4, 2026" in put_off(client, 3)
    decide.refresh([bow.pk], NOW)

    told = Deferral.objects.get()
    assert (told.until, told.by, told.why) == (TODAY + timedelta(days=3), shop.manager, told.why)
    assert not held_by_its_set(bow, 0)
    assert not held_by_its_set(bow, 3)
    assert held_by_its_set(bow, 4)


def test_not_past_the_houses_longest_nor_the_hard_limit(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = worn(shop)
    due = Need.objects.get(bow=bow, kind="replacement").due_on
    client = signed_in(shop.manager)
    page = Page(client.get("/bows/L-1/")).text
    assert f"puts nothing off by more than {LONGEST_DEFERRAL_DAYS} days" in page
    assert "choose another day" in put_off(client, (due - TODAY).days + LONGEST_DEFERRAL_DAYS + 1)
    assert not Deferral.objects.exists()


def test_a_cord_past_its_hard_limit_cannot_wait(shop: Shop, signed_in: Callable[..., Client]) -> None:
    worn(shop, hard_limit_life=0.9)
    assert "cannot wait" in put_off(signed_in(shop.manager), 1)
    assert not Deferral.objects.exists()


def test_a_reason_and_a_day_are_needed(shop: Shop, signed_in: Callable[..., Client]) -> None:
    worn(shop)
    client = signed_in(shop.manager)
    assert "needs its reason in writing" in put_off(client, 2, why=" ")
    told = Page(client.post("/bows/L-1/defer/", {"until": "soon", "why": "x"}, follow=True)).text
    assert "soon is not a day: write it as YYYY-MM-DD" in told
    assert not Deferral.objects.exists()


def test_what_holds_a_bow_cannot_be_put_off(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.fitted_bow(shop, "single", "L-1", days_ago=2)
    fitting = bow.fittings.get(position="string")
    record.remove_cord(by=shop.technician, fitting=fitting, at=NOW, why="condemned", finding="broken_strand", now=NOW)
    decide.rebuild(NOW)
    assert "no replacement due that can be put off" in put_off(signed_in(shop.manager), 2)


def at(moment: datetime) -> Any:
    """The clock of everything, standing still at a moment."""
    return time_machine.travel(moment, tick=False)


def test_when_its_day_has_passed_the_bow_is_held_on_every_page_without_a_night_between(
    shop: Shop, signed_in: Callable[..., Client]
) -> None:
    """The day is the site's: in Denver (UTC-6 in July) the fourth ends at six in the morning of the fifth, UTC."""
    bow = worn(shop)
    manager, counter = signed_in(shop.manager), signed_in(shop.counter)
    put_off(manager, 3)
    decide.refresh([bow.pk], NOW)
    past = "replacement was due on 2026-06-30 and put off to 2026-07-04"
    for moment, held in (
        (datetime(2026, 7, 5, 5, 59, tzinfo=UTC), False),
        (datetime(2026, 7, 5, 6, 1, tzinfo=UTC), True),
    ):
        with at(moment):
            assert (past in Page(manager.get("/bows/L-1/")).text) is held
            assert (past in Page(counter.get("/turnaround/L-1/")).text) is held


def test_a_night_after_its_day_does_not_put_it_off_again(shop: Shop) -> None:
    """What is computed anew after the day knows the deferral as well: it must neither move on nor be forgotten."""
    bow = worn(shop)
    until = TODAY + timedelta(days=3)
    defer_replacement(by=shop.manager, bow=bow, until=until, why="spare set comes Friday", now=NOW)
    for days, held in ((3, False), (4, True), (6, True)):
        then = NOW + timedelta(days=days)
        with at(then):
            decide.rebuild(then)
            need = Need.objects.get(bow=bow, kind="replacement")
            assert (need.latest_on, held_by_its_set(bow, days)) == (until, held), days


def test_what_has_passed_cannot_be_put_off_to_a_day_that_has_passed(
    shop: Shop, signed_in: Callable[..., Client]
) -> None:
    bow = worn(shop)
    due = Need.objects.get(bow=bow, kind="replacement").due_on
    last = due + timedelta(days=LONGEST_DEFERRAL_DAYS)
    client = signed_in(shop.manager)
    with at(NOW + timedelta(days=5)):
        assert "is not between July 6, 2026" in put_off(client, 4)
    with at(datetime.combine(last + timedelta(days=1), time(15), UTC)):
        assert "cannot wait: the last day was" in put_off(client, (last - TODAY).days)
        assert "cannot wait" in put_off(client, (last - TODAY).days + 5)
    assert not Deferral.objects.exists()
