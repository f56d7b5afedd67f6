"""`manage.py due --timing`: every bow's first measurement out of tolerance in words, the soonest first."""

import re

import pytest

from service import decide
from service.models import TimingDrift
from tests import personas
from tests.service.commands import run

pytestmark = pytest.mark.django_db


def test_it_tells_each_bow_once_with_bounds_and_what_is_assumed() -> None:
    shop = personas.shop(indoor_temperature_c=30.0)
    warm = personas.fitted_bow(shop, tag="L-1")
    personas.shoot(shop, warm, 600, days_ago=99)
    personas.bare_bow(shop, warm.spec_sheet, "L-BARE")
    decide.rebuild(personas.NOW)
    first = TimingDrift.objects.filter(bow=warm).exclude(leaves_on=None).order_by("leaves_on")[0]
    lines = run("due", "--timing", "--site", "larkspur").splitlines()
    assert len(lines) == 2
    told = (
        rf"larkspur L-1: .+ leaves 1/(8|16) in about {first.leaves_on} "
        rf"\(10 % by {first.leaves_from}, 90 % (by {first.leaves_until}|beyond a year)\); now .+ by the estimate "
        r"\(assumed: .*creep rate.*\)"
    )
    assert re.fullmatch(told, lines[0])
    assert lines[1] == "larkspur L-BARE: not predicted: no reference lengths with a tolerance, or no cords"
