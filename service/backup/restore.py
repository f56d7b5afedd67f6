"""Restoring a backup: verified before anything is touched, loaded whole or not at all, counted before it is kept."""

import os
import zipfile
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from fleet import record
from fleet.models import GuestName, Person, Site
from fleet.record.sites import night_watch
from service.backup import erasures
from service.backup.archive import BackupRefused, Manifest, chunks, photo_member, table_member, verify
from service.backup.migrations import applied_to, label_of, migrate_to, models_at, nodes_of
from service.backup.rows import insert_rows, read_rows

MODE = 0o600
# Not in a backup, and emptied by a restore: whoever is signed in signs in anew.
SESSIONS = "django_session"


def restore(path: Path, now: datetime, *, replace: bool = False) -> Manifest:
    """Put a backup in the place of an empty book (or, with `replace`, of the one there); returns its manifest.

    BackupRefused, with nothing changed: a damaged file, one of a newer Bracebook, one older than the tables that are
    there, a book that is not empty, or rows that do not come out as many as they went in. Afterwards the tables are
    brought up to date, and names are erased again: guests' whose time is over, and those that the book which was there,
    or the list beside this backup or in BACKUP_DIR, says were erased.
    """
    manifest = verify(path)
    nodes = nodes_of(manifest.migrations)
    tables = models_at(nodes, connection)
    _require_same_tables(manifest, tables)
    if not replace and is_in_use():
        raise BackupRefused(
            f"This book is not empty ({_where(connection)}): restore into a new data directory or database, or say "
            "--replace to throw away everything that is in it."
        )
    erased = _erased_before(path)
    migrate_to(nodes, connection)
    with zipfile.ZipFile(path) as archive:
        _write_photos(archive, manifest)
        with transaction.atomic():
            _empty(tables)
            for model in tables:
                with archive.open(table_member(label_of(model))) as lines:
                    insert_rows(model, read_rows(model, lines), connection)
            _require_counts(manifest, tables)
            _continue_numbering(tables)
    call_command("migrate", interactive=False, verbosity=0)
    _erase_again(erased, now)
    return manifest


def is_in_use() -> bool:
    """Whether anybody or any site is in the book; a database without tables is not."""
    if ("fleet", "0001_register") not in applied_to(connection):
        return False
    return Person.objects.exists() or Site.objects.exists()


def _where(used: BaseDatabaseWrapper) -> str:
    return f"{used.display_name} {used.settings_dict['NAME']}"


def _require_same_tables(manifest: Manifest, tables: list[type[models.Model]]) -> None:
    odd = set(manifest.tables) ^ {label_of(model) for model in tables}
    if odd:
        raise BackupRefused(
            f"The backup and this Bracebook do not agree on the table {min(odd)}: it was made by an altered version."
        )


def _empty(tables: list[type[models.Model]]) -> None:
    """Empty the tables. Triggers keep audit rows from that; they step aside for this alone."""
    names = [*(model._meta.db_table for model in tables), SESSIONS]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            quoted = [connection.ops.quote_name(name) for name in names]
            for name in quoted:
                cursor.execute(f"ALTER TABLE {name} DISABLE TRIGGER USER")
            cursor.execute(f"TRUNCATE {', '.join(quoted)} CASCADE")
            for name in quoted:
                cursor.execute(f"ALTER TABLE {name} ENABLE TRIGGER USER")
            return
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        triggers = cursor.fetchall()
        for trigger, _sql in triggers:
            cursor.execute(f"DROP TRIGGER {connection.ops.quote_name(trigger)}")
        for name in names:
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(name)}")  # nosec B608
        for _trigger, sql in triggers:
            cursor.execute(sql)


def _require_counts(manifest: Manifest, tables: list[type[models.Model]]) -> None:
    for model in tables:
        there, wanted = model._base_manager.count(), manifest.tables[label_of(model)].rows
        if there != wanted:
            raise BackupRefused(
                f"{label_of(model)} came out with {there} rows and went in with {wanted}: nothing was changed. "
                "Try another backup, and keep this one for whoever looks into it."
            )


def _continue_numbering(tables: list[type[models.Model]]) -> None:
    with connection.cursor() as cursor:
        for sql in connection.ops.sequence_reset_sql(no_style(), tables):
            cursor.execute(sql)


def _write_photos(archive: zipfile.ZipFile, manifest: Manifest) -> None:
    for name in manifest.photos:
        path = Path(settings.MEDIA_ROOT) / name
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with archive.open(photo_member(name)) as stream:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, MODE)
            with os.fdopen(handle, "wb") as photo:
                for chunk in chunks(stream):
                    photo.write(chunk)


def _erased_before(path: Path) -> set[erasures.Line]:
    """What was erased by all that is known now: the book that is about to go may know more than the backup."""
    known = erasures.read(path.parent / erasures.FILE) | erasures.read(Path(settings.BACKUP_DIR) / erasures.FILE)
    has_list = ("fleet", "0012_names_erased") in applied_to(connection)
    return known | (erasures.erased_here() if has_list else set())


def _erase_again(erased: set[erasures.Line], now: datetime) -> None:
    """Names that were erased after the backup was made came back with it."""
    erasures.erase_again(erased, now)
    # The night watch is somebody of the book: it is called only where there is work for it.
    if GuestName.objects.filter(erase_on__lte=now.date()).exists():
        record.erase_guest_names(by=night_watch(), today=now.date())
