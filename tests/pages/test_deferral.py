"""A manager puts a due replacement off in writing: to the hard limit at most, and the bow may go out until then."""

from collections.abc import Callable
from datetime import timedelta

from django.test import Client

from fleet import record
from fleet.models import Bow, Deferral
from service import decide
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
