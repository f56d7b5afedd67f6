"""The same check sent twice at the same instant is one check, one hold, one count, one answer. Both engines."""

from collections.abc import Iterator
from functools import partial
from uuid import uuid4

import pytest

from fleet.models import Hold, Incident, Shots, TurnaroundCheck
from service.turnaround.answers import read_answers
from service.turnaround.short_list import SHORT_LISTS
from service.turnaround.take import Sent, take
from service.units import Units
from tests import personas
from tests.committed import committed_book
from tests.faults.two_at_once import at_once
from tests.personas import NOW, Shop, before
from tests.turnaround.typed import fine, sent

__all__ = ["committed_book"]

pytestmark = pytest.mark.both_engines
ROUNDS = 3


@pytest.fixture
def shop(committed_book: None) -> Iterator[Shop]:
    yield personas.shop("rangex")


def test_two_sends_at_once_are_one_check(shop: Shop) -> None:
    for number in range(ROUNDS):
        bow = personas.fitted_bow(shop, "single", f"L-50{number}", days_ago=10)
        fields = sent(fine(use="1", vehicle="yes", parked="60", outside="70", dropped="yes"))
        answers, problems = read_answers(fields, SHORT_LISTS["compound"], [], Units.IMPERIAL)
        assert answers is not None, problems
        key = str(uuid4())
        # The two arrive a moment apart, as a resend does: each dates the check a little differently.
        sends = [Sent(key, before(hours=hours), answers, {}) for hours in (1.0, 1.001)]
        done, told = at_once(*(partial(take, one, bow=bow, by=shop.counter, now=NOW) for one in sends))
        assert told == []
        assert done[0] == done[1] == TurnaroundCheck.objects.get(bow=bow)
        assert not any("not entered" in line for line in done[0].because)
        assert Shots.objects.filter(bow=bow).count() == 1
        assert Incident.objects.filter(bow=bow).count() == Hold.objects.filter(bow=bow).count() == 1
