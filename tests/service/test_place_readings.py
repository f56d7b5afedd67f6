"""Readings taken for the stays of a few bows are as good as all that the places have, and take one query."""

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Place, TemperatureReading
from service.gather import gather, place_heat
from service.instants import epoch_s
from service.place_readings import MOST_AT_ONCE, REACH_S, Stretch, merged, readings_for, readings_of
from service.unread_heat import unread_s
from service.wear.heat import HeatScale, PlaceHeat
from tests import personas
from tests.personas import Shop

DAY_S, HOUR_S = 86_400.0, 3_600.0
START_S = epoch_s(datetime(2026, 1, 1, tzinfo=UTC))
MAX_GAP_H = 3.0


@pytest.fixture
def shop(db: None) -> Shop:
    """Larkspur Range."""
    return personas.shop()


@pytest.fixture
def places(shop: Shop) -> list[Place]:
    """Three places read for thirty days: every hour, with holes of up to two days, and hardly at all."""
    random = np.random.default_rng(3)
    made = [Place.objects.create(site=shop.site, name=f"shed {n}", temperature_source="logger") for n in range(3)]
    hours = [np.arange(720), np.flatnonzero(np.arange(720) % 97 > 40), np.array([5, 300, 301, 650])]
    for place, some in zip(made, hours, strict=True):
        TemperatureReading.objects.bulk_create(
            TemperatureReading(place=place, at=at(hour * HOUR_S), celsius=random.uniform(-5.0, 45.0))
            for hour in some.tolist()
        )
    return made


def at(second: float) -> datetime:
    """An instant counted from the first."""
    return datetime.fromtimestamp(START_S + second, UTC)


def heat_of(place: Place, read: tuple) -> PlaceHeat:
    return place_heat(place, read, HeatScale(), MAX_GAP_H)


def test_within_the_stretches_heat_gaps_and_extremes_are_those_of_all_readings(places: list[Place]) -> None:
    random = np.random.default_rng(8)
    checked = 0
    for _ in range(40):
        place = places[int(random.integers(3))]
        edges = START_S + np.sort(random.uniform(-4 * DAY_S, 34 * DAY_S, 6)).round()
        stretches = [Stretch(place.pk, a, b) for a, b in edges.reshape(3, 2)]
        part = heat_of(place, readings_for(stretches).get(place.pk, (np.empty(0), np.empty(0))))
        whole = heat_of(place, readings_of(place))
        start, end = edges[0::2], edges[1::2]
        np.testing.assert_allclose(part.between(start, end), whole.between(start, end), rtol=1e-12, atol=1e-9)
        np.testing.assert_array_equal(part.max_between(start, end), whole.max_between(start, end))
        for one in stretches:
            unread = [unread_s(heat, one, START_S + 30 * DAY_S) for heat in (part, whole)]
            assert unread[0] == pytest.approx(unread[1], abs=1e-3)
            checked += unread[0] > 0.0
    assert checked > 50


def test_only_what_lies_near_is_read(places: list[Place]) -> None:
    ten = START_S + 10 * DAY_S
    times, celsius = readings_for([Stretch(places[0].pk, ten, ten + HOUR_S)])[places[0].pk]
    assert times.min() == ten - REACH_S
    assert times.max() == ten + HOUR_S + REACH_S
    assert times.size == celsius.size == 50


def test_a_stretch_that_has_not_ended_reads_on(places: list[Place]) -> None:
    times, _celsius = readings_for([Stretch(places[0].pk, START_S + 29 * DAY_S, math.nan)])[places[0].pk]
    assert times.max() == START_S + 719 * HOUR_S


def test_stretches_that_share_readings_are_joined() -> None:
    near = [Stretch(1, 0.0, 10.0), Stretch(1, 10.0 + 2 * REACH_S, 4 * REACH_S), Stretch(2, 0.0, 5.0)]
    assert merged(near) == [Stretch(1, 0.0, 4 * REACH_S), Stretch(2, 0.0, 5.0)]
    assert len(merged([Stretch(1, 0.0, 10.0), Stretch(1, 11.0 + 2 * REACH_S, 4 * REACH_S)])) == 2
    assert merged([Stretch(1, 0.0, math.nan), Stretch(1, 9 * REACH_S, 10 * REACH_S)]) == [Stretch(1, 0.0, math.inf)]
    assert merged([]) == []


def test_more_stretches_than_one_query_compares_with(places: list[Place]) -> None:
    far_apart = [
        Stretch(place.pk, START_S + n * 3 * DAY_S, START_S + n * 3 * DAY_S + 1.0) for place in places for n in range(90)
    ]
    assert len(merged(far_apart)) > MOST_AT_ONCE
    with CaptureQueriesContext(connection) as queries:
        found = readings_for(far_apart)
    assert len(queries) == math.ceil(len(far_apart) / MOST_AT_ONCE)
    # A second of every third day, with a day before and after it, leaves out the hours in between.
    times, _celsius = readings_for([Stretch(places[0].pk, START_S, START_S + 30 * DAY_S)])[places[0].pk]
    assert set(found[places[0].pk][0]) < set(times)
    assert set(found) == {place.pk for place in places}


def test_a_bow_that_hung_at_many_places_takes_no_more_queries(shop: Shop, places: list[Place]) -> None:
    settled, moved = personas.fitted_bow(shop, "single", "S-1"), personas.fitted_bow(shop, "single", "M-1")
    settled.stays.all().delete()
    moved.stays.all().delete()
    settled.stays.create(place=places[0], start=at(0), end=at(DAY_S))
    for n in range(9):
        moved.stays.create(place=places[n % 3], start=at(n * DAY_S), end=at((n + 1) * DAY_S))
    counts = []
    for bow in (settled, moved):
        with CaptureQueriesContext(connection) as queries:
            gather([bow.pk])
        counts.append(len(queries))
    assert counts[0] == counts[1]
