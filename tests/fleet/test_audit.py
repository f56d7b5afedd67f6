"""The audit trail: every verb leaves a row with the person who acted, and no row is ever changed or deleted."""

import inspect

import pytest
from django.db import IntegrityError, transaction

from fleet import record
from fleet.models import AuditEntry, Bow, Person
from fleet.record import Refused
from fleet.verification import verify_record
from tests import personas
from tests.fleet.acts import every_act
from tests.personas import NOW, Shop, before

VERBS = sorted(name for name in record.__all__ if inspect.isfunction(getattr(record, name)))


def test_every_verb_has_its_act_here() -> None:
    assert sorted([*every_act(Person()), "found_book"]) == VERBS


@pytest.mark.parametrize("verb", [name for name in VERBS if name != "found_book"])
def test_every_verb_leaves_one_row_with_the_person_who_acted(shop: Shop, bow: Bow, verb: str) -> None:
    me = personas.person(shop.owner, shop.site, "manager", "myself")

    every_act(me)[verb](shop, bow)

    mine = AuditEntry.objects.filter(verb=verb, person=me)
    assert mine.count() == 1
    assert mine.get().at is not None
    assert verify_record().wrong == ""


def test_the_founding_of_the_book_is_its_first_row(shop: Shop) -> None:
    first = AuditEntry.objects.order_by("pk")[0]

    assert (first.verb, first.person) == ("found_book", shop.owner)
    with pytest.raises(Refused, match=r"The book already has people: ask an owner for a sign-in"):
        record.found_book(username="other", display_name="Other", password="x")


def test_a_row_says_what_changed(shop: Shop, bow: Bow) -> None:
    record.put_bow(by=shop.manager, tag=bow.tag, serial="NEW-1")

    entry = AuditEntry.objects.filter(verb="put_bow")[0]
    assert (entry.bow, entry.subject_kind, entry.subject_id) == (bow, "bow", bow.pk)
    assert entry.detail["changed"] == {"serial": [bow.serial, "NEW-1"]}


def test_what_changes_nothing_leaves_no_row(shop: Shop, bow: Bow) -> None:
    before_it = AuditEntry.objects.count()

    record.put_bow(by=shop.manager, tag=bow.tag, serial=bow.serial, site=shop.site)
    personas.cord_spec(shop.owner)
    personas.spec_sheet(shop.owner, "twin")
    record.set_skills(by=shop.owner, person=shop.technician, skills=["timing", "limbs", "press", "inspection"])
    record.put_press(by=shop.owner, site=shop.site, name="Bench press")

    assert AuditEntry.objects.count() == before_it


def test_a_refused_verb_leaves_nothing_behind(shop: Shop, bow: Bow) -> None:
    before_it = AuditEntry.objects.count()

    with pytest.raises(Refused):
        record.park_in_vehicle(by=shop.counter, bow=bow, start=before(1), end=NOW, key="k" * 65, now=NOW, cabin_c=40.0)

    assert AuditEntry.objects.count() == before_it
    assert not bow.parkings.exists()


def test_rows_cannot_be_changed(shop: Shop) -> None:
    with pytest.raises(IntegrityError, match="audit rows are never changed"), transaction.atomic():
        AuditEntry.objects.update(verb="nothing")
    entry = AuditEntry.objects.all()[0]
    entry.person = shop.counter
    with pytest.raises(IntegrityError, match="audit rows are never changed"), transaction.atomic():
        entry.save()


def test_rows_cannot_be_deleted(shop: Shop) -> None:
    count = AuditEntry.objects.count()
    with pytest.raises(IntegrityError, match="audit rows are never changed"), transaction.atomic():
        AuditEntry.objects.all().delete()

    assert AuditEntry.objects.count() == count > 0
