"""Columns of a query are what the ORM reads row by row, on both engines and by both ways of reading."""

import sqlite3
from collections.abc import Iterator
from datetime import timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import record
from fleet.models import Bow, Fitting, Shots, Stay, VehicleParking
from service.columns import columns, indices_of
from service.instants import epoch_s
from tests import personas

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]
TEXT_LIMIT_BYTES = 300


@pytest.fixture
def shop(db: None) -> personas.Shop:
    return personas.shop()


@pytest.fixture(params=["whole texts", "texts too long for the database"])
def _either_way(request: pytest.FixtureRequest, shop: personas.Shop) -> Iterator[None]:
    """SQLite as it is, and with room for only some rows in one text: then the rows come one by one."""
    if connection.vendor != "sqlite":
        yield
        return
    connection.ensure_connection()
    before = connection.connection.getlimit(sqlite3.SQLITE_LIMIT_LENGTH)
    request.addfinalizer(lambda: connection.connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, before))
    if request.param != "whole texts":
        request.node.user_properties.append(("limit", TEXT_LIMIT_BYTES))
    yield


def _limited(request: pytest.FixtureRequest) -> bool:
    """The limit holds only for reading: what is written before it may be longer."""
    for name, value in request.node.user_properties:
        if name == "limit":
            connection.connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, value)
            return True
    return False


@pytest.mark.usefixtures("_either_way")
def test_numbers_and_instants_are_those_of_the_rows(shop: personas.Shop, request: pytest.FixtureRequest) -> None:
    bow = personas.fitted_bow(shop)
    moments = [timedelta(0), timedelta(microseconds=999_600), timedelta(microseconds=1), timedelta(hours=7)]
    for n, by in enumerate(moments * 5):
        start = personas.before(days=20 - n / 2) + by
        personas.shoot(shop, bow, 30 + n, start=start, end=start + timedelta(minutes=n))
    kept = {one.pk: one for one in Shots.objects.all()}
    limited = _limited(request)
    with CaptureQueriesContext(connection) as asked:
        pk, count, start_s, end_s = columns(Shots.objects.all(), "pk", "count", start="start", end="end")
    assert len(asked) == (2 if limited else 1)
    assert len(pk) == len(kept) == 20
    for i, key in enumerate(pk.tolist()):
        entry = kept[int(key)]
        assert (count[i], start_s[i], end_s[i]) == (entry.count, epoch_s(entry.start), epoch_s(entry.end))


@pytest.mark.usefixtures("_either_way")
def test_what_is_not_known_is_nan_and_a_day_begins_at_midnight(
    shop: personas.Shop, request: pytest.FixtureRequest
) -> None:
    bow = personas.fitted_bow(shop)
    stay = Stay.objects.get(bow=bow)
    record.move_to_place(by=shop.technician, bow=bow, place=stay.place, at=personas.NOW, now=personas.NOW)
    fitting = Fitting.objects.get(bow=bow, position="string")
    record.park_in_vehicle(
        by=shop.counter, bow=bow, start=personas.before(2), end=personas.before(1), key="p", now=personas.NOW,
        outside_c=31.25, shade=True,
    )  # fmt: skip
    _limited(request)
    removed, made = columns(Fitting.objects.filter(pk=fitting.pk), removed="removed_at", made="cord__made_on")
    assert np.isnan(removed).all()
    day = fitting.cord.made_on
    assert made.tolist() == [(day - type(day)(1970, 1, 1)).days * 86_400.0]
    outside, cabin, shade = columns(VehicleParking.objects.all(), "outside_c", "cabin_c", "shade")
    assert (outside.tolist(), shade.tolist()) == ([31.25], [1.0])
    assert np.isnan(cabin).all()


def test_no_rows_and_no_query_are_empty_columns(shop: personas.Shop) -> None:
    personas.fitted_bow(shop)
    for rows in (Bow.objects.filter(tag="nobody"), Bow.objects.filter(pk__in=[]), Bow.objects.none()):
        assert [column.shape for column in columns(rows, "pk", since="in_service_on")] == [(0,), (0,)]


@pytest.mark.parametrize("ids", [[3, 5, 4], [3, 5_000_000, 40]], ids=["close", "far apart"])
def test_indices_of_ids(ids: list[int]) -> None:
    index = {pk: i * 10 for i, pk in enumerate(ids)}
    assert indices_of(np.array([*reversed(ids), ids[0]], dtype=np.float64), index).tolist() == [20, 10, 0, 0]
    assert indices_of(np.empty(0), index).size == 0
