"""What was signed is held to the seal in the audit row of its signature: a reading changed past the book is found."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from fleet import lookups, record
from fleet.contents_verification import Covered
from fleet.models import AuditEntry, Bow, Person, Release, SignedResult, TurnaroundCheck
from fleet.record import Reading
from fleet.verification import verify_record
from service.said import say
from tests import personas
from tests.committed import audit_guards_away
from tests.personas import NOW, Shop

AFTER_FIVE_YEARS = NOW.replace(year=2032)
LATER = NOW.replace(hour=16)


def change(sql: str, *values: object) -> int:
    """Past the book, as somebody with the database's own password; how many rows that changed."""
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return int(cursor.rowcount)


def sign(shop: Shop, bow: Bow, order: str = "W-1", note: str = "") -> SignedResult:
    references = lookups.current_reference_set(bow)
    assert references is not None
    return record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number=order,
        reference_set=references,
        readings=[
            Reading("axle_to_axle", 0.84, 0.8445, tool_code=shop.tool_codes["rule"]),
            Reading("peak_weight", 178.1, None),
            Reading("twists", 20.0, 22.5, "string"),
        ],
        work=[{"kind": "replacement", "reason": "string at 0.86 of rated life"}],
        cords_changed=[{"position": "string", "serial": "C-1", "twists": 22.5}],
        steps_done=["read the marks", "relaxed it in the press"],
        at=NOW,
        note=note,
    )


def check(shop: Shop, bow: Bow, key: str = "k-1", note: str = "") -> TurnaroundCheck:
    return record.record_turnaround(
        by=shop.counter,
        bow=bow,
        at=NOW,
        answers={"strings": {"ok": False, "note": note}, "shots": 40},
        measurements=[{"kind": "nocking_height", "value": 0.006}],
        verdict="hold",
        because=[say("held since %(day)s: %(detail)s", day=NOW.date(), detail="a fray")],
        key=key,
    )


@pytest.fixture
def signed(shop: Shop, bow: Bow) -> SignedResult:
    """One check that held the bow, one result, signed by two, and the release."""
    check(shop, bow)
    result = sign(shop, bow, note="heard a click")
    record.release(by=shop.manager, bow=bow, at=LATER, order_number="W-1", note="looks good")
    return record.sign_release(by=shop.manager, result=result, at=LATER)


def test_all_that_is_signed_holds(signed: SignedResult) -> None:
    found = verify_record()
    assert (found.wrong, found.covered) == ("", Covered(held=3, without=0))
    seals = [row.detail["contents"] for row in AuditEntry.objects.filter(detail__has_key="contents")]
    assert len(seals) == 4 and len({seal["salt"] for seal in seals}) == 4
    assert all("contents" not in row.what for row in AuditEntry.objects.all())


RESULT, RELEASE, CHECK = "signed result", "release", "check between guests"
CHANGES = {
    "a reading as found": (RESULT, "UPDATE fleet_resultmeasurement SET as_found = 0.841 WHERE kind = 'axle_to_axle'"),
    "a reading as left": (RESULT, "UPDATE fleet_resultmeasurement SET as_left = 0.8446 WHERE kind = 'axle_to_axle'"),
    "a reading added": (RESULT, "UPDATE fleet_resultmeasurement SET as_left = 178.1 WHERE kind = 'peak_weight'"),
    "a reading taken out": (RESULT, "DELETE FROM fleet_resultmeasurement WHERE kind = 'twists'"),
    "the tool": (RESULT, "UPDATE fleet_resultmeasurement SET tool_id = NULL"),
    "an overdue tool": (RESULT, "UPDATE fleet_resultmeasurement SET tool_overdue = NOT tool_overdue"),
    "a tolerance": (RESULT, "UPDATE fleet_referencemeasurement SET tolerance = tolerance * 2"),
    "a reference": (RESULT, "UPDATE fleet_referencemeasurement SET value = value + 0.001"),
    "the note": (RESULT, "UPDATE fleet_signedresult SET note = 'heard nothing'"),
    "the work": (RESULT, "UPDATE fleet_signedresult SET work = '[]'"),
    "the cords": (RESULT, "UPDATE fleet_signedresult SET cords_changed = '[]'"),
    "the steps": (RESULT, "UPDATE fleet_signedresult SET steps_done = '[\"read the marks\"]'"),
    "the performer": (RESULT, "UPDATE fleet_signedresult SET performed_by_id = released_by_id"),
    "the releaser": (RESULT, "UPDATE fleet_signedresult SET released_by_id = performed_by_id"),
    "no releaser": (RESULT, "UPDATE fleet_signedresult SET released_by_id = NULL, released_at = NULL"),
    "the instant": (RESULT, "UPDATE fleet_signedresult SET signed_at = '2026-07-01 15:00:01+00:00'"),
    "the order": (RESULT, "UPDATE fleet_signedresult SET order_number = 'W-2'"),
    "who released": (RELEASE, "UPDATE fleet_release SET by_id = (SELECT max(id) FROM fleet_person)"),
    "the release's note": (RELEASE, "UPDATE fleet_release SET note = ''"),
    "a hold closed by it": (RELEASE, "UPDATE fleet_hold SET released_id = NULL"),
    "the verdict": (CHECK, "UPDATE fleet_turnaroundcheck SET verdict = 'ready'"),
    "an answer": (CHECK, "UPDATE fleet_turnaroundcheck SET answers = '{\"shots\": 40}'"),
    "a quick measurement": (CHECK, "UPDATE fleet_turnaroundcheck SET measurements = '[]'"),
    "why": (CHECK, "UPDATE fleet_turnaroundcheck SET because = '[\"held since 2026-07-01: a fray\"]'"),
}


@pytest.mark.parametrize("name", CHANGES)
def test_what_is_changed_past_the_book_is_found(signed: SignedResult, name: str) -> None:
    kind, sql = CHANGES[name]
    assert change(sql) >= 1
    wrong = verify_record().wrong
    assert wrong.startswith(f"the contents of {kind} "), wrong
    assert "are not those that were signed in audit row" in wrong


def test_the_first_one_is_named_with_its_order_and_row(shop: Shop, bow: Bow) -> None:
    results = [sign(shop, bow, f"W-{n}") for n in (1, 2, 3)]
    change("UPDATE fleet_resultmeasurement SET as_left = 0.9 WHERE kind = 'twists' AND result_id >= %s", results[1].pk)
    row = AuditEntry.objects.get(verb="sign_result", subject_id=results[1].pk)
    which = f"signed result {results[1].pk} of order W-2"
    told = f"the contents of {which} are not those that were signed in audit row {row.pk}"
    found = verify_record()
    assert (found.wrong, found.covered.held) == (told, 1)
    with pytest.raises(CommandError, match=told):
        call_command("verify_record")


def test_one_that_was_taken_out_is_missed(shop: Shop, bow: Bow) -> None:
    made = check(shop, bow)
    change("DELETE FROM fleet_turnaroundcheck")
    assert f"check between guests {made.pk}, signed in audit row" in verify_record().wrong
    assert "is not in the book any more" in verify_record().wrong


def test_a_seal_cannot_be_made_to_fit(signed: SignedResult) -> None:
    change("UPDATE fleet_signedresult SET note = 'heard nothing'")
    row = AuditEntry.objects.get(verb="sign_release")
    with audit_guards_away():
        AuditEntry.objects.filter(pk=row.pk).update(detail={"order_number": "W-1"})
    assert f"audit row {row.pk} is the first that does not hold" in verify_record().wrong


def test_what_was_signed_before_there_were_seals_is_not_covered(shop: Shop, bow: Bow) -> None:
    """Rows as a version before wrote them: without the verb, so without a seal."""
    references = lookups.current_reference_set(bow)
    SignedResult.objects.create(
        bow=bow, order_number="OLD-1", reference_set=references, signed_at=NOW, performed_by=shop.technician
    )
    Release.objects.create(bow=bow, at=NOW, by=shop.manager)
    check(shop, bow)
    found = verify_record()
    assert (found.wrong, found.covered) == ("", Covered(held=1, without=2))
    said = StringIO()
    call_command("verify_record", stdout=said)
    assert "1 are as they were signed and 2 are not covered" in said.getvalue()


def test_bows_released_together_are_sealed_each(shop: Shop, bow: Bow) -> None:
    action = record.hold_many(by=shop.manager, site=shop.site, bows=[bow], detail="look", picked="all", at=NOW)
    record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert verify_record().covered == Covered(held=1)
    change("UPDATE fleet_release SET note = 'x'")
    assert verify_record().wrong.startswith("the contents of release")


class TestAnErasedName:
    @pytest.fixture
    def zoe(self, shop: Shop) -> Person:
        return record.put_person(
            by=shop.owner, username="z.quist", display_name="Zoé Quist", site=shop.site, role="technician"
        )

    def test_the_contents_without_it_are_sealed_anew(self, shop: Shop, bow: Bow, zoe: Person) -> None:
        result = sign(shop, bow, note="Zoé Quist heard a click")
        record.sign_release(by=zoe, result=result, at=LATER)
        check(shop, bow, note="seen by zoé quist")
        record.release(by=shop.manager, bow=bow, at=LATER, note="Zoé Quist looked")
        untouched = sign(shop, bow, "W-2")
        old = list(
            AuditEntry.objects.filter(detail__has_key="contents").values_list("detail__contents__salt", flat=True)
        )

        assert record.erase_person(by=shop.owner, person=zoe, now=AFTER_FIVE_YEARS) == []

        found = verify_record()
        assert (found.wrong, found.covered) == ("", Covered(held=4))
        result.refresh_from_db()
        assert result.note == f"person {zoe.pk} heard a click"
        book = str(list(AuditEntry.objects.values()))
        kept = [salt for salt in old if salt in book]
        mine = AuditEntry.objects.get(verb="sign_result", subject_id=untouched.pk).detail["contents"]["salt"]
        assert kept == [mine], "a name could be tried against an old seal whose salt is there"
        change("UPDATE fleet_signedresult SET note = 'heard a click' WHERE id = %s", result.pk)
        assert verify_record().wrong.startswith(f"the contents of signed result {result.pk}")

    def test_a_second_name_in_the_same_note_goes_as_well(self, shop: Shop, bow: Bow, zoe: Person) -> None:
        sign(shop, bow, note="Zoé Quist and Ada Byrne heard a click")
        ada = personas.person(shop.owner, shop.site, "technician", "ada-byrne")
        for person in (zoe, ada):
            record.erase_person(by=shop.owner, person=person, now=AFTER_FIVE_YEARS)
            assert (verify_record().wrong, verify_record().covered) == ("", Covered(held=1))
        assert "heard a click" in SignedResult.objects.get().note

    def test_erasing_a_name_does_not_bless_what_was_changed(self, shop: Shop, bow: Bow, zoe: Person) -> None:
        result = sign(shop, bow, note="Zoé Quist heard a click")
        change("UPDATE fleet_resultmeasurement SET as_left = 0.9 WHERE kind = 'twists'")
        record.erase_person(by=shop.owner, person=zoe, now=AFTER_FIVE_YEARS)
        assert verify_record().wrong.startswith(f"the contents of signed result {result.pk} of order W-1")

    def test_a_guests_name(self, shop: Shop, bow: Bow) -> None:
        booking = record.put_booking(
            by=shop.counter, site=shop.site, reference="B-1", start=LATER, end=LATER.replace(hour=18), hand="left",
            guest_name="Wilma Ostrander",
        )  # fmt: skip
        check(shop, bow, note="Wilma Ostrander dropped it")
        assert record.erase_guest_name(by=shop.owner, booking=booking, now=NOW) == []
        assert "Ostrander" not in str(TurnaroundCheck.objects.values().get())
        assert (verify_record().wrong, verify_record().covered) == ("", Covered(held=1))


def test_it_holds_through_a_batch_limit(shop: Shop, bow: Bow, monkeypatch: pytest.MonkeyPatch) -> None:
    """A result that is signed in one batch of the walk and released in another one fits its last seal."""
    monkeypatch.setattr("fleet.contents_verification.AT_ONCE", 2)
    results = [sign(shop, bow, f"W-{n}") for n in range(5)]
    for result in results:
        record.sign_release(by=shop.manager, result=result, at=LATER)
    assert (verify_record().wrong, verify_record().covered) == ("", Covered(held=5))
