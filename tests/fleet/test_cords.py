"""Cords: one per bow and position, never two bows, a condemned one never again; through the verb and under it."""

import pytest
from django.db import IntegrityError, transaction

from fleet import lookups, record
from fleet.models import AuditEntry, Bow, Fitting
from fleet.record import Refused
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowState
from tests import personas
from tests.personas import NOW, Shop, before


def string_of(bow: Bow) -> Fitting:
    return lookups.fitted(bow).get(position="string")


@pytest.mark.parametrize("cam_system", personas.CAM_SYSTEMS)
def test_every_cam_system_takes_exactly_its_own_positions(shop: Shop, cam_system: str) -> None:
    bow = personas.fitted_bow(shop, cam_system)

    assert {fitting.position for fitting in lookups.fitted(bow)} == set(POSITIONS_BY_CAM_SYSTEM[cam_system])
    assert lookups.missing_positions(bow) == []


@pytest.mark.parametrize("kind", ["recurve", "longbow"])
def test_a_bow_without_cams_has_a_string_only(shop: Shop, kind: str) -> None:
    bow = personas.fitted_bow(shop, kind=kind)
    cable = personas.cord(shop, personas.cord_spec(shop.owner, "buss_cable"))

    assert [fitting.position for fitting in lookups.fitted(bow)] == ["string"]
    with pytest.raises(Refused, match=r"has no buss_cable: its positions are string"):
        personas.fit(shop, bow, cable, days_ago=1)


def test_a_second_cord_at_a_taken_position_is_refused(shop: Shop, bow: Bow) -> None:
    spare = personas.cord(shop, personas.cord_spec(shop.owner))

    with pytest.raises(Refused, match=rf"has cord {string_of(bow).cord.serial} as its string: remove that one first"):
        personas.fit(shop, bow, spare, days_ago=1)


def test_the_database_itself_refuses_a_second_cord_at_a_position(shop: Shop, bow: Bow) -> None:
    spare = personas.cord(shop, personas.cord_spec(shop.owner))

    with pytest.raises(IntegrityError), transaction.atomic():
        Fitting.objects.create(cord=spare, bow=bow, position="string", fitted_at=NOW, fitted_by=shop.technician)


def test_a_cord_is_on_one_bow_at_a_time(shop: Shop, bow: Bow) -> None:
    other = personas.bare_bow(shop, bow.spec_sheet, "L-T2")

    with pytest.raises(Refused, match=r"is fitted on L-T1: remove it there first"):
        personas.fit(shop, other, string_of(bow).cord, days_ago=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Fitting.objects.create(
            cord=string_of(bow).cord, bow=other, position="string", fitted_at=NOW, fitted_by=shop.technician
        )


def test_a_cord_for_another_position_is_refused(shop: Shop, bow: Bow) -> None:
    cable = personas.cord(shop, personas.cord_spec(shop.owner, "upper_cable"))

    with pytest.raises(Refused, match=r"is a upper_cable \(QW-upper_cable\), not a string"):
        record.fit_cord(by=shop.technician, cord=cable, bow=bow, position="string", at=NOW, now=NOW)


def test_the_same_fitting_entered_again_changes_nothing(shop: Shop, bow: Bow) -> None:
    there = string_of(bow)

    again = personas.fit(shop, bow, there.cord, days_ago=100)

    assert again == there
    assert Fitting.objects.filter(bow=bow, position="string").count() == 1


def test_a_fitting_before_the_former_cord_came_off_is_refused(shop: Shop, bow: Bow) -> None:
    record.remove_cord(by=shop.technician, fitting=string_of(bow), at=before(10), why="planned", now=NOW)
    spare = personas.cord(shop, personas.cord_spec(shop.owner))

    with pytest.raises(Refused, match=r"was its string until 2026-06-21 15:00 UTC, after the fitting at 2026-06-11"):
        personas.fit(shop, bow, spare, days_ago=20)


def test_a_cord_cannot_be_fitted_before_it_was_made(shop: Shop) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner))
    spare = personas.cord(shop, personas.cord_spec(shop.owner), made_on=before(5).date())

    with pytest.raises(Refused, match=r"made on 2026-06-26, after its fitting on 2026-06-11"):
        personas.fit(shop, bow, spare, days_ago=20)


def test_a_condemned_cord_names_its_finding_and_is_never_fitted_again(shop: Shop, bow: Bow) -> None:
    fitting = string_of(bow)
    with pytest.raises(Refused, match=r"names its finding, one of broken_strand, serving_separated"):
        record.remove_cord(by=shop.technician, fitting=fitting, at=NOW, why="condemned", now=NOW)

    record.remove_cord(
        by=shop.technician, fitting=fitting, at=before(1), why="condemned", finding="broken_strand", now=NOW
    )

    with pytest.raises(Refused, match=r"was condemned and scrapped: it is never fitted again; take another cord"):
        personas.fit(shop, bow, fitting.cord, days_ago=0.5)


def test_a_condemned_cord_holds_its_bow_until_the_bench_releases_it(shop: Shop, bow: Bow) -> None:
    fitting = string_of(bow)
    record.remove_cord(by=shop.technician, fitting=fitting, at=before(1), why="condemned", finding="glazed", now=NOW)
    assert lookups.state_of(bow) == BowState.HELD

    personas.fit(shop, bow, personas.cord(shop, fitting.cord.spec), days_ago=0.5)
    record.release(by=shop.technician, bow=bow, at=NOW, order_number="W-1")

    assert lookups.state_of(bow) == BowState.READY


def test_a_removed_cord_lies_apart_until_somebody_decides_and_keeps_its_history(shop: Shop, bow: Bow) -> None:
    first = string_of(bow)
    record.remove_cord(by=shop.technician, fitting=first, at=before(10), why="planned", now=NOW)
    other = personas.bare_bow(shop, bow.spec_sheet, "L-T2")

    with pytest.raises(Refused, match=r"came off L-T1 on 2026-06-21 \(.+\) and lies apart since"):
        personas.fit(shop, other, first.cord, days_ago=5, again_because="")
    personas.fit(shop, other, first.cord, days_ago=5, again_because="looked over, sound")

    row = AuditEntry.objects.get(verb="fit_cord", detail__again_because="looked over, sound")
    assert (row.person, row.bow) == (shop.technician, other)

    assert [one.bow.tag for one in first.cord.fittings.order_by("fitted_at")] == ["L-T1", "L-T2"]


def test_a_cord_is_removed_once(shop: Shop, bow: Bow) -> None:
    fitting = string_of(bow)
    stale = string_of(bow)
    record.remove_cord(by=shop.technician, fitting=fitting, at=before(1), why="planned", now=NOW)

    with pytest.raises(Refused, match=r"was already removed at 2026-06-30 15:00 UTC"):
        record.remove_cord(by=shop.technician, fitting=stale, at=NOW, why="planned", now=NOW)


def test_removal_before_fitting_is_refused_and_by_the_database_too(shop: Shop, bow: Bow) -> None:
    fitting = string_of(bow)
    with pytest.raises(
        Refused, match=r"was fitted at 2026-03-23 15:00 UTC, after 2025-12-13 15:00 UTC: check the dates"
    ):
        record.remove_cord(by=shop.technician, fitting=fitting, at=before(200), why="planned", now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        Fitting.objects.filter(pk=fitting.pk).update(removed_at=before(200), removed_why="planned")


@pytest.mark.parametrize(
    "columns",
    [
        {"removed_at": NOW, "removed_why": ""},
        {"removed_at": None, "removed_why": "planned"},
        {"removed_at": NOW, "removed_why": "condemned", "finding": ""},
    ],
)
def test_the_database_wants_a_reason_with_every_removal(bow: Bow, columns: dict[str, object]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Fitting.objects.filter(bow=bow, position="string").update(**columns)


def test_a_fitting_in_the_future_is_refused(shop: Shop) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner))
    spare = personas.cord(shop, personas.cord_spec(shop.owner))

    with pytest.raises(Refused, match=r"2026-07-03 15:00 UTC lies in the future \(it is 2026-07-01 15:00 UTC\)"):
        personas.fit(shop, bow, spare, days_ago=-2)


def test_unknown_prior_use_holds_the_bow_before_hire(shop: Shop) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"))
    old = personas.cord(shop, personas.cord_spec(shop.owner), prior_use="unknown")

    personas.fit(shop, bow, old, days_ago=1)

    assert lookups.state_of(bow) == BowState.HELD
    assert "its use before the book began is unknown; inspect before hire" in lookups.open_holds(bow)[0].detail


def test_prior_use_that_turns_out_unknown_holds_the_bow_too(shop: Shop, bow: Bow) -> None:
    cord = string_of(bow).cord
    record.put_cord(by=shop.technician, serial=cord.serial, spec=cord.spec, prior_use="unknown", at=NOW)

    assert lookups.state_of(bow) == BowState.HELD


def test_known_prior_use_carries_its_figures_and_does_not_hold(shop: Shop) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"))
    figures = {"prior_shots": 1200.0, "prior_shots_sd": 200.0, "prior_tension_h": 4000.0, "prior_heat_h": 3500.0}
    used = personas.cord(shop, personas.cord_spec(shop.owner), prior_use="known", **figures)

    personas.fit(shop, bow, used, days_ago=1)

    assert lookups.state_of(bow) == BowState.READY
    used.refresh_from_db()
    assert {name: getattr(used, name) for name in figures} == figures


def test_prior_figures_need_known_prior_use(shop: Shop) -> None:
    spec = personas.cord_spec(shop.owner)
    with pytest.raises(Refused, match=r"prior figures are given, so its prior use must be 'known'"):
        personas.cord(shop, spec, prior_shots=100.0)
    with pytest.raises(Refused, match=r"shots before the book began -5 shots is outside 0 to 200000 shots"):
        personas.cord(shop, spec, prior_use="known", prior_shots=-5.0)


def test_what_is_not_given_of_a_known_cord_stays_as_it_is(shop: Shop) -> None:
    spec = personas.cord_spec(shop.owner)
    cord = personas.cord(shop, spec, lot="LOT-9", prior_use="known", prior_shots=300.0)

    record.put_cord(by=shop.technician, serial=cord.serial, spec=spec, made_on=before(90).date())

    cord.refresh_from_db()
    assert (cord.lot, cord.prior_use, cord.prior_shots) == ("LOT-9", "known", 300.0)
    assert cord.made_on == before(90).date()


def test_half_twists_are_counted_whole_and_within_range(shop: Shop) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner))
    spare = personas.cord(shop, personas.cord_spec(shop.owner))

    with pytest.raises(Refused, match=r"twists 201 half turns is outside 0 to 200 half turns"):
        personas.fit(shop, bow, spare, half_twists=201)


def test_a_reset_before_the_cord_was_fitted_is_refused(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"was fitted at 2026-03-23 15:00 UTC, after this reset at 2026-03-13"):
        record.reset_cord(by=shop.technician, fitting=string_of(bow), at=before(110), half_twists=42)
