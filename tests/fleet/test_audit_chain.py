"""The chain over the audit trail holds, and whoever breaks it is found at the first row that does not hold."""

import pytest
from django.db import IntegrityError, connection, transaction

from fleet import record
from fleet.chain import BEGINNING, canonical, digest_after
from fleet.models import AuditEntry, AuditHead, Bow, GuestName, Person
from fleet.verification import verify_record
from tests.committed import audit_guards_away
from tests.personas import NOW, Shop


def change(sql: str, *values: object) -> None:
    with audit_guards_away(), connection.cursor() as cursor:
        cursor.execute(sql, values)


def rows() -> list[int]:
    return list(AuditEntry.objects.order_by("pk").values_list("pk", flat=True))


def test_a_whole_shop_holds_from_its_founding(shop: Shop, bow: Bow) -> None:
    found = verify_record()
    last = AuditEntry.objects.order_by("-pk")[0]
    assert (found.wrong, found.rows, found.digest) == ("", AuditEntry.objects.count(), last.digest)
    head = AuditHead.objects.get()
    assert (head.length, head.digest) == (found.rows, found.digest)


def test_an_empty_book_holds(db: None) -> None:
    assert verify_record() == verify_record("")
    assert (verify_record().wrong, verify_record().rows, verify_record().digest) == ("", 0, BEGINNING)


CHANGES: dict[str, str] = {
    "who": "UPDATE fleet_auditentry SET person_id = (SELECT max(id) FROM fleet_person) WHERE id = %s",
    "when": "UPDATE fleet_auditentry SET at = '2020-01-01 00:00:00+00:00' WHERE id = %s",
    "what": "UPDATE fleet_auditentry SET verb = 'hold' WHERE id = %s",
    "kind of thing": "UPDATE fleet_auditentry SET subject_kind = 'hire' WHERE id = %s",
    "which thing": "UPDATE fleet_auditentry SET subject_id = 987654 WHERE id = %s",
    "detail": "UPDATE fleet_auditentry SET detail = '{}' WHERE id = %s",
    "salt": "UPDATE fleet_auditentry SET salt = '00112233445566778899aabbccddeeff' WHERE id = %s",
    "salt that is none": "UPDATE fleet_auditentry SET salt = 'x' WHERE id = %s",
    "digest": "UPDATE fleet_auditentry SET digest = '" + "ab" * 32 + "' WHERE id = %s",
}


@pytest.mark.parametrize("name", CHANGES)
def test_the_first_broken_row_is_named(shop: Shop, bow: Bow, name: str) -> None:
    entry = AuditEntry.objects.filter(verb="put_bow").order_by("pk")[0]
    place = rows().index(entry.pk)
    change(CHANGES[name], entry.pk)
    found = verify_record()
    assert found.rows == place
    assert found.wrong.startswith(f"audit row {entry.pk} is the first that does not hold")


def test_the_bow_of_a_row_is_chained(shop: Shop, bow: Bow) -> None:
    entry = AuditEntry.objects.filter(bow=bow).order_by("pk")[0]
    change("UPDATE fleet_auditentry SET bow_id = NULL WHERE id = %s", entry.pk)
    assert f"audit row {entry.pk} " in verify_record().wrong


def test_a_row_taken_out_of_the_middle_is_missed_at_the_next(shop: Shop, bow: Bow) -> None:
    gone, after = rows()[4:6]
    change("DELETE FROM fleet_auditentry WHERE id = %s", gone)
    assert f"audit row {after} " in verify_record().wrong


def test_rows_taken_off_the_end_are_missed(shop: Shop, bow: Bow) -> None:
    count = len(rows())
    change("DELETE FROM fleet_auditentry WHERE id >= %s", rows()[-2])
    assert f"the head counts {count}, and {count - 2} are there" in verify_record().wrong


def test_a_row_written_past_the_book_is_found(shop: Shop) -> None:
    extra = AuditEntry.objects.create(
        at=NOW, person=shop.owner, verb="hold", subject_kind="bow", salt="00" * 16, digest="11" * 32
    )
    assert f"audit row {extra.pk} " in verify_record().wrong


def test_a_chain_written_anew_as_a_whole_is_found_by_a_noted_digest(shop: Shop) -> None:
    noted = verify_record().digest
    assert verify_record(noted).seen is True
    previous = BEGINNING
    for entry in AuditEntry.objects.order_by("pk"):
        values = {name: getattr(entry, name) for name in FIELDS_OF_A_ROW} | {"verb": entry.verb.upper()}
        previous = digest_after(previous, entry.salt, values)
        change("UPDATE fleet_auditentry SET verb = %s, digest = %s WHERE id = %s", values["verb"], previous, entry.pk)
    change("UPDATE fleet_audithead SET digest = %s", previous)
    found = verify_record(noted)
    assert (found.wrong, found.seen) == ("", False)


FIELDS_OF_A_ROW = ("at", "person_id", "verb", "subject_kind", "subject_id", "bow_id", "detail")


@pytest.mark.parametrize("sql", ["DELETE FROM fleet_audithead", "UPDATE fleet_audithead SET length = 0"])
def test_the_head_only_grows(shop: Shop, sql: str) -> None:
    with pytest.raises(IntegrityError, match="only grows"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


def test_an_unsealed_row_is_refused(shop: Shop) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        AuditEntry.objects.create(at=NOW, person=shop.owner, verb="hold", subject_kind="bow")


def test_truncating_is_refused(shop: Shop) -> None:
    if connection.vendor != "postgresql":
        with pytest.raises(IntegrityError, match="never changed"), transaction.atomic(), connection.cursor() as cursor:
            # SQLite has no TRUNCATE: this is its way to empty a table.
            cursor.execute("DELETE FROM fleet_auditentry")
        return
    # What earlier rows still have to check would stop TRUNCATE before its trigger does.
    connection.check_constraints()
    for sql in ("TRUNCATE fleet_auditentry", "TRUNCATE fleet_audithead", "TRUNCATE fleet_person CASCADE"):
        refused = pytest.raises(IntegrityError, match=r"never changed|only grows")
        with refused, transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)


def test_many_at_once_are_chained_in_order(shop: Shop, bow: Bow) -> None:
    action = record.hold_many(by=shop.manager, site=shop.site, bows=[bow], detail="look", picked="all", at=NOW)
    record.undo_hold_many(by=shop.manager, action=action, at=NOW)
    assert verify_record().wrong == ""


def test_names_are_in_no_row_and_erasing_them_leaves_the_chain_whole(shop: Shop, bow: Bow) -> None:
    ida = record.put_person(
        by=shop.owner,
        username="wilhelmina",
        display_name="Wilhelmina Quist",
        site=shop.site,
        role="technician",
        email="quist@example.org",
    )
    record.add_absence(by=shop.owner, person=ida, first_day=NOW.date(), last_day=NOW.date())
    record.make_feed(by=shop.manager, site=shop.site, technician=ida, now=NOW)
    record.note_job_moved(
        by=shop.manager,
        bow=bow,
        needs=["string"],
        from_day=NOW.date(),
        to_day=NOW.date(),
        technician="wilhelmina",
        extra_cost=1.0,
    )
    told = repr(list(AuditEntry.objects.values())).lower()
    assert "quist" not in told and "wilhelmina" not in told
    assert f"person {ida.pk}" in told
    Person.objects.filter(pk=ida.pk).update(display_name="", username="erased", email="")
    GuestName.objects.all().delete()
    assert verify_record().wrong == ""


class TestOneTextForAValue:
    """PostgreSQL keeps JSON numbers as decimals and sorts keys; the text must not depend on it."""

    @pytest.mark.parametrize(
        ("one", "other"),
        [
            (1, 1.0),
            (1e22, 10**22),
            (-0.0, 0),
            ({"b": 1, "a": [2.0]}, {"a": [2], "b": 1.0}),
            ((1, 2), [1, 2]),
        ],
    )
    def test_same(self, one: object, other: object) -> None:
        assert canonical(one) == canonical(other)

    @pytest.mark.parametrize(
        ("one", "other"),
        [(1, "1"), (None, "null"), (True, 1), (["a", "b"], ["a,b"]), ({}, []), (0.1, 0.10000000000001)],
    )
    def test_different(self, one: object, other: object) -> None:
        assert canonical(one) != canonical(other)

    @pytest.mark.parametrize(
        "value", [1e22, 1e300, 1e-7, 0.1 + 0.2, 2**60, 123456789.125, "é\u2028\"'", {"z": 1, "a": None}]
    )
    def test_what_the_database_gives_back_holds(self, shop: Shop, value: object) -> None:
        record.kernel.audit(shop.owner, "test", None, value=value)
        assert verify_record().wrong == ""
