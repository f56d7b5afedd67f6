"""A process that writes until it is killed:  python -m tests.faults.writer prepare | FIRST LAST

Each of the numbered writes is a count of shots, a file taken in, or an order from issue to release. A line on the
output acknowledges a write once its verb has returned, as an answered request does. A write that was acknowledged is
never tried again; the first one that was not is, as a person would.
"""

import os
import sys
from datetime import timedelta

import django

SHOTS, IMPORT, SIGN_OFF = "shots", "import", "sign-off"
KINDS = (SHOTS, IMPORT, SHOTS, SIGN_OFF)
ROWS_A_FILE = 20
BOWS = 4


def kind_of(number: int) -> str:
    """What the write of this number is."""
    return KINDS[number % len(KINDS)]


def prepare() -> None:
    """A shop with its bows."""
    from service import decide
    from tests import personas

    shop = personas.shop()
    for number in range(BOWS):
        personas.fitted_bow(shop, "single", f"K-{number}")
    decide.rebuild(personas.NOW)


def write(number: int) -> None:
    """Do one write; doing it again after a kill completes it."""
    {SHOTS: _shots, IMPORT: _import, SIGN_OFF: _sign_off}[kind_of(number)](number)


def _shots(number: int) -> None:
    from fleet import record
    from fleet.models import Bow, Person
    from tests import personas

    begin = personas.before(hours=number + 1)
    record.add_shots(
        by=Person.objects.get(username="larkspur-counter"),
        bow=Bow.objects.get(tag=f"K-{number // BOWS % BOWS}"),
        start=begin,
        end=begin + timedelta(minutes=30),
        count=number + 1,
        how_known="counter",
        key=f"killed-{number}",
        now=personas.NOW,
    )


def _import(number: int) -> None:
    from fleet.models import Person
    from service.intake import apply, read_table
    from tests import personas

    hours = personas.before(days=number + 1)
    lines = [f"{(hours + timedelta(minutes=n)).isoformat()},larkspur,Rack,{20 + n / 10}" for n in range(ROWS_A_FILE)]
    table = read_table("\n".join(["at,site,place,temperature_c", *lines]).encode(), "log.csv")
    outcome = apply("temperatures", table, by=Person.objects.get(username="owner"), now=personas.NOW)
    assert outcome.clean, [str(problem) for problem in outcome.problems]


def _sign_off(number: int) -> None:
    from fleet.models import Bow, Person
    from service.models import OPEN_ORDER, OrderStatus, WorkOrder
    from service.orders import close, work
    from service.orders.issue import issue_now
    from service.orders.work import TypedReading
    from tests.personas import NOW

    bow, me = Bow.objects.get(tag=f"K-{number // BOWS % BOWS}"), Person.objects.get(username="larkspur-technician")
    order = WorkOrder.objects.filter(bow=bow, status__in=OPEN_ORDER).first()
    if order is None:
        order = issue_now(bow, day=NOW.date(), by=me, now=NOW, technician=me)
    if order.status == OrderStatus.ISSUED:
        work.start(order, by=me, now=NOW)
        order.refresh_from_db()
    if order.status == OrderStatus.IN_WORK:
        readings = [TypedReading(one.kind, one.value, one.value) for one in order.reference_set.measurements.all()]
        work.enter(order, by=me, now=NOW, readings=readings, cords=[], steps_done=[], note=f"write {number}")
        close.sign(order, by=me, now=NOW)
    close.release(order, by=Person.objects.get(username="larkspur-manager"), now=NOW)
    print("order", number, order.number, flush=True)


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
    django.setup()
    import time_machine

    from tests.personas import NOW

    with time_machine.travel(NOW):
        if sys.argv[1] == "prepare":
            prepare()
            return
        for number in range(int(sys.argv[1]), int(sys.argv[2])):
            write(number)
            print("written", number, flush=True)


if __name__ == "__main__":
    main()
