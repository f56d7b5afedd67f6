"""Every list and bow page takes as many queries for a larger fleet as for a few bows, and few enough."""

from collections.abc import Callable
from datetime import timedelta

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet import record
from fleet.models import Bow
from service import decide
from tests import personas
from tests.pages import orders
from tests.pages.addresses import LISTS, OF_ONE_BOW, OF_THE_PLAN, filled
from tests.personas import Shop

MORE_BOWS = 6
MORE_PLACES = 8
MOST_QUERIES = 50
# The whole day's lists and the plan's own pages read more kinds of rows than others; no more for more bows.
MOST_OF_A_PLAN = 150
BEYOND_THE_LISTS = ("/due/file.csv", "/due/file.xlsx", "/costs/file.csv", "/orders/file.csv")


def used_bow(shop: Shop, tag: str) -> Bow:
    """A bow with a life: shots, a changed string, a hold and its release, an incident, a signed result."""
    bow = personas.fitted_bow(shop, "single", tag)
    for days_ago in (9, 8, 7):
        personas.shoot(shop, bow, 40, days_ago=days_ago)
    record.remove_cord(
        by=shop.technician,
        fitting=bow.fittings.get(position="string"),
        at=personas.before(5),
        why="planned",
        now=personas.NOW,
    )
    spec = bow.spec_sheet.cords.get(position="string").cord_spec
    personas.fit(shop, bow, personas.cord(shop, spec), days_ago=4)
    record.report_incident(
        by=shop.counter, bow=bow, kind="drop", happened_at=personas.before(3), key=f"drop-{tag}", now=personas.NOW
    )
    record.release(by=shop.technician, bow=bow, at=personas.before(2))
    record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number=f"W-{tag}",
        reference_set=bow.reference_sets.get(current=True),
        readings=[],
        work=[{"kind": "inspection", "reason": "asked for"}],
        cords_changed=[],
        steps_done=[],
        at=personas.before(2),
    )
    return bow


def moved_about(shop: Shop, bow: Bow) -> None:
    """The bow hung at other places, each with a temperature of its own."""
    for number in range(MORE_PLACES):
        place = record.put_place(by=shop.owner, site=shop.site, name=f"Shed {number}", temperature_source="logger")
        at = personas.before(1 - number / 20)
        rows = [record.TemperatureRow(place, at + timedelta(minutes=20 * part), 20.0 + number) for part in range(3)]
        record.add_many_readings(by=shop.owner, rows=rows, source="log")
        record.move_to_place(by=shop.technician, bow=bow, place=place, at=at, now=personas.NOW)


def counted(client: Client, address: str) -> int:
    """How many queries a page takes, once what a process keeps is kept."""
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200, address
    return len(queries)


def made(shop: Shop, bow: Bow) -> dict[str, object]:
    """What the addresses name: a booking, a notice, bows held in one act, an order, a check."""
    start, end = personas.before(-1), personas.before(-2)
    booking = record.put_booking(by=shop.owner, site=shop.site, reference="B-1", start=start, end=end, hand="right")
    notice = record.issue_notice(
        by=shop.manager, title="Lot", issued_on=personas.NOW.date(), at=personas.NOW, cord_lot="LOT-A", holds=False,
        due_on=personas.NOW.date(),
    )  # fmt: skip
    held = personas.fitted_bow(shop, "single", "L-939")
    action = record.hold_many(
        by=shop.manager, site=shop.site, bows=[held], detail="frays", picked="by hand", at=personas.NOW
    )
    check = record.record_turnaround(
        by=shop.counter, bow=bow, at=personas.NOW, answers={}, measurements=[], verdict="ready", key="check-1"
    )
    return {
        "tag": bow.tag,
        "find": "L-9",
        "lot": "LOT-A",
        "booking": booking.pk,
        "notice": notice.pk,
        "action": action.pk,
        "place": shop.rack.pk,
        "order": orders.issued(shop, bow).number,
        "incident": bow.incidents.get().pk,
        "coefficient": "activation_energy",
        "check": check.key,
    }


def pages(known: dict[str, object]) -> dict[str, int]:
    """Every list and every page of one bow, with the most queries that it may take."""
    named = {**filled(LISTS, **known), **filled(OF_ONE_BOW, **known)}
    most = {
        one: MOST_OF_A_PLAN if name in OF_THE_PLAN else MOST_QUERIES for name, some in named.items() for one in some
    }
    return {**most, **dict.fromkeys(BEYOND_THE_LISTS, MOST_QUERIES)}


def test_a_larger_fleet_and_a_longer_life_take_no_more_queries(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    bow = used_bow(shop, "L-940")
    for number in range(2):
        used_bow(shop, f"L-95{number}")
    known = made(shop, bow)
    computed()
    client, most = signed_in(shop.owner), pages(known)
    few = {address: counted(client, address) for address in most}
    for number in range(MORE_BOWS):
        used_bow(shop, f"L-{960 + number}")
    moved_about(shop, bow)
    for part in range(12):
        personas.shoot(shop, bow, 10, days_ago=2 - part / 100)
    decide.rebuild(personas.NOW)
    many = {address: counted(client, address) for address in most}
    assert {address: (few[address], count) for address, count in many.items() if count > few[address]} == {}
    assert {address: count for address, count in many.items() if count > most[address]} == {}
