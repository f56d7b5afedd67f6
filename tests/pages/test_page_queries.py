"""Every list and bow page takes as many queries for a fleet of twenty-odd bows as for a few, and few enough."""

from collections.abc import Callable

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet import record
from fleet.models import Bow
from service import decide
from tests import personas
from tests.personas import Shop

MORE_BOWS = 18
MOST_QUERIES = 40
PAGES = (
    "/due/",
    "/due/?kind=compound&state=ready&rests=assumed",
    "/due/?rests=arms",
    "/due/file.csv",
    "/bows/",
    "/bows/L-940/",
    "/bows/L-940/life/",
    "/find/?find=L-&all=1",
    "/find/?find=LOT-A",
    "/fleet/",
    "/costs/",
    "/hold/?list=lot&lot=LOT-A",
    "/held/",
    "/house/",
    "/first-steps/",
    "/notices/",
    "/queue/",
)


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


def counted(client: Client, address: str) -> int:
    """How many queries a page takes, once what a process keeps is kept."""
    client.get(address)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200, address
    return len(queries)


def test_a_larger_fleet_and_a_longer_life_take_no_more_queries(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    bow = used_bow(shop, "L-940")
    for number in range(3):
        used_bow(shop, f"L-95{number}")
    computed()
    client = signed_in(shop.owner)
    few = {address: counted(client, address) for address in PAGES}
    for number in range(MORE_BOWS):
        used_bow(shop, f"L-{960 + number}")
    for part in range(30):
        personas.shoot(shop, bow, 10, days_ago=2 - part / 100)
    decide.rebuild(personas.NOW)
    many = {address: counted(client, address) for address in PAGES}
    assert {address: (few[address], count) for address, count in many.items() if count > few[address]} == {}
    assert {address: count for address, count in many.items() if count > MOST_QUERIES} == {}
