"""Bows: a unique tag, and a state that follows from events alone."""

import pytest
from django.db import IntegrityError, transaction

from fleet import lookups, record
from fleet.models import BenchVisit, Bow, Hire, SetUp
from fleet.record import Refused
from fleet.vocabulary import BowState
from tests import personas
from tests.personas import NOW, POUND_N, Shop, before


def out(shop: Shop, bow: Bow, reference: str = "B-1") -> Hire:
    return record.hand_out(by=shop.counter, bow=bow, reference=reference, at=before(0.1), known={"life_used": 0.2})


def test_a_tag_names_one_bow(shop: Shop, bow: Bow) -> None:
    again = record.put_bow(by=shop.manager, tag="L-T1", serial="TV-777", spec_sheet=bow.spec_sheet, hand="right")

    assert again.pk == bow.pk
    assert Bow.objects.filter(tag="L-T1").count() == 1
    with pytest.raises(IntegrityError), transaction.atomic():
        Bow.objects.create(
            tag="L-T1", spec_sheet=bow.spec_sheet, hand="right", site=shop.site, in_service_on=NOW.date()
        )


def test_a_fresh_bow_is_ready(bow: Bow) -> None:
    assert lookups.state_of(bow) == BowState.READY


def test_a_hold_holds_and_a_release_closes_it(shop: Shop, bow: Bow) -> None:
    record.hold(by=shop.counter, bow=bow, reason="person", detail="odd noise", since=before(1))
    assert lookups.state_of(bow) == BowState.HELD
    assert [hold.detail for hold in lookups.open_holds(bow)] == ["odd noise"]

    record.release(by=shop.technician, bow=bow, at=NOW, note="nothing found")

    assert lookups.state_of(bow) == BowState.READY
    assert lookups.open_holds(bow) == []


def test_a_release_closes_only_the_holds_that_it_names(shop: Shop, bow: Bow) -> None:
    first = record.hold(by=shop.counter, bow=bow, reason="person", detail="odd noise", since=before(2))
    record.hold(by=shop.counter, bow=bow, reason="heat", detail="81 degC in the trailer", since=before(1))

    record.release(by=shop.technician, bow=bow, at=NOW, holds=[first])

    assert lookups.state_of(bow) == BowState.HELD
    assert [hold.reason for hold in lookups.open_holds(bow)] == ["heat"]


def test_on_the_bench_from_taking_in_to_release(shop: Shop, bow: Bow) -> None:
    record.hold(by=shop.counter, bow=bow, reason="person", detail="odd noise", since=before(1))
    record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=before(0.5))
    assert lookups.state_of(bow) == BowState.ON_BENCH

    record.release(by=shop.technician, bow=bow, at=NOW, order_number="W-1")

    assert lookups.state_of(bow) == BowState.READY
    assert BenchVisit.objects.get(bow=bow).until == NOW


def test_leaving_the_bench_without_a_release_keeps_the_hold(shop: Shop, bow: Bow) -> None:
    record.hold(by=shop.counter, bow=bow, reason="person", detail="odd noise", since=before(1))
    record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=before(0.5))

    record.leave_bench(by=shop.technician, bow=bow, order_number="W-1", at=NOW)

    assert lookups.state_of(bow) == BowState.HELD


def test_a_bow_is_on_the_bench_under_one_order(shop: Shop, bow: Bow) -> None:
    visit = record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=before(0.5))

    assert record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=NOW) == visit
    with pytest.raises(Refused, match=r"is on the bench under W-1: close that order first"):
        record.take_to_bench(by=shop.technician, bow=bow, order_number="W-2", at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        BenchVisit.objects.create(bow=bow, order_number="W-2", since=NOW)


def test_a_bow_cannot_be_released_before_it_came_to_the_bench(shop: Shop, bow: Bow) -> None:
    record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=before(0.5))

    with pytest.raises(Refused, match=r"came to the bench at 2026-07-01 03:00 UTC, after 2026-06-30 15:00 UTC"):
        record.release(by=shop.technician, bow=bow, at=before(1))


def test_out_then_back(shop: Shop, bow: Bow) -> None:
    out(shop, bow)
    assert lookups.state_of(bow) == BowState.OUT

    hire = record.take_back(by=shop.counter, bow=bow, at=NOW)

    assert lookups.state_of(bow) == BowState.READY
    assert (hire.back_at, hire.back_by) == (NOW, shop.counter)
    assert hire.known_at_hand_out == {"life_used": 0.2}


def test_one_open_hire_per_bow(shop: Shop, bow: Bow) -> None:
    out(shop, bow)

    with pytest.raises(Refused, match=r"L-T1 is out: pick another bow"):
        out(shop, bow, "B-2")
    with pytest.raises(IntegrityError), transaction.atomic():
        Hire.objects.create(bow=bow, reference="B-2", out_at=NOW, out_by=shop.counter)


def test_the_same_hand_out_sent_twice_is_one_hire(shop: Shop, bow: Bow) -> None:
    assert out(shop, bow) == out(shop, bow)


def test_a_held_bow_is_not_handed_out_and_the_refusal_says_why(shop: Shop, bow: Bow) -> None:
    record.hold(by=shop.counter, bow=bow, reason="person", detail="odd noise at the upper cam", since=before(1))

    with pytest.raises(Refused, match=r"L-T1 is held \(odd noise at the upper cam\): pick another bow"):
        out(shop, bow)


def test_a_bow_on_the_bench_or_retired_is_not_handed_out(shop: Shop, bow: Bow) -> None:
    record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=before(0.5))
    with pytest.raises(Refused, match=r"L-T1 is on the bench: pick another bow"):
        out(shop, bow)

    record.retire(by=shop.manager, bow=bow, at=NOW, why="limb cracked")
    with pytest.raises(Refused, match=r"L-T1 is retired: pick another bow"):
        out(shop, bow)


def test_a_bow_without_all_its_cords_is_not_handed_out(shop: Shop, bow: Bow) -> None:
    fitting = lookups.fitted(bow).get(position="upper_cable")
    record.remove_cord(by=shop.technician, fitting=fitting, at=before(1), why="planned", now=NOW)

    assert lookups.missing_positions(bow) == ["upper_cable"]
    with pytest.raises(Refused, match=r"has no upper cable in the book: record the cord that is fitted, or pick"):
        out(shop, bow)


def test_a_bow_recalled_while_out_reads_out_until_it_is_back(shop: Shop, bow: Bow) -> None:
    out(shop, bow)
    record.hold(by=shop.manager, bow=bow, reason="notice", detail="lot recalled", since=NOW)
    assert lookups.state_of(bow) == BowState.OUT

    record.take_back(by=shop.counter, bow=bow, at=NOW)

    assert lookups.state_of(bow) == BowState.HELD


def test_a_bow_that_is_out_goes_neither_to_the_bench_nor_out_of_service(shop: Shop, bow: Bow) -> None:
    out(shop, bow)

    with pytest.raises(Refused, match=r"is out with a guest: take it back first"):
        record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=NOW)
    with pytest.raises(Refused, match=r"is out with a guest: take it back before you retire it"):
        record.retire(by=shop.manager, bow=bow, at=NOW, why="old")


def test_retired_is_the_end(shop: Shop, bow: Bow) -> None:
    first = record.retire(by=shop.manager, bow=bow, at=before(1), why="limb cracked")

    assert lookups.state_of(bow) == BowState.RETIRED
    assert record.retire(by=shop.manager, bow=bow, at=NOW, why="again") == first
    with pytest.raises(Refused, match=r"is retired: no work is done on it"):
        record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=NOW)


def test_taking_back_a_bow_that_is_in_is_refused(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"is not out with a guest: look at its history"):
        record.take_back(by=shop.counter, bow=bow, at=NOW)


def test_a_bow_cannot_come_back_before_it_went_out(shop: Shop, bow: Bow) -> None:
    out(shop, bow)
    with pytest.raises(Refused, match=r"after 2026-06-30 15:00 UTC: check the time"):
        record.take_back(by=shop.counter, bow=bow, at=before(1))


def test_the_state_of_many_bows_is_one_query(shop: Shop, bow: Bow, django_assert_num_queries: object) -> None:
    personas.fitted_bow(shop, "hybrid", tag="L-H1")
    record.hold(by=shop.counter, bow=bow, reason="person", detail="odd noise", since=before(1))

    with django_assert_num_queries(1):  # type: ignore[operator]
        states = {one.tag: one.state for one in lookups.with_state(Bow.objects.all())}

    assert states == {"L-T1": BowState.HELD, "L-H1": BowState.READY}


def test_a_hand_the_sheet_is_not_made_for_is_refused(shop: Shop) -> None:
    sheet = personas.spec_sheet(shop.owner, hands="right")

    with pytest.raises(Refused, match=r"made for the right hand only, not the left hand"):
        personas.bare_bow(shop, sheet, hand="left")
    bow = personas.bare_bow(shop, sheet, "L-R1")
    with pytest.raises(Refused, match=r"made for the right hand only, not the left hand"):
        record.put_bow(by=shop.manager, tag="L-R1", hand="left")
    bow.refresh_from_db()
    assert bow.hand == "right"


def test_a_sheet_without_the_fitted_cables_is_refused(shop: Shop, bow: Bow) -> None:
    recurve = personas.spec_sheet(shop.owner, kind="recurve")

    with pytest.raises(Refused, match=r"carries a (upper|lower) cable, which Tamarack Vale Recurve 30 has not"):
        record.put_bow(by=shop.manager, tag=bow.tag, spec_sheet=recurve)


def test_a_set_up_stays_within_the_sheet(shop: Shop, bow: Bow) -> None:
    with pytest.raises(
        Refused, match=r"L-T1: peak weight 311\.\d+ N is outside the spec sheet's 133\.\d+ to 266\.\d+ N"
    ):
        record.set_up(by=shop.technician, bow=bow, since=NOW, draw_length_m=0.7, peak_weight_n=70 * POUND_N, now=NOW)


def test_the_set_up_in_force_is_the_latest_before_the_instant(shop: Shop, bow: Bow) -> None:
    turned_down = record.set_up(
        by=shop.technician, bow=bow, since=before(10), draw_length_m=0.7, peak_weight_n=35 * POUND_N, now=NOW
    )
    first = SetUp.objects.filter(bow=bow).order_by("since")[0]

    assert lookups.set_up_at(bow, before(11)) == first
    assert lookups.set_up_at(bow, before(9)) == turned_down
    assert lookups.set_up_at(bow, before(1000)) == first


def test_a_deferral_is_in_writing(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"needs its reason in writing"):
        record.defer(by=shop.manager, bow=bow, need_kind="replacement", until=NOW.date(), why=" ", at=NOW)


def test_moving_to_another_site(shop: Shop, bow: Bow) -> None:
    camp = record.put_site(by=shop.owner, code="camp", name="Camp", time_zone="Europe/Oslo", units="metric")

    record.move_to_site(by=shop.manager, bow=bow, site=camp)

    assert Bow.objects.get(pk=bow.pk).site == camp
