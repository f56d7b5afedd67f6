"""A book of the version before the chain, brought up to date in a process and a database of its own; prints JSON."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import django
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

BEFORE = ("fleet", "0009_device_tokens")
AT = datetime(2026, 7, 1, 15, 0, 0, 123456, tzinfo=UTC)
CHANGED = {"display_name": [None, "Wilhelmina Quist"], "email": ["", "q@example.org"], "site": 1}
DETAILS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("found_book", {"username": "wilhelmina"}),
    ("put_person", {"changed": CHANGED}),
    ("note_job_moved", {"technician": "wilhelmina", "extra_cost": 12.5}),
    ("add_absence", {"person": "Wilhelmina Quist", "first_day": "2026-07-01"}),
    ("put_bow", {"changed": {"share": [0.30000000000000004, 1e22]}, "tag": "L-1"}),
)


def write_before() -> None:
    """Rows as the version before the chain wrote them."""
    from django.db.migrations.executor import MigrationExecutor

    call_command("migrate", *BEFORE, verbosity=0)
    old = MigrationExecutor(connection).loader.project_state([BEFORE]).apps
    person = old.get_model("fleet", "Person").objects.create(username="wilhelmina", display_name="Wilhelmina Quist")
    entries = old.get_model("fleet", "AuditEntry").objects
    for verb, detail in DETAILS:
        entries.create(at=AT, person=person, verb=verb, subject_kind="person", subject_id=person.pk, detail=detail)


def refused(act: Callable[[], object]) -> bool:
    """Whether the database refuses an act."""
    try:
        with transaction.atomic():
            act()
    except IntegrityError:
        return True
    return False


def main() -> None:
    """Write, bring up to date, walk the chain, write again, walk again."""
    django.setup()
    write_before()
    call_command("migrate", verbosity=0)

    from fleet import record
    from fleet.models import AuditEntry, Person
    from fleet.verification import verify_record

    sealed = verify_record()
    record.put_site(by=Person.objects.get(), code="lk", name="Larkspur", time_zone="UTC")
    after = verify_record()
    kept = [
        refused(lambda: AuditEntry.objects.all().delete()),
        refused(lambda: AuditEntry.objects.update(verb="nothing")),
    ]
    told = list(AuditEntry.objects.order_by("pk").values_list("detail", flat=True))
    print(json.dumps([sealed.rows, sealed.wrong, after.rows, after.wrong, kept, told]))


if __name__ == "__main__":
    main()
