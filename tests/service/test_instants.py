"""Instants read by the database are the same whole seconds that Python reckons, on both engines."""

from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.models import Shots
from service.columns import columns
from service.instants import day_of, end_of, epoch_s, start_of
from tests import personas


@pytest.mark.django_db
@pytest.mark.both_engines
def test_database_and_python_agree_to_the_second() -> None:
    shop = personas.shop()
    bow = personas.fitted_bow(shop)
    for days in (1.0, 2.5, 40.123456):
        personas.shoot(shop, bow, 30, days_ago=days)
    rows = Shots.objects.filter(bow=bow, superseded_at=None)
    pk, start, end = columns(rows, "pk", start="start", end="end")
    kept = {one.pk: one for one in rows}
    assert len(pk) == 3
    for i, key in enumerate(pk):
        assert start[i] == epoch_s(kept[int(key)].start)
        assert end[i] == epoch_s(kept[int(key)].end)


def test_a_day_of_a_zone_is_23_hours_long_when_the_clocks_go_forward() -> None:
    # Own edge case: in Europe/Paris 2026-03-29 lost the hour from 02:00 to 03:00.
    day = date(2026, 3, 29)
    assert end_of(day, "Europe/Paris") - start_of(day, "Europe/Paris") == timedelta(hours=23)
    assert day_of(datetime(2026, 3, 28, 23, 30, tzinfo=UTC), "Europe/Paris") == day
