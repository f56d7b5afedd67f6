"""By night the names of people who left go, on their day and not before."""

from datetime import timedelta

import pytest

from fleet import record
from fleet.models import Person
from service.night import run
from tests import personas
from tests.personas import NOW

pytestmark = pytest.mark.django_db


def test_on_the_day_and_not_before() -> None:
    shop = personas.shop()
    departure = record.let_go(by=shop.owner, person=shop.counter, now=NOW)
    for days, told in ((29, "Larkspur Counter"), (30, f"person {shop.counter.pk}")):
        now = NOW + timedelta(days=days)
        assert (now.date() >= departure.erase_on) == (days == 30)
        run.run_site(shop.site.pk, now.date(), now)
        assert str(Person.objects.get(pk=shop.counter.pk)) == told
