"""`manage.py restore FILE`: a backup back into an empty book, on either engine."""

from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from service.backup.archive import BackupRefused, verify
from service.backup.restore import restore
from service.embedded import lock


class Command(BaseCommand):
    """Verify a backup, and unless told only to check it, restore it."""

    help = (
        "Restore a backup into an empty book: SQLite, or the PostgreSQL of BRACEBOOK_DATABASE_URL. "
        "Stop the service first. People sign in anew afterwards."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path)
        parser.add_argument("--check", action="store_true", help="read and verify the file, and change nothing")
        parser.add_argument("--replace", action="store_true", help="throw away the book that is there")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["check"]:
                manifest = verify(options["file"])
                said = "is whole"
            else:
                with lock.only_one(Path(settings.DATA_DIR), "restoring"):
                    manifest = restore(options["file"], datetime.now(UTC), replace=options["replace"])
                said = "is restored"
        except (BackupRefused, lock.AlreadyRunning) as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(
            f"The backup of {manifest.made_at} {said}: {manifest.rows} rows of {len(manifest.tables)} tables, "
            f"{len(manifest.photos)} photos. It was made on {manifest.engine}."
        )
