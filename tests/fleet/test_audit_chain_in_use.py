"""The chain in use: several writers at once, a book brought up to date, a book carried by its backup."""

import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections

from fleet import record
from fleet.models import AuditEntry
from fleet.verification import verify_record
from service.backup.make import make_backup
from service.backup.restore import restore
from tests import machinery, personas
from tests.committed import audit_guards_away, committed_book
from tests.conftest import REPOSITORY

__all__ = ["committed_book"]
WRITERS, ACTS = 4, 15


def test_writers_at_once_make_one_chain(committed_book: None) -> None:
    shop = personas.shop()
    rows = AuditEntry.objects.count()
    failed: list[BaseException] = []

    def write(writer: int) -> None:
        try:
            for act in range(ACTS):
                record.put_press(by=shop.owner, site=shop.site, name=f"Press {writer}-{act}")
        except Exception as problem:  # noqa: BLE001 (told to the test's own thread)
            failed.append(problem)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=write, args=(writer,)) for writer in range(WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert failed == []
    found = verify_record()
    assert (found.wrong, found.rows) == ("", rows + WRITERS * ACTS)


@pytest.fixture
def empty_database(tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment of a process with an empty database of its own, on this test's engine."""
    own = {**os.environ, "BRACEBOOK_DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "service.settings"}
    own.pop("BRACEBOOK_DATABASE_URL", None)
    if connection.vendor == "sqlite":
        yield own
        return
    for url in machinery.postgresql_database(os.environ["BRACEBOOK_TEST_DATABASE_URL"]):
        yield {**own, "BRACEBOOK_DATABASE_URL": url}


def test_a_book_from_before_the_chain_is_sealed_without_names(empty_database: dict[str, str]) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.fleet.upgrading"],
        cwd=REPOSITORY,
        env=empty_database,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    sealed, wrong, after, wrong_after, guarded, told = json.loads(done.stdout)
    assert (sealed, wrong, after, wrong_after, guarded) == (5, "", 6, "", [True, True])
    assert told[0] == {}
    assert told[1] == {"changed": {"display_name": ["", "set"], "email": ["", "set"], "site": 1}}
    assert told[2]["technician"].startswith("person ")
    assert told[3]["person"] == "a person"
    assert "quist" not in repr(told).lower() and "wilhelmina" not in repr(told)


def test_a_backup_carries_the_chain(committed_book: None, tmp_path: Path, settings: Any) -> None:
    settings.MEDIA_ROOT = tmp_path / "photos"
    shop = personas.shop()
    before = verify_record()
    path, _manifest = make_backup(tmp_path, datetime(2026, 7, 1, tzinfo=UTC))
    record.put_press(by=shop.owner, site=shop.site, name="Bought later")
    restore(path, personas.NOW, replace=True)
    assert verify_record() == before
    record.put_press(by=shop.owner, site=shop.site, name="Bought after the restore")
    assert (verify_record().wrong, verify_record().rows) == ("", before.rows + 1)
    with pytest.raises(record.Refused, match="never changed"):
        change_first_row()


@record.kernel.verb
def change_first_row() -> None:
    """What no verb may do."""
    AuditEntry.objects.filter(pk=AuditEntry.objects.order_by("pk")[0].pk).update(verb="nothing")


class TestCommand:
    def test_says_that_it_holds_and_finds_a_noted_digest(self, shop: personas.Shop) -> None:
        said = StringIO()
        call_command("verify_record", stdout=said)
        noted = said.getvalue().split()[-1]
        assert said.getvalue().startswith(f"The audit trail holds: {AuditEntry.objects.count()} rows")
        call_command("verify_record", noted=noted.upper(), stdout=said)
        with pytest.raises(CommandError, match="No row of the audit trail has the digest abab"):
            call_command("verify_record", noted="ab" * 32)

    def test_names_the_first_broken_row(self, shop: personas.Shop) -> None:
        entry = AuditEntry.objects.order_by("pk")[2]
        with audit_guards_away():
            AuditEntry.objects.filter(pk=entry.pk).update(verb="nothing")
        with pytest.raises(CommandError, match=f"does not hold after 2 rows: audit row {entry.pk} is the first"):
            call_command("verify_record")
