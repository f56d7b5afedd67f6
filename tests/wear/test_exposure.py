"""Exposure of cords: time, shelf, heat, highest temperature, and that all of it adds up."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.wear.exposure import Exposure, exposure, heat_exposure
from service.wear.heat import HeatScale, PlaceHeat
from service.wear.rows import picked
from tests.wear.fleets import (
    ENERGY,
    HOUR_S,
    SCALE,
    cord_rows,
    fixed_places,
    fleet_rows,
    parking_rows,
    shot_rows,
    slack_rows,
    stay_rows,
)
from tests.wear.plain import PlainParking, PlainPlace, factor, plain_heat

NAN = np.nan
REFERENCE_K = 296.15
HOT = factor(45.0, ENERGY, REFERENCE_K)
NOW = 100 * HOUR_S


def test_without_any_event_a_cord_ages_at_its_bows_default_place() -> None:
    result = exposure(fleet_rows(), fixed_places(23.0), NOW)
    assert result.tension_h == pytest.approx([100.0])
    assert result.heat_h == pytest.approx([100.0])
    assert result.shelf_h.tolist() == [0.0]
    assert result.weighted_shots.tolist() == [0.0]
    assert result.max_temperature_c.tolist() == [23.0]


def test_a_stay_replaces_the_default_place_for_its_time() -> None:
    stays = stay_rows([(0, 1, 10 * HOUR_S, 30 * HOUR_S)])
    result = exposure(fleet_rows(stays=stays), fixed_places(23.0, 45.0), NOW)
    assert result.heat_h == pytest.approx([80.0 + 20.0 * HOT])
    assert result.max_temperature_c.tolist() == [45.0]


def test_an_open_stay_lasts_until_now() -> None:
    result = exposure(fleet_rows(stays=stay_rows([(0, 1, 90 * HOUR_S, NAN)])), fixed_places(23.0, 45.0), NOW)
    assert result.heat_h == pytest.approx([90.0 + 10.0 * HOT])


def test_a_parking_goes_before_the_stay_under_it_and_hides_its_heat() -> None:
    stays = stay_rows([(0, 1, 0.0, NAN)])
    parkings = parking_rows([(0, 10 * HOUR_S, 20 * HOUR_S, NAN, 23.0, False, False)])
    result = exposure(fleet_rows(stays=stays, parkings=parkings), fixed_places(23.0, 45.0), NOW)
    assert result.heat_h == pytest.approx([90.0 * HOT + 10.0])


def test_a_parking_that_hides_the_only_hot_stay_hides_its_highest_temperature_too() -> None:
    stays = stay_rows([(0, 1, 10 * HOUR_S, 20 * HOUR_S)])
    parkings = parking_rows([(0, 9 * HOUR_S, 21 * HOUR_S, NAN, 30.0, False, False)])
    result = exposure(fleet_rows(stays=stays, parkings=parkings), fixed_places(23.0, 45.0), NOW)
    assert result.max_temperature_c.tolist() == [30.0]


def test_slack_time_has_no_heat_and_counts_as_shelf_but_keeps_its_highest_temperature() -> None:
    stays = stay_rows([(0, 1, 40 * HOUR_S, 60 * HOUR_S)])
    slacks = slack_rows([(0, 30 * HOUR_S, 70 * HOUR_S), (0, 65 * HOUR_S, 75 * HOUR_S)])
    result = exposure(fleet_rows(stays=stays, slacks=slacks), fixed_places(23.0, 45.0), NOW)
    assert result.heat_h == pytest.approx([55.0])
    assert result.tension_h == pytest.approx([55.0])
    assert result.shelf_h == pytest.approx([45.0])
    assert result.max_temperature_c.tolist() == [45.0]


def test_prior_use_and_shelf_come_with_the_fitting() -> None:
    cords = cord_rows(
        fitted_s=[50 * HOUR_S] * 3,
        made_s=[10 * HOUR_S, NAN, 10 * HOUR_S],
        prior_shots=[120.0, 0.0, 0.0],
        prior_tension_h=[15.0, 0.0, 60.0],
        prior_heat_h=[9.0, 0.0, 0.0],
    )
    result = exposure(fleet_rows(cords), fixed_places(23.0), NOW)
    assert result.weighted_shots.tolist() == [120.0, 0.0, 0.0]
    assert result.tension_h == pytest.approx([65.0, 50.0, 110.0])
    assert result.shelf_h == pytest.approx([25.0, 0.0, 0.0])  # never less than none
    assert result.heat_h == pytest.approx([59.0, 50.0, 50.0])
    before = exposure(fleet_rows(cords), fixed_places(23.0), 40 * HOUR_S)
    assert not np.any(before.tension_h) and not np.any(before.weighted_shots) and not np.any(before.shelf_h)
    assert np.all(np.isnan(before.max_temperature_c))


def test_a_removed_cord_stops_and_its_successor_starts() -> None:
    cords = cord_rows(fitted_s=[0.0, 40 * HOUR_S], removed_s=[40 * HOUR_S, NAN])
    stays = stay_rows([(0, 1, 30 * HOUR_S, 50 * HOUR_S)])
    result = exposure(fleet_rows(cords, stays=stays), fixed_places(23.0, 45.0), NOW)
    assert result.heat_h == pytest.approx([30 + 10 * HOT, 50 + 10 * HOT])


def test_each_cord_by_its_own_activation_energy() -> None:
    low = HeatScale(83_144.0, REFERENCE_K)
    cords = cord_rows(activation_energy_j_per_mol=[ENERGY, 83_144.0])
    places = fixed_places(45.0) | fixed_places(45.0, scale=low)
    result = exposure(fleet_rows(cords), places, NOW)
    assert result.heat_h == pytest.approx([100 * HOT, 100 * factor(45.0, 83_144.0, REFERENCE_K)])


def test_no_cords_at_all() -> None:
    none = picked(cord_rows(), np.zeros(1, dtype=bool))
    assert exposure(fleet_rows(none), {}, NOW).heat_h.size == 0


def test_overlaps_are_refused_with_bow_and_time() -> None:
    stays = stay_rows([(2, 1, 0.0, 20.0), (2, 0, 10.0, 30.0)])
    with pytest.raises(ValueError, match=r"bow 2: two stays overlap between 10 and 20 s"):
        exposure(fleet_rows(stays=stays), fixed_places(23.0, 45.0), NOW)
    parkings = parking_rows([(1, 0.0, 20.0, 20.0, NAN, False, False)] * 2)
    with pytest.raises(ValueError, match="two parkings overlap"):
        exposure(fleet_rows(parkings=parkings), fixed_places(23.0, 45.0), NOW)


def test_stays_back_to_back_and_of_no_length_do_not_overlap() -> None:
    stays = stay_rows([(0, 1, 0.0, HOUR_S), (0, 0, HOUR_S, 2 * HOUR_S), (0, 1, HOUR_S, HOUR_S)])
    result = exposure(fleet_rows(stays=stays), fixed_places(23.0, 45.0), NOW)
    assert result.heat_h == pytest.approx([HOT + 99.0])


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ({}, "no place is integrated for it"),
        (fixed_places(), "place 0: its temperature is not among the 0 given"),
        ({ENERGY: {0: PlaceHeat.fixed(20.0, HeatScale(90_000.0, REFERENCE_K))}}, "build its PlaceHeat anew"),
    ],
)
def test_missing_or_wrong_place_integrals_are_refused(places, words) -> None:
    with pytest.raises(ValueError, match=words):
        exposure(fleet_rows(), places, NOW)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"rated_shots": [0.0]}, "rated_shots is 0.0, must be above 0"),
        ({"rated_h": [NAN]}, "rated_h is nan, must be above 0"),
        ({"prior_shots": [-1.0]}, "prior_shots is -1.0, must be 0 or more"),
        ({"fitted_s": [NAN]}, "fitted_s is nan, must be a known instant"),
        ({"fitted_s": [10.0], "removed_s": [5.0]}, "removed_s is 5.0, must be not before fitted_s"),
        ({"fitted_s": [10.0], "made_s": [15.0]}, "made_s is 15.0, must be not after fitted_s"),
    ],
)
def test_wrong_cords_are_refused(columns, words) -> None:
    with pytest.raises(ValueError, match=words):
        cord_rows(**columns)


# Properties. Half hours, so that everything often touches everything.
PLACES_PLAIN = [
    PlainPlace([], 22.0),
    PlainPlace([(hour * HOUR_S, 20.0 + 7.0 * (hour % 5)) for hour in (2, 3, 4, 5, 11, 12, 14, 15, 16, 20)], 19.0),
    PlainPlace([(hour * HOUR_S, 62.0 - hour) for hour in range(0, 24, 2)], 25.0),
]
PLACES = {
    ENERGY: {
        number: PlaceHeat.from_readings([t for t, _ in p.readings], [c for _, c in p.readings], p.assumed_c, SCALE)
        for number, p in enumerate(PLACES_PLAIN)
    }
}
half_hours = st.integers(0, 60).map(lambda step: step * HOUR_S / 2)


def disjoint(rows):
    """Rows of (bow, start, length, facts) thinned so that none of a bow overlaps another."""
    kept, free_from = [], {}
    for bow, start, length, facts in sorted(rows, key=lambda row: row[:3]):
        if start >= free_from.get(bow, 0.0):
            kept.append((bow, start, start + length, facts))
            free_from[bow] = start + length
    return kept


def row_lists(facts):
    return st.lists(st.tuples(st.integers(0, 1), half_hours, half_hours, facts), max_size=6)


stay_lists = row_lists(st.integers(0, 2)).map(disjoint)
parking_lists = row_lists(
    st.tuples(st.floats(-10.0, 40.0), st.sampled_from([NAN, 66.0]), st.booleans(), st.booleans())
).map(disjoint)
slack_lists = row_lists(st.none())
cord_lists = st.lists(st.tuples(st.integers(0, 1), half_hours, st.none() | half_hours), min_size=1, max_size=5)


def fleet_of(cords, stays, parkings, slacks):
    return fleet_rows(
        cord_rows(
            bow=[bow for bow, _, _ in cords],
            fitted_s=[fitted for _, fitted, _ in cords],
            removed_s=[NAN if lasted is None else fitted + lasted for _, fitted, lasted in cords],
        ),
        shot_rows([(bow, start, start + 1800.0, 10, NAN) for bow, start, _ in cords]),
        stay_rows([(bow, place, start, end) for bow, start, end, place in stays]),
        parking_rows([(bow, start, end, *facts) for bow, start, end, facts in parkings]),
        slack_rows([(bow, start, start + length) for bow, start, length, _ in slacks]),
    )


fleets = st.builds(fleet_of, cord_lists, stay_lists, parking_lists, slack_lists)


def assert_same(one: Exposure, other: Exposure, rtol: float = 1e-9) -> None:
    for name in ("weighted_shots", "tension_h", "shelf_h", "heat_h", "max_temperature_c"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name), rtol=rtol, atol=1e-9, err_msg=name)


@given(cord_lists, stay_lists, parking_lists, slack_lists, half_hours)
@settings(max_examples=60)
def test_agrees_with_the_plain_sum(cords, stays, parkings, slacks, now) -> None:
    ours = heat_exposure(fleet_of(cords, stays, parkings, slacks), PLACES, now)
    for number, (bow, fitted, lasted) in enumerate(cords):
        end = min(now, np.inf if lasted is None else fitted + lasted)
        if end <= fitted:
            assert ours.tension_h[number] == ours.shelf_h[number] == ours.heat_h[number] == 0.0
            continue
        tension, slack, heat, hottest = plain_heat(
            (fitted, end),
            [(place, s, e) for b, s, e, place in stays if b == bow],
            [PlainParking(s, e, *facts) for b, s, e, facts in parkings if b == bow],
            [(s, s + length) for b, s, length, _ in slacks if b == bow],
            PLACES_PLAIN,
            ENERGY,
            REFERENCE_K,
        )
        assert ours.tension_h[number] == pytest.approx(tension, rel=1e-9, abs=1e-9)
        assert ours.shelf_h[number] == pytest.approx(slack, rel=1e-9, abs=1e-9)
        assert ours.heat_h[number] == pytest.approx(heat, rel=1e-7, abs=1e-9)  # quadrature of the parked vehicle
        assert ours.max_temperature_c[number] == pytest.approx(hottest, rel=1e-9)


@given(fleets, half_hours, half_hours)
def test_windows_that_follow_each_other_add_up(rows, one, other) -> None:
    then, now = sorted((one, other))
    whole = exposure(rows, PLACES, now)
    assert_same(exposure(rows, PLACES, then).followed_by(exposure(rows, PLACES, now, since_s=then)), whole)


@given(fleets, half_hours, st.randoms(use_true_random=False))
def test_order_of_arrival_never_matters(rows, now, random) -> None:
    def shuffled(columns):
        order = list(range(columns.bow.size))
        random.shuffle(order)
        return picked(columns, np.array(order, dtype=np.int64))

    mixed = fleet_rows(
        rows.cords, shuffled(rows.shots), shuffled(rows.stays), shuffled(rows.parkings), shuffled(rows.slacks)
    )
    assert_same(exposure(mixed, PLACES, now), exposure(rows, PLACES, now))


@given(fleets, half_hours)
def test_one_bow_alone_equals_its_part_of_the_fleet(rows, now) -> None:
    whole = exposure(rows, PLACES, now)
    for bow in np.unique(rows.cords.bow):
        of_bow = rows.cords.bow == bow
        alone = fleet_rows(
            picked(rows.cords, of_bow),
            picked(rows.shots, rows.shots.bow == bow),
            picked(rows.stays, rows.stays.bow == bow),
            picked(rows.parkings, rows.parkings.bow == bow),
            picked(rows.slacks, rows.slacks.bow == bow),
        )
        part = Exposure(*(getattr(whole, name)[of_bow] for name in Exposure.__dataclass_fields__))
        assert_same(exposure(alone, PLACES, now), part)


@given(fleets, half_hours, half_hours, st.floats(-10.0, 70.0))
def test_a_late_reading_changes_only_the_stretch_it_touches(rows, now, instant, celsius) -> None:
    """The increment a caller makes: exposure over the touched stretch, after minus before."""
    later = {ENERGY: PLACES[ENERGY] | {1: PLACES[ENERGY][1].with_readings([instant], [celsius])}}
    low, high = PLACES[ENERGY][1].touched_by(instant)
    before = exposure(rows, PLACES, now)
    rebuilt = exposure(rows, later, now)
    low, high = min(low, now), min(high, now)
    after_h, before_h = (heat_exposure(rows, places, high, since_s=low).heat_h for places in (later, PLACES))
    np.testing.assert_allclose(before.heat_h + after_h - before_h, rebuilt.heat_h, rtol=1e-9, atol=1e-9)
