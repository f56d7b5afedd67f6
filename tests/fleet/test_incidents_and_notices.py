"""Incidents hold at once; notices match by spec sheet, serial range and cord lot, now and later."""

import pytest
from django.utils import translation

from fleet import lookups, record
from fleet.models import Bow, Hold, Incident, Notice, NoticeMatch
from fleet.record import Refused
from fleet.record.notices import serial_order
from fleet.vocabulary import BowState, IncidentKind
from service.wording import worded
from tests import personas
from tests.personas import NOW, Shop, before


def report(shop: Shop, bow: Bow, kind: str = "dry_fire", key: str = "i-1", **changes: object) -> Incident:
    given = {"happened_at": before(hours=1), "now": NOW}
    return record.report_incident(by=shop.counter, bow=bow, kind=kind, key=key, **{**given, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", IncidentKind.values)
def test_every_incident_holds_the_bow_at_once(shop: Shop, bow: Bow, kind: str) -> None:
    incident = report(shop, bow, kind)

    assert lookups.state_of(bow) == BowState.HELD
    assert incident.hold.detail == f"{IncidentKind(kind).label} on 2026-07-01 08:00 MDT"


def test_an_incident_sent_twice_holds_once(shop: Shop, bow: Bow) -> None:
    assert report(shop, bow) == report(shop, bow)

    assert len(lookups.open_holds(bow)) == 1
    with pytest.raises(Refused, match=r"key 'i-1' was used for another entry, whose kind is dry_fire and not drop"):
        report(shop, bow, "drop")


def test_an_incident_that_cannot_be_is_refused_and_holds_nothing(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"incident 'fell' is not one of dry_fire, drop, crushed"):
        report(shop, bow, "fell")
    with pytest.raises(Refused, match=r"incident 2026-07-02 15:00 UTC lies in the future"):
        report(shop, bow, happened_at=before(-1))
    assert lookups.state_of(bow) == BowState.READY


def issue(shop: Shop, **about: object) -> Notice:
    given = {"title": "Check the limb pockets", "issued_on": NOW.date(), "at": NOW}
    return record.issue_notice(by=shop.manager, **{**given, **about})  # type: ignore[arg-type]


def matched(notice: Notice) -> set[str]:
    return set(notice.matches.values_list("bow__tag", flat=True))


@pytest.fixture
def fleet(shop: Shop) -> dict[str, Bow]:
    """Four bows: serials A9, A10 and none on a twin sheet, B10 on a hybrid; A10 carries a string of lot LOT-B."""
    twin = personas.spec_sheet(shop.owner, "twin")
    hybrid = personas.spec_sheet(shop.owner, "hybrid")
    bows = {
        "nine": personas.bare_bow(shop, twin, "nine", serial="A9"),
        "ten": personas.bare_bow(shop, twin, "ten", serial="A10"),
        "unmarked": personas.bare_bow(shop, twin, "unmarked", serial=""),
        "other": personas.bare_bow(shop, hybrid, "other", serial="B10"),
    }
    personas.fit(shop, bows["nine"], personas.cord(shop, personas.cord_spec(shop.owner), lot="LOT-A"))
    personas.fit(shop, bows["ten"], personas.cord(shop, personas.cord_spec(shop.owner), lot="LOT-B"))
    return bows


def test_a_notice_matches_by_spec_sheet(shop: Shop, fleet: dict[str, Bow]) -> None:
    notice = issue(shop, spec_sheet=fleet["nine"].spec_sheet)

    assert matched(notice) == {"nine", "ten", "unmarked"}
    assert lookups.state_of(fleet["ten"]) == BowState.HELD
    assert lookups.state_of(fleet["other"]) == BowState.READY


def test_a_notice_matches_by_serial_range_in_the_order_of_numbers(shop: Shop, fleet: dict[str, Bow]) -> None:
    assert serial_order("A9") < serial_order("A10") < serial_order("B1")
    assert matched(issue(shop, serial_from="A8", serial_to="A9")) == {"nine"}
    assert matched(issue(shop, serial_from="a10", serial_to="A0099")) == {"ten"}
    assert matched(issue(shop, serial_from="A10")) == {"ten", "other"}


def test_a_bow_without_a_serial_cannot_be_ruled_out_of_its_own_sheets_range(shop: Shop, fleet: dict[str, Bow]) -> None:
    notice = issue(shop, spec_sheet=fleet["nine"].spec_sheet, serial_from="A10", serial_to="A20")

    assert matched(notice) == {"ten", "unmarked"}


def test_a_notice_matches_by_lot_of_a_fitted_cord(shop: Shop, fleet: dict[str, Bow]) -> None:
    assert matched(issue(shop, cord_lot="LOT-B")) == {"ten"}


def test_a_notice_matches_all_that_it_names(shop: Shop, fleet: dict[str, Bow]) -> None:
    assert matched(issue(shop, spec_sheet=fleet["other"].spec_sheet, cord_lot="LOT-B")) == set()


def test_a_retired_bow_is_left_alone(shop: Shop, fleet: dict[str, Bow]) -> None:
    record.retire(by=shop.manager, bow=fleet["ten"], at=before(1), why="limb cracked")

    assert matched(issue(shop, cord_lot="LOT-B")) == set()


def test_a_notice_without_a_hold_sets_a_day_and_holds_nothing(shop: Shop, fleet: dict[str, Bow]) -> None:
    with pytest.raises(Refused, match=r"does not hold needs the day by which it is answered"):
        issue(shop, cord_lot="LOT-B", holds=False)

    notice = issue(shop, cord_lot="LOT-B", holds=False, due_on=before(-30).date())

    assert matched(notice) == {"ten"}
    assert lookups.state_of(fleet["ten"]) == BowState.READY


def test_a_notice_names_what_it_is_about(shop: Shop) -> None:
    with pytest.raises(Refused, match=r"names what it is about: a spec sheet, a serial range or a cord lot"):
        issue(shop)
    with pytest.raises(Refused, match=r"serials run from A20 to A10: the earlier one comes first"):
        issue(shop, serial_from="A20", serial_to="A10")


def test_a_bow_added_under_a_standing_notice_is_held_too(shop: Shop, fleet: dict[str, Bow]) -> None:
    notice = issue(shop, serial_from="A1", serial_to="A99")

    late = personas.bare_bow(shop, fleet["nine"].spec_sheet, "late", serial="A50")

    assert matched(notice) == {"nine", "ten", "late"}
    assert lookups.state_of(late) == BowState.HELD


def test_a_cord_of_a_recalled_lot_holds_the_bow_that_it_is_fitted_to(shop: Shop, fleet: dict[str, Bow]) -> None:
    notice = issue(shop, cord_lot="LOT-B")

    personas.fit(shop, fleet["unmarked"], personas.cord(shop, personas.cord_spec(shop.owner), lot="LOT-B"), days_ago=0)

    assert matched(notice) == {"ten", "unmarked"}
    assert lookups.state_of(fleet["unmarked"]) == BowState.HELD


def test_an_answered_bow_is_held_again_by_another_cord_of_the_lot(shop: Shop, fleet: dict[str, Bow]) -> None:
    notice = issue(shop, cord_lot="LOT-B", at=before(1))
    ten = fleet["ten"]
    fitting = lookups.fitted(ten).get()
    record.remove_cord(by=shop.technician, fitting=fitting, at=before(0.5), why="planned", now=NOW)
    record.answer_notice(
        by=shop.technician, match=NoticeMatch.objects.get(notice=notice, bow=ten), answer="string replaced", at=NOW
    )
    record.release(by=shop.technician, bow=ten, at=NOW)

    personas.fit(shop, ten, personas.cord(shop, personas.cord_spec(shop.owner), lot="LOT-B"), days_ago=0)

    assert lookups.state_of(ten) == BowState.HELD


def test_an_answer_says_what_was_done_and_leaves_the_hold_to_the_bench(shop: Shop, fleet: dict[str, Bow]) -> None:
    match = NoticeMatch.objects.get(notice=issue(shop, cord_lot="LOT-B"), bow=fleet["ten"])
    with pytest.raises(Refused, match=r"Say what was done on this bow under the notice"):
        record.answer_notice(by=shop.technician, match=match, answer=" ", at=NOW)

    record.answer_notice(by=shop.technician, match=match, answer="string replaced", at=NOW)

    match.refresh_from_db()
    assert (match.answer, match.answered_by) == ("string replaced", shop.technician)
    assert lookups.state_of(fleet["ten"]) == BowState.HELD


def test_why_an_incident_holds_is_kept_for_readers_of_any_language(shop: Shop, bow: Bow) -> None:
    with translation.override("fr"):
        report(shop, bow)
    told = Hold.objects.get().detail
    with translation.override("fr"):
        assert worded(told).startswith("tir à vide le ")
    assert told.startswith("dry fire on ") and worded(told) == told
