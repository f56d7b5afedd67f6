"""Reference sets: one current, versions kept. Tools and signed results."""

from dataclasses import replace
from datetime import date

import pytest
from django.db import IntegrityError, transaction

from fleet import lookups, record
from fleet.models import Bow, ReferenceSet, ResultMeasurement, SignedResult
from fleet.record import Reading, ReferenceValue, Refused
from tests import personas
from tests.personas import INCH_M, NOW, Shop, before


def take(shop: Shop, bow: Bow, values: list[ReferenceValue], origin: str = "draw_board") -> ReferenceSet:
    return record.record_reference_set(
        by=shop.technician, bow=bow, origin=origin, taken_at=before(1), values=values, now=NOW
    )


def longer_brace(values: list[ReferenceValue]) -> list[ReferenceValue]:
    return [replace(one, value=one.value + INCH_M / 16) if one.kind == "brace_height" else one for one in values]


def test_a_new_version_becomes_the_current_one_and_the_old_one_stays(shop: Shop, bow: Bow) -> None:
    old = lookups.current_reference_set(bow)

    new = take(shop, bow, longer_brace(personas.reference_values()))

    assert lookups.current_reference_set(bow) == new
    assert [(one.version, one.current) for one in bow.reference_sets.order_by("version")] == [(1, False), (2, True)]
    assert old is not None and old.measurements.get(kind="brace_height").value == pytest.approx(7 * INCH_M)
    assert new.measurements.get(kind="brace_height").value == pytest.approx((7 + 1 / 16) * INCH_M)


def test_the_database_keeps_one_current_set_per_bow(shop: Shop, bow: Bow) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        ReferenceSet.objects.create(
            bow=bow, version=9, origin="maker", taken_at=NOW, taken_by=shop.technician, current=True
        )


def test_the_same_values_again_are_the_same_version(shop: Shop, bow: Bow) -> None:
    current = lookups.current_reference_set(bow)

    assert take(shop, bow, personas.reference_values()) == current
    assert take(shop, bow, personas.reference_values(), origin="maker") != current


def test_measured_with_which_tool(shop: Shop, bow: Bow) -> None:
    values = personas.reference_values(tool_code=shop.tool_codes["rule"])

    taken = take(shop, bow, longer_brace(values))

    assert {m.tool.code for m in taken.measurements.select_related("tool") if m.tool} == {"larkspur-rule"}
    with pytest.raises(Refused, match=r"tool 'no-such-rule' is not in the book: add it first, or correct its code"):
        take(shop, bow, personas.reference_values(tool_code="no-such-rule"), origin="maker")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (ReferenceValue("brace_heigth", 0.18, 0.003), r"measurement 'brace_heigth' is not one of axle_to_axle, brace"),
        (ReferenceValue("brace_height", 7.0, 0.003), r"brace height 7 m is outside 0\.08 to 0\.35 m: check the unit"),
        (ReferenceValue("brace_height", 0.18, -0.003), r"tolerance -0\.003 m is outside 0 to 0\.27 m: give the half-"),
        (ReferenceValue("twists", 20.0, 1.0, position="buss_cable"), r"twists of the buss_cable: its positions are"),
        (ReferenceValue("axle_to_axle", 0.84, 0.003), r"axle to axle is given more than once: keep the last one"),
    ],
)
def test_values_that_cannot_be_are_refused(shop: Shop, bow: Bow, value: ReferenceValue, text: str) -> None:
    with pytest.raises(Refused, match=text):
        take(shop, bow, [*personas.reference_values(), value])
    assert bow.reference_sets.count() == 1


def test_a_set_without_measurements_or_from_the_future_is_refused(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"L-T1: a reference set needs at least one measurement"):
        take(shop, bow, [])
    with pytest.raises(Refused, match=r"references taken 2026-07-11 15:00 UTC lies in the future"):
        personas.references(shop, bow, days_ago=-10)


def sign(shop: Shop, bow: Bow, readings: list[Reading], number: str = "W-1", **changes: object) -> SignedResult:
    given = {
        "reference_set": lookups.current_reference_set(bow),
        "work": ["twisted the buss cable in"],
        "cords_changed": [],
        "steps_done": [],
        "at": NOW,
    }
    return record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number=number,
        readings=readings,
        **{**given, **changes},  # type: ignore[arg-type]
    )


def test_a_result_is_signed_once_and_released_once(shop: Shop, bow: Bow) -> None:
    result = sign(shop, bow, [Reading("brace_height", 0.175, 0.178, tool_code=shop.tool_codes["rule"])])
    stale = SignedResult.objects.get(pk=result.pk)
    record.sign_release(by=shop.manager, result=result, at=NOW)

    with pytest.raises(Refused, match=r"order W-1 is already signed: open a new order for further work"):
        sign(shop, bow, [])
    with pytest.raises(Refused, match=r"order W-1 was already released by Larkspur Manager"):
        record.sign_release(by=shop.owner, result=stale, at=NOW)
    measured = ResultMeasurement.objects.get(result=result)
    assert (measured.as_found, measured.as_left, measured.tool_overdue) == (0.175, 0.178, False)


@pytest.mark.parametrize(("due", "overdue"), [(date(2026, 7, 1), False), (date(2026, 6, 30), True)])
def test_a_measurement_by_an_overdue_tool_is_accepted_and_marked(
    shop: Shop, bow: Bow, due: date, overdue: bool
) -> None:
    record.put_tool(by=shop.manager, code="old-rule", site=shop.site, kind="rule", calibration_due_on=due)

    result = sign(shop, bow, [Reading("brace_height", 0.175, 0.178, tool_code="old-rule")])

    assert result.measurements.get().tool_overdue is overdue


def test_overdue_is_told_by_the_sites_own_day(shop: Shop, bow: Bow) -> None:
    # 03:00 UTC on 2 July is still 1 July in Denver: a tool due on 1 July is not overdue yet.
    record.put_tool(by=shop.manager, code="a-rule", site=shop.site, kind="rule", calibration_due_on=date(2026, 7, 1))

    result = sign(shop, bow, [Reading("brace_height", 0.175, 0.178, tool_code="a-rule")], at=before(hours=-12))

    assert result.measurements.get().tool_overdue is False


def test_a_result_with_readings_that_cannot_be_is_refused(shop: Shop, bow: Bow) -> None:
    other = personas.fitted_bow(shop, "hybrid")
    with pytest.raises(Refused, match=r"measurement 'brase' is not one of axle_to_axle"):
        sign(shop, bow, [Reading("brase", 0.175, None)])
    with pytest.raises(Refused, match=r"brace height 175 m is outside 0\.08 to 0\.35 m"):
        sign(shop, bow, [Reading("brace_height", 175.0, None)])
    with pytest.raises(Refused, match=r"order W-1: the reference set is of .*, not of L-T1"):
        sign(shop, bow, [], reference_set=lookups.current_reference_set(other))
    assert not SignedResult.objects.exists()
