"""Two people at the same instant: one wins, the other is told; a thing sent twice is there once. On both engines."""

import itertools
from functools import partial

import pytest

from fleet import lookups, record
from fleet.models import Bow, Fitting, Hire, Incident, Release, Shots, SignedResult
from fleet.vocabulary import BowState
from service import decide
from service.models import OrderStatus, WorkOrder
from service.orders import close
from service.orders.issue import issue_now
from tests import personas
from tests.committed import committed_book  # noqa: F401
from tests.faults.two_at_once import at_once
from tests.orders import bench
from tests.personas import NOW, Shop, before

pytestmark = pytest.mark.both_engines
# A race is lost seldom: each is run this often.
ROUNDS = 4
_numbers = itertools.count(1)


@pytest.fixture
def shop(committed_book: None) -> Shop:  # noqa: F811
    return personas.shop(f"range{next(_numbers)}")


def a_bow(shop: Shop) -> Bow:
    return personas.fitted_bow(shop, "single", f"L-{next(_numbers)}", days_ago=10)


def a_key() -> str:
    return f"tap-{next(_numbers)}"


def test_a_bow_is_hired_out_once(shop: Shop) -> None:
    for _ in range(ROUNDS):
        bow = a_bow(shop)
        hand_out = partial(record.hand_out, by=shop.counter, bow=bow, at=NOW, known={"verdict": "ready"})
        won, told = at_once(partial(hand_out, reference="G-one"), partial(hand_out, reference="G-two"))
        assert len(won) == 1 == Hire.objects.filter(bow=bow).count()
        assert len(told) == 1 and ("pick another bow" in told[0] or "already holds an entry" in told[0])
        assert lookups.state_of(bow) == BowState.OUT


def test_one_cord_is_fitted_to_one_bow(shop: Shop) -> None:
    sheet, spec = personas.spec_sheet(shop.owner, "single"), personas.cord_spec(shop.owner)
    for _ in range(ROUNDS):
        cord = personas.cord(shop, spec)
        fit = partial(
            record.fit_cord, by=shop.technician, cord=cord, position="string", at=before(1), now=NOW, half_twists=40
        )
        won, told = at_once(*(partial(fit, bow=personas.bare_bow(shop, sheet)) for _ in range(2)))
        assert len(won) == 1 == len(told)
        assert Fitting.objects.filter(cord=cord).count() == 1


def test_two_cords_are_not_fitted_to_one_position(shop: Shop) -> None:
    sheet, spec = personas.spec_sheet(shop.owner, "single"), personas.cord_spec(shop.owner)
    for _ in range(ROUNDS):
        bow = personas.bare_bow(shop, sheet)
        fit = partial(
            record.fit_cord, by=shop.technician, bow=bow, position="string", at=before(1), now=NOW, half_twists=40
        )
        won, told = at_once(*(partial(fit, cord=personas.cord(shop, spec)) for _ in range(2)))
        assert len(won) == 1 == len(told)
        assert Fitting.objects.filter(bow=bow, removed_at=None).count() == 1


def test_an_entry_sent_twice_at_once_is_there_once(shop: Shop) -> None:
    """The two of a double tap carry one key: one row stands, and sending it again answers with it."""
    for _ in range(ROUNDS):
        shoot = partial(personas.shoot, shop, a_bow(shop), 40, key=a_key())
        won, told = at_once(shoot, shoot)
        assert won and len(won) + len(told) == 2
        assert Shots.objects.filter(key=won[0].key).count() == 1
        assert shoot().pk == won[0].pk


def test_an_incident_sent_twice_at_once_holds_once(shop: Shop) -> None:
    for _ in range(ROUNDS):
        bow, key = a_bow(shop), a_key()
        report = partial(
            record.report_incident, by=shop.counter, bow=bow, kind="drop", happened_at=before(hours=1), key=key, now=NOW
        )
        at_once(report, report)
        assert Incident.objects.filter(key=key).count() == 1
        assert len(lookups.open_holds(bow)) == 1


def test_a_bow_that_is_dropped_while_it_is_handed_out_is_held(shop: Shop) -> None:
    """Whichever comes first, the hold stands; the hire is refused or the bow is called back."""
    for _ in range(ROUNDS):
        bow = a_bow(shop)
        told = {"by": shop.technician, "bow": bow, "kind": "drop", "happened_at": before(hours=1), "now": NOW}
        at_once(
            partial(record.hand_out, by=shop.counter, bow=bow, reference="G-1", at=NOW, known={}),
            partial(record.report_incident, key=a_key(), **told),
        )
        assert len(lookups.open_holds(bow)) == 1
        assert lookups.state_of(bow) in (BowState.HELD, BowState.OUT)


def an_order(shop: Shop) -> WorkOrder:
    """An order whose every measurement is on its reference, ready to be signed."""
    order = bench.issued(shop, bench.fresh_bow(shop, f"L-{next(_numbers)}"))
    return bench.enter(order, shop, readings=bench.on_reference(order))


def test_an_order_is_signed_once_and_released_once(shop: Shop) -> None:
    order = an_order(shop)
    sign = partial(close.sign, order, by=shop.technician, now=NOW)
    won, told = at_once(sign, sign)
    assert len(won) == 1 == len(told)
    assert SignedResult.objects.filter(order_number=order.number).count() == 1

    won, told = at_once(*(partial(close.release, order, by=by, now=NOW) for by in (shop.manager, shop.owner)))
    assert len(won) == 1 == len(told)
    assert "only a signed order is released" in told[0] or "already released by" in told[0]
    assert Release.objects.filter(order_number=order.number).count() == 1
    order.refresh_from_db()
    assert order.status == OrderStatus.RELEASED


def test_one_bow_gets_one_open_order(shop: Shop) -> None:
    bow = a_bow(shop)
    decide.rebuild(NOW)
    issue = partial(issue_now, bow, day=bench.DAY, by=shop.technician, now=NOW)
    won, told = at_once(issue, issue)
    assert won and len(won) + len(told) == 2
    assert WorkOrder.objects.filter(bow=bow).count() == 1


def test_two_facts_of_one_bow_at_once_leave_the_book_as_a_rebuild_would(shop: Shop) -> None:
    bow = a_bow(shop)
    decide.rebuild(NOW)
    for _ in range(ROUNDS):
        at_once(
            partial(personas.shoot, shop, bow, 30, days_ago=2, key=a_key()),
            partial(personas.shoot, shop, bow, 50, days_ago=1, key=a_key()),
        )
    decide.refresh_stale(NOW)
    assert decide.differences() == []
