"""Erasing a name: the number stays on everything, the name is nowhere, and the chain holds."""

import json
from datetime import date, timedelta

import pytest
from django.apps import apps
from django.core import serializers
from django.db import IntegrityError, transaction
from django.test import Client

from fleet import lookups, record
from fleet.chain import blanked, is_blanked
from fleet.models import AuditEntry, Bow, Departure, Erasure, GuestName, Hold, Person, SignedResult
from fleet.record import Refused
from fleet.record.erasing import kept_until, names_due
from fleet.verification import verify_record
from tests import personas
from tests.committed import audit_guards_away
from tests.fleet.acts import take_second_factor
from tests.personas import NOW, Shop

AFTER_FIVE_YEARS = NOW + timedelta(days=1826 + 101)


def whole_book() -> str:
    """Every row of every table as text, in which é is é."""
    models = [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]
    rows = [serializers.serialize("python", model._base_manager.all()) for model in models]
    return json.dumps(rows, default=str, ensure_ascii=False)


@pytest.fixture
def worker(shop: Shop, bow: Bow) -> Person:
    """Somebody who signed, was written about, and has all that opens the book."""
    person = record.put_person(
        by=shop.owner,
        username="z.quist",
        display_name="Zoé Quist",
        site=shop.site,
        role="technician",
        email="zoe.quist@example.org",
        password=personas.PASSWORD,
    )
    references = lookups.current_reference_set(bow)
    assert references is not None
    record.sign_result(
        by=person, bow=bow, order_number="W-9", reference_set=references, readings=[], work=[], cords_changed=[],
        steps_done=[], at=NOW, note="Zoé Quist heard a click",
    )  # fmt: skip
    record.hold(by=shop.manager, bow=bow, reason="person", detail="ZOÉ QUIST saw a fray", since=NOW)
    record.save_view(by=shop.manager, page="due", name="of Zoé Quist", query="q=z.quist")
    record.add_absence(by=shop.owner, person=person, first_day=NOW.date(), last_day=NOW.date(), why="Zoé Quist weds")
    record.make_feed(by=person, site=shop.site, technician=person, now=NOW)
    record.ask_for_digest(
        by=person, site=shop.site, email="zoe.quist@example.org", time_zone="UTC", language="en", hour=6, now=NOW
    )
    take_second_factor(person)
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    Client().post("/sign-in/", {"username": "z.quist", "password": "wrong"})
    return person


class TestThePerson:
    def test_the_name_is_nowhere_and_the_number_stays(self, shop: Shop, bow: Bow, worker: Person) -> None:
        assert "Quist" in whole_book() and "z.quist" in whole_book()

        left = record.erase_person(by=shop.owner, person=worker, now=AFTER_FIVE_YEARS)

        assert left == []
        book = whole_book().lower()
        assert "quist" not in book and "zoé" not in book
        result = SignedResult.objects.get(order_number="W-9")
        assert str(result.performed_by) == f"person {worker.pk}"
        assert result.note == f"person {worker.pk} heard a click"
        assert Hold.objects.get().detail == f"person {worker.pk} saw a fray"
        assert verify_record().wrong == ""

    def test_nothing_opens_the_book_for_them(self, shop: Shop, worker: Person) -> None:
        client = Client()
        client.force_login(worker, backend="django.contrib.auth.backends.ModelBackend")
        assert client.get("/how-to-measure/").status_code == 200

        record.let_go(by=shop.owner, person=worker, now=NOW)

        worker.refresh_from_db()
        assert not worker.is_active and not worker.has_usable_password()
        assert client.get("/how-to-measure/").status_code == 302
        assert not worker.posts.exists() and not worker.digest_wishes.exists()
        assert not worker.feed_keys.filter(revoked_at=None).exists()
        for name in ("totpdevice", "staticdevice"):
            assert not apps.get_model(f"otp_{name.removesuffix('device')}", name).objects.filter(user=worker).exists()

    def test_a_name_under_a_signed_record_is_kept_as_long_as_the_house_says(self, shop: Shop, worker: Person) -> None:
        until = NOW.date() + timedelta(days=1826)
        assert kept_until(worker) == until
        with pytest.raises(Refused, match=rf"this house keeps until {until}: wait until then"):
            record.erase_person(by=shop.owner, person=worker, now=NOW)
        record.erase_person(by=shop.owner, person=worker, now=NOW, forced_because="a court asks for it")
        row = AuditEntry.objects.get(verb="erase_person")
        assert row.detail["forced_because"] == "a court asks for it"

    def test_a_reason_that_has_the_name_in_it_is_refused(self, shop: Shop, worker: Person) -> None:
        with pytest.raises(Refused, match="say it without the name"):
            record.erase_person(by=shop.owner, person=worker, now=NOW, forced_because="Zoé Quist asks")

    def test_the_schedule_erases_after_leaving(self, shop: Shop, worker: Person) -> None:
        departure = record.let_go(by=shop.owner, person=worker, now=NOW)
        assert departure.erase_on == NOW.date() + timedelta(days=1827)
        assert names_due(departure.erase_on - timedelta(days=1)) == []
        assert names_due(departure.erase_on) == [worker]

    def test_who_signed_nothing_is_erased_a_month_after_leaving(self, shop: Shop) -> None:
        assert record.let_go(by=shop.owner, person=shop.counter, now=NOW).erase_on == date(2026, 7, 31)

    def test_let_in_again_by_the_old_name(self, shop: Shop) -> None:
        record.let_go(by=shop.owner, person=shop.counter, now=NOW)
        with pytest.raises(Refused, match="an owner lets them in again first"):
            personas.person(shop.owner, shop.site, "counter", "larkspur-counter")
        record.let_in_again(by=shop.owner, person=shop.counter)
        personas.person(shop.owner, shop.site, "counter", "larkspur-counter")
        assert not Departure.objects.exists()

    def test_nobody_gets_an_erased_persons_number(self, shop: Shop, worker: Person) -> None:
        record.erase_person(by=shop.owner, person=worker, now=AFTER_FIVE_YEARS)
        worker.refresh_from_db()
        with pytest.raises(Refused, match="was erased: add a new person"):
            personas.person(shop.owner, shop.site, "counter", worker.username)
        with pytest.raises(Refused, match="erased already"):
            record.erase_person(by=shop.owner, person=worker, now=AFTER_FIVE_YEARS)

    def test_neither_oneself_nor_the_only_owner_nor_a_device(self, shop: Shop) -> None:
        token, _ = record.make_device_token(by=shop.manager, site=shop.site, name="Lane 3", scopes=["shots"], now=NOW)
        for by, person, said in (
            (shop.owner, shop.owner, "your own"),
            (shop.manager, shop.owner, "the only owner"),
            (shop.owner, token.person, "is a device"),
        ):
            with pytest.raises(Refused, match=said):
                record.let_go(by=by, person=person, now=NOW)

    def test_what_cannot_be_changed_is_told(self, shop: Shop, bow: Bow, worker: Person) -> None:
        personas.bare_bow(shop, bow.spec_sheet, "Zoé Quist")
        left = record.erase_person(by=shop.owner, person=worker, now=AFTER_FIVE_YEARS)
        assert left == [f"bow {Bow.objects.get(tag='Zoé Quist').pk}, tag"]

    def test_a_user_name_that_is_a_word_of_the_book_takes_no_word_away(self, shop: Shop, bow: Bow) -> None:
        one = personas.person(shop.owner, shop.site, "counter", "manager")
        record.hold(by=shop.manager, bow=bow, reason="person", detail="the manager saw a fray", since=NOW)
        record.erase_person(by=shop.owner, person=one, now=NOW)
        assert Hold.objects.get().detail == "the manager saw a fray"


class TestTheTrail:
    def test_a_detail_that_nobody_erased_may_not_be_blank(self, shop: Shop, bow: Bow) -> None:
        record.hold(by=shop.manager, bow=bow, reason="person", detail="a fray", since=NOW)
        row = AuditEntry.objects.get(verb="hold")
        AuditEntry.objects.filter(pk=row.pk).update(detail=blanked(row.salt, row.detail))
        assert f"audit row {row.pk} was taken out, and no erasure names it" in verify_record().wrong

    def test_a_blank_with_another_digest_breaks_the_chain(self, shop: Shop, bow: Bow) -> None:
        row = AuditEntry.objects.order_by("pk")[3]
        AuditEntry.objects.filter(pk=row.pk).update(detail={"erased": "0" * 64})
        assert f"audit row {row.pk} is the first that does not hold" in verify_record().wrong

    @pytest.mark.parametrize(
        "change", [{"detail": {}}, {"detail": {"erased": "no"}}, {"verb": "x"}, {"digest": "0" * 64}]
    )
    def test_no_other_change_passes(self, shop: Shop, change: dict[str, object]) -> None:
        row = AuditEntry.objects.all()[0]
        both = {"detail": blanked(row.salt, row.detail), **change}
        with pytest.raises(IntegrityError, match="audit rows are never changed"), transaction.atomic():
            AuditEntry.objects.filter(pk=row.pk).update(**both)

    def test_blank_once_is_blank_for_good(self, shop: Shop, worker: Person) -> None:
        record.erase_person(by=shop.owner, person=worker, now=AFTER_FIVE_YEARS)
        row = next(one for one in AuditEntry.objects.all() if is_blanked(one.detail))
        assert "erased" in row.what
        with pytest.raises(IntegrityError, match="audit rows are never changed"), transaction.atomic():
            AuditEntry.objects.filter(pk=row.pk).update(detail={"erased": "1" * 64})

    def test_the_guards_are_not_the_only_hold(self, shop: Shop, worker: Person) -> None:
        record.erase_person(by=shop.owner, person=worker, now=AFTER_FIVE_YEARS)
        row = next(one for one in AuditEntry.objects.all() if is_blanked(one.detail))
        with audit_guards_away():
            AuditEntry.objects.filter(pk=row.pk).update(detail={"reason": "another one"})
        assert f"audit row {row.pk} is the first" in verify_record().wrong


class TestTheGuest:
    def test_a_guest_is_erased_before_the_day_when_they_ask(self, shop: Shop, bow: Bow) -> None:
        booking = record.put_booking(
            by=shop.owner, site=shop.site, reference="B-1", start=personas.before(-1), end=personas.before(-2),
            hand="left", guest_name="Ada Byrne",
        )  # fmt: skip
        record.hold(by=shop.manager, bow=bow, reason="person", detail="Ada Byrne dropped it", since=NOW)
        record.erase_guest_name(by=shop.manager, booking=booking, now=NOW)
        assert "byrne" not in whole_book().lower()
        assert verify_record().wrong == ""
        with pytest.raises(Refused, match="nothing to erase"):
            record.erase_guest_name(by=shop.manager, booking=booking, now=NOW)

    def test_the_log_has_numbers_and_days_alone(self, shop: Shop) -> None:
        booking = record.put_booking(
            by=shop.owner, site=shop.site, reference="B-1", start=personas.before(1), end=personas.before(0),
            hand="left", guest_name="Ada Byrne",
        )  # fmt: skip
        day = NOW.date() + timedelta(days=40)
        record.erase_guest_names(by=shop.owner, today=day)
        assert not GuestName.objects.exists()
        assert list(Erasure.objects.values_list("kind", "number", "since", "on")) == [("guest", booking.pk, None, day)]
