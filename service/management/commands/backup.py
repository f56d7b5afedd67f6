"""`manage.py backup`: the whole book in one file, while it is in use."""

from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from service.backup.archive import BackupRefused
from service.backup.make import make_backup
from service.backup.nightly import nightly_backup

MEGABYTE = 1024 * 1024


class Command(BaseCommand):
    """Make a backup and say where it is and what it holds."""

    help = "Write the whole book (every table, every photo) into one checksummed file. The book may be in use."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", metavar="FOLDER", type=Path, help="where to; else BRACEBOOK_BACKUP_DIR")
        parser.add_argument("--nightly", action="store_true", help="also drop the nightly ones that are no longer kept")

    def handle(self, *args: Any, **options: Any) -> None:
        now = datetime.now(UTC)
        try:
            if options["nightly"]:
                self.stdout.write(str(nightly_backup(now)))
                return
            path, manifest = make_backup(options["to"] or Path(settings.BACKUP_DIR), now)
        except (BackupRefused, OSError) as problem:
            raise CommandError(f"No backup was made: {problem}") from problem
        size = path.stat().st_size / MEGABYTE
        self.stdout.write(
            f"{path}: {manifest.rows} rows of {len(manifest.tables)} tables, {len(manifest.photos)} photos, "
            f"{size:.1f} MB."
        )
        for name in manifest.lost_photos:
            self.stderr.write(f"The photo {name} is named in the book but is not in {settings.MEDIA_ROOT}.")
