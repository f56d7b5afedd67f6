"""Many bows held in one act, and that act taken back: exactly its own holds, never a bow that got another reason."""

import pytest

from fleet import lookups, record
from fleet.models import AuditEntry, Bow, Hold, HoldAction
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, Shop, before


def held(shop: Shop, *bows: Bow, detail: str = "lot Z frays") -> HoldAction:
    """The bows held in one act."""
    return record.hold_many(by=shop.manager, site=shop.site, bows=bows, detail=detail, picked="lot Z", at=NOW)


@pytest.fixture
def bows(shop: Shop) -> list[Bow]:
    """Three bows of the range."""
    sheet = personas.spec_sheet(shop.owner, "twin")
    return [personas.bare_bow(shop, sheet) for _ in range(3)]


def test_each_bow_is_held_with_the_reason(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, *bows[:2])
    assert [lookups.state_of(bow) for bow in bows] == ["held", "held", "ready"]
    assert [hold.detail for hold in lookups.open_holds(bows[0])] == ["lot Z frays"]
    assert (action.held.count(), action.picked) == (2, "lot Z")


def test_each_bows_own_history_tells_of_it(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, bows[0])
    entry = AuditEntry.objects.filter(bow=bows[0])[0]
    assert (entry.verb, entry.person, entry.detail["action"]) == ("hold", shop.manager, action.pk)
    record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert AuditEntry.objects.filter(bow=bows[0])[0].verb == "release"


def test_taken_back_it_releases_what_it_held_and_says_so(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, *bows)
    undone = record.undo_hold_many(by=shop.owner, action=action, at=NOW)
    assert undone.released == tuple(bow.tag for bow in bows)
    assert undone.kept == ()
    assert [lookups.state_of(bow) for bow in bows] == ["ready"] * 3
    assert (action.undone_by, action.undone_at) == (shop.owner, NOW)
    assert Hold.objects.get(bow=bows[0]).released.by == shop.owner


def test_a_bow_that_got_another_reason_meanwhile_stays_held_by_both(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, *bows)
    record.report_incident(by=shop.counter, bow=bows[1], kind="drop", happened_at=NOW, key="d", now=NOW)
    undone = record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert undone.kept == (bows[1].tag,)
    assert [lookups.state_of(bow) for bow in bows] == ["ready", "held", "ready"]
    assert {hold.reason for hold in lookups.open_holds(bows[1])} == {"person", "incident"}


def test_what_held_a_bow_before_goes_on_holding_it(shop: Shop, bows: list[Bow]) -> None:
    record.hold(by=shop.technician, bow=bows[0], reason="turnaround", detail="frayed", since=before(1))
    action = held(shop, bows[0])
    undone = record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert undone.released == (bows[0].tag,)
    assert [hold.detail for hold in lookups.open_holds(bows[0])] == ["frayed"]


def test_what_the_bench_released_meanwhile_is_left_alone(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, *bows[:2])
    release = record.release(by=shop.technician, bow=bows[0], at=NOW)
    undone = record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert undone.released == (bows[1].tag,)
    assert Hold.objects.get(bow=bows[0]).released == release


def test_taking_it_back_leaves_a_bow_on_its_bench(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, bows[0])
    record.take_to_bench(by=shop.technician, bow=bows[0], order_number="W-1", at=NOW)
    record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert lookups.state_of(bows[0]) == "on_bench"


def test_it_is_taken_back_once(shop: Shop, bows: list[Bow]) -> None:
    action = held(shop, bows[0])
    record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    with pytest.raises(Refused, match=r"taken back at 2026-07-01 09:00 MDT already: hold the bows anew"):
        record.undo_hold_many(by=shop.manager, action=action, at=NOW)


def test_two_acts_on_one_bow_are_two_reasons(shop: Shop, bows: list[Bow]) -> None:
    """The earlier act finds a later reason; the later one is taken back first."""
    first, second = held(shop, bows[0]), held(shop, bows[0], detail="its limbs, too")
    assert record.undo_hold_many(by=shop.manager, action=first, at=NOW).kept == (bows[0].tag,)
    assert record.undo_hold_many(by=shop.manager, action=second, at=NOW).released == (bows[0].tag,)
    assert lookups.state_of(bows[0]) == "held"


def test_an_act_that_says_what_one_in_force_says_is_refused(shop: Shop, bows: list[Bow]) -> None:
    first = held(shop, *bows)
    for again in (bows, bows[:1]):
        with pytest.raises(Refused, match="held for this reason already, since 2026-07-01 09:00 MDT"):
            held(shop, *again)
    record.undo_hold_many(by=shop.manager, action=first, at=NOW)
    assert held(shop, *bows).pk != first.pk


def test_nothing_chosen_no_reason_another_site_and_a_retired_bow_are_refused(shop: Shop, bows: list[Bow]) -> None:
    with pytest.raises(Refused, match="No bow was chosen: narrow the list"):
        held(shop)
    with pytest.raises(Refused, match="Say in words why these bows are held"):
        record.hold_many(by=shop.manager, site=shop.site, bows=bows, detail=" ", picked="all", at=NOW)
    camp = personas.shop("ridgecamp")
    with pytest.raises(Refused, match=f"{bows[0].tag}: not a bow of Ridgecamp Range"):
        held(camp, bows[0])
    record.retire(by=shop.manager, bow=bows[2], at=NOW, why="limb cracked")
    with pytest.raises(Refused, match=f"{bows[2].tag} is retired"):
        held(shop, *bows)
    assert not Hold.objects.exists()
