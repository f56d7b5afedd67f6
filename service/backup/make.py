"""Making a backup: one consistent view of every table, and the photos that its rows name."""

import os
import zipfile
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connections, models

from service.backup.archive import MANIFEST, Manifest, Member, Writer, chunks, photo_member, table_member
from service.backup.migrations import LEFT_OUT, applied_to, by_app, label_of, models_at
from service.backup.rows import write_rows
from service.backup.snapshot import snapshot

MODE = 0o600


def make_backup(folder: Path, now: datetime, prefix: str = "bracebook") -> tuple[Path, Manifest]:
    """Write `PREFIX-YYYYmmddTHHMMSSZ.zip` into the folder, readable by this user alone; returns it and its manifest.

    The book may be in use. The file appears under its name only when it is whole and on the disk; OSError (a full
    disk) and BackupRefused leave nothing behind.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = folder / f"{prefix}-{now:%Y%m%dT%H%M%SZ}.zip"
    partial = path.with_suffix(".partial")
    try:
        partial.unlink(missing_ok=True)
        partial.touch(mode=MODE)
        with snapshot(folder) as alias, zipfile.ZipFile(partial, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
            manifest = _write(archive, alias, now)
        with partial.open("rb") as written:
            os.fsync(written.fileno())
        partial.replace(path)
        _sync_folder(folder)
    finally:
        partial.unlink(missing_ok=True)
    return path, manifest


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write(archive: zipfile.ZipFile, alias: str, now: datetime) -> Manifest:
    applied = applied_to(connections[alias])
    tables: dict[str, Member] = {}
    named: set[str] = set()
    for model in models_at(applied, connections[alias]):
        label = label_of(model)
        with Writer(archive, table_member(label)) as member:
            write_rows(model, alias, member)
        tables[label] = member.member()
        named |= _photos_named(model, alias)
    there = {name for name in named if (Path(settings.MEDIA_ROOT) / name).is_file()}
    manifest = Manifest(
        made_at=now.isoformat(),
        engine=connections[alias].vendor,
        migrations=by_app(applied),
        tables=tables,
        photos={name: _write_photo(archive, name) for name in sorted(there)},
        left_out=sorted(LEFT_OUT),
        lost_photos=sorted(named - there),
    )
    archive.writestr(MANIFEST, manifest.as_json())
    return manifest


def _photos_named(model: type[models.Model], alias: str) -> set[str]:
    """Files that a table's rows name."""
    columns = [field.attname for field in model._meta.concrete_fields if isinstance(field, models.FileField)]
    rows = model._base_manager.using(alias)
    return {name for column in columns for name in rows.exclude(**{column: ""}).values_list(column, flat=True) if name}


def _write_photo(archive: zipfile.ZipFile, name: str) -> Member:
    with (Path(settings.MEDIA_ROOT) / name).open("rb") as photo, Writer(archive, photo_member(name)) as member:
        for chunk in chunks(photo):
            member.write(chunk)
    return member.member()
