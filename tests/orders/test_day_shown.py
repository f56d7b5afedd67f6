"""The day at the bench is patched by one reader at a time; the others see the draft as it stands."""

from datetime import timedelta

import pytest
from django.core.cache import caches

from service import schedule
from service.models import Plan
from service.orders.day import bench_day
from service.planning import one_at_a_time
from service.planning.one_at_a_time import patching
from tests import personas
from tests.orders.bench import worn_bow
from tests.personas import NOW, Shop


@pytest.fixture(autouse=True)
def _with_a_broker(monkeypatch: pytest.MonkeyPatch) -> None:
    """What all processes share; the tests have one process."""
    monkeypatch.setattr(one_at_a_time, "caches", {"shared": caches["default"]})


def test_who_reads_while_another_patches_sees_the_draft_as_it_stands(shop: Shop) -> None:
    worn_bow(shop)
    today = schedule.today_at(shop.site, NOW)
    bench_day(shop.site, today, NOW)
    before = Plan.objects.get()
    personas.fitted_bow(shop)
    later = NOW + timedelta(minutes=1)
    with patching(shop.site) as mine:
        assert mine
        bench_day(shop.site, today, later)
        assert Plan.objects.get() == before
    bench_day(shop.site, today, later)
    assert Plan.objects.get() != before


def test_without_a_draft_a_reader_waits_for_their_own(shop: Shop) -> None:
    worn_bow(shop)
    with patching(shop.site):
        bench_day(shop.site, schedule.today_at(shop.site, NOW), NOW)
    assert Plan.objects.count() == 1


def test_sites_do_not_wait_for_each_other_and_a_turn_ends(shop: Shop) -> None:
    camp = personas.shop("ridgecamp")
    with patching(shop.site) as first, patching(camp.site) as other, patching(shop.site) as second:
        assert (first, other, second) == (True, True, False)
    with patching(shop.site) as again:
        assert again
