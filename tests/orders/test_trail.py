"""Every step of an order leaves a row in the audit trail that names it, the order and who did it."""

from datetime import timedelta

import pytest

from fleet.models import AuditEntry
from fleet.verification import verify_record
from service.models import WorkOrder
from service.orders import close, more_work, work
from tests import personas
from tests.orders.bench import NOW, enter, fresh_bow, issued, new_set, on_reference, worn_bow

pytestmark = pytest.mark.django_db


def trail(order: WorkOrder) -> list[tuple[str, str, str]]:
    """Verb, step and who, of the rows that name the order, oldest first."""
    rows = AuditEntry.objects.filter(detail__order_number=order.number).order_by("pk").select_related("person")
    return [(row.verb, row.detail.get("step", ""), row.person.username) for row in rows]


def test_issued_begun_signed_and_released_by_a_second_person(shop: personas.Shop) -> None:
    order = issued(shop, worn_bow(shop))
    enter(order, shop, readings=on_reference(order), cords=new_set(order))
    close.sign(order, by=shop.technician, now=NOW)
    close.release(order, by=shop.manager, now=NOW + timedelta(minutes=20))
    steps = trail(order)
    by_technician, by_manager = shop.technician.username, shop.manager.username
    assert steps[0][:2] == ("note_order", "issued")
    assert ("take_to_bench", "", by_technician) in steps
    assert ("sign_result", "", by_technician) in steps
    assert [one for one in steps if one[2] == by_manager and one[0] in ("sign_release", "release")] == [
        ("sign_release", "", by_manager),
        ("release", "", by_manager),
    ]
    assert verify_record().wrong == ""


def test_issued_names_its_technician_by_number_and_its_kinds(shop: personas.Shop) -> None:
    order = issued(shop, worn_bow(shop))
    row = AuditEntry.objects.get(verb="note_order")
    assert row.detail["kinds"] and row.detail["day"] == order.day.isoformat()
    assert row.detail["technician"] in (f"person {shop.technician.pk}", None)


def test_cancelled_with_the_reason(shop: personas.Shop) -> None:
    order = issued(shop, worn_bow(shop))
    work.cancel(order, by=shop.manager, why="bow sold", now=NOW)
    row = AuditEntry.objects.get(verb="note_order", detail__step="cancelled")
    assert (row.person, row.bow, row.detail["why"]) == (shop.manager, order.bow, "bow sold")


def test_widened(shop: personas.Shop) -> None:
    order = issued(shop, fresh_bow(shop))
    case = next(iter(more_work.left_to_add(order)))
    more_work.add(order, case, by=shop.technician, now=NOW)
    assert AuditEntry.objects.get(detail__step="widened").detail["case"] == case
