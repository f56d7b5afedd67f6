"""At the bench: starting takes the bow in, entering keeps everything, and nothing impossible is kept."""

import pytest

from fleet import lookups, record
from fleet.record import Refused
from fleet.vocabulary import BowState
from service.models import OrderStatus, WorkOrder
from service.orders import close, work
from service.orders.work import TypedCord, TypedReading
from tests import personas
from tests.orders.bench import NOW, enter, fresh_bow, issued, new_set, on_reference

pytestmark = pytest.mark.django_db


class TestStart:
    def test_the_bow_is_on_the_bench_under_the_order(self, shop: personas.Shop, order: WorkOrder) -> None:
        work.start(order, by=shop.technician, now=NOW)
        assert (order.status, order.started_at) == (OrderStatus.IN_WORK, NOW)
        assert lookups.state_of(order.bow) == BowState.ON_BENCH
        assert work.start(order, by=shop.technician, now=NOW).started_at == NOW

    def test_a_bow_that_is_out_cannot_be_taken_in(self, shop: personas.Shop) -> None:
        bow = fresh_bow(shop)
        order = issued(shop, bow)
        record.hand_out(by=shop.counter, bow=bow, reference="K-1", at=NOW, known={})
        with pytest.raises(Refused, match="is out with a guest: take it back first"):
            work.start(order, by=shop.technician, now=NOW)
        order.refresh_from_db()
        assert order.status == OrderStatus.ISSUED


class TestEnter:
    def test_everything_typed_is_kept_and_the_order_is_in_work(self, shop: personas.Shop, order: WorkOrder) -> None:
        enter(
            order,
            shop,
            readings=[TypedReading("axle_to_axle", 0.84, None, tool_code=shop.tool_codes["rule"])],
            cords=[TypedCord("string", half_twists=43)],
            steps_done=[2, 0, 2],
            note="peep turned",
        )
        order = WorkOrder.objects.get(pk=order.pk)
        reading = order.readings.get(kind="axle_to_axle")
        assert (order.status, order.steps_done, order.note) == (OrderStatus.IN_WORK, [0, 2], "peep turned")
        assert (reading.as_found, reading.as_left, reading.tool.code) == (0.84, None, shop.tool_codes["rule"])
        assert order.cords.get(position="string").half_twists == 43

    def test_typing_again_replaces_and_leaves_the_rest(self, shop: personas.Shop, order: WorkOrder) -> None:
        enter(
            order, shop, readings=[TypedReading("axle_to_axle", 0.84, None), TypedReading("brace_height", 0.17, None)]
        )
        enter(order, shop, readings=[TypedReading("axle_to_axle", 0.84, 0.8382)])
        found = {one.kind: (one.as_found, one.as_left) for one in order.readings.all()}
        assert found == {"axle_to_axle": (0.84, 0.8382), "brace_height": (0.17, None)}

    def test_out_of_tolerance_is_kept_as_typed(self, shop: personas.Shop, order: WorkOrder) -> None:
        enter(order, shop, readings=[TypedReading("axle_to_axle", 0.9, 0.9)])
        assert order.readings.get().as_left == 0.9

    @pytest.mark.parametrize(
        ("reading", "said"),
        [
            (TypedReading("axle_to_axle", 33.0, None), r"axle to axle 33 m is outside 0\.4 to 1\.9 m"),
            (TypedReading("peak_weight", None, 5_000.0), "peak weight 5000 N is outside 20 to 550 N"),
            (TypedReading("stop_sync", float("nan"), None), r"stop sync nan m is outside -0\.03 to 0\.03 m"),
            (TypedReading("nock_colour", 1.0, None), "measurement 'nock_colour' is not one of axle_to_axle"),
            (TypedReading("axle_to_axle", 0.84, None, tool_code="NONE"), "tool 'NONE' is not one of .*: larkspur-draw"),
        ],
        ids=["inches as metres", "grams", "not a number", "unknown kind", "unknown tool"],
    )
    def test_an_impossible_reading_is_refused_with_the_range(
        self, shop: personas.Shop, order: WorkOrder, reading: TypedReading, said: str
    ) -> None:
        with pytest.raises(Refused, match=said):
            enter(order, shop, readings=[TypedReading("brace_height", 0.17, None), reading])
        order.refresh_from_db()
        assert order.status == OrderStatus.ISSUED
        assert not order.readings.exists()

    @pytest.mark.parametrize(
        ("cord", "said"),
        [
            (TypedCord("string", half_twists=201), "twists 201 half turns is outside 0 to 200 half turns"),
            (TypedCord("string", replaced=True, removed_why="bored"), "reason 'bored' is not one of planned"),
            (TypedCord("string", finding="frayed"), "finding 'frayed' is not one of broken_strand"),
            (TypedCord("buss_cable", half_twists=40), "has no buss_cable: its positions are string, upper_cable"),
        ],
    )
    def test_an_impossible_cord_is_refused(
        self, shop: personas.Shop, order: WorkOrder, cord: TypedCord, said: str
    ) -> None:
        with pytest.raises(Refused, match=said):
            enter(order, shop, cords=[cord])
        assert not order.cords.exists()

    @pytest.mark.parametrize("end", ["signed", "cancelled"])
    def test_a_closed_order_takes_nothing_more(self, shop: personas.Shop, order: WorkOrder, end: str) -> None:
        enter(order, shop, readings=on_reference(order), cords=new_set(order))
        if end == "signed":
            close.sign(order, by=shop.technician, now=NOW)
        else:
            work.cancel(order, by=shop.technician, why="wrong bow", now=NOW)
        order.refresh_from_db()
        with pytest.raises(Refused, match=rf"order {order.number} is {end}"):
            enter(order, shop, note="more")
        order.refresh_from_db()
        assert "more" not in order.note


class TestCancel:
    def test_the_bow_leaves_the_bench_and_what_held_it_still_does(self, shop: personas.Shop) -> None:
        bow = fresh_bow(shop)
        record.report_incident(by=shop.counter, bow=bow, kind="dry_fire", happened_at=NOW, key="d", now=NOW)
        order = issued(shop, bow)
        enter(order, shop, note="axle clip ordered")
        work.cancel(order, by=shop.manager, why="sent to the maker", now=NOW)
        order.refresh_from_db()
        assert (order.status, order.closed_at) == (OrderStatus.CANCELLED, NOW)
        assert order.note == "axle clip ordered\nsent to the maker"
        assert lookups.state_of(bow) == BowState.HELD

    def test_what_was_typed_stays_in_the_book(self, shop: personas.Shop, order: WorkOrder) -> None:
        enter(order, shop, readings=[TypedReading("axle_to_axle", 0.84, 0.8382)])
        work.cancel(order, by=shop.manager, why="wrong bow", now=NOW)
        assert order.readings.get().as_found == 0.84
        assert lookups.state_of(order.bow) == BowState.READY

    def test_a_reason_is_asked_for(self, shop: personas.Shop, order: WorkOrder) -> None:
        with pytest.raises(Refused, match="Say why the order is cancelled"):
            work.cancel(order, by=shop.manager, why="  ", now=NOW)
        order.refresh_from_db()
        assert order.status == OrderStatus.ISSUED

    def test_a_signed_order_is_not_cancelled(self, shop: personas.Shop, order: WorkOrder) -> None:
        enter(order, shop, readings=on_reference(order), cords=new_set(order))
        close.sign(order, by=shop.technician, now=NOW)
        order.refresh_from_db()
        with pytest.raises(Refused, match="is signed, not released: this needs it to be issued or in work"):
            work.cancel(order, by=shop.manager, why="second thoughts", now=NOW)
