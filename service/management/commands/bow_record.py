"""`manage.py bow_record`: a bow's whole record out of this book, or into it."""

from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.models import Bow
from fleet.refusal import Refused
from service.bow_record.contents import contents_of
from service.bow_record.files import as_zip
from service.bow_record.record import as_json, bring, document_of, read
from service.management.arguments import person_named, site_named
from service.printing.pdf_record import render_record


class Command(BaseCommand):
    """Write a bow's record to a file by its ending, or bring one in."""

    help = "Write a bow's whole record (.json, .zip with CSV, .pdf), or bring a .json record into this book."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--out", nargs=2, metavar=("TAG", "FILE"), help="write the record of TAG to FILE")
        parser.add_argument("--bring", metavar="FILE", help="bring the record in FILE into this book")
        parser.add_argument("--site", help="with --bring: the site the bow belongs to from now on")
        parser.add_argument("--by", help="with --bring: whose act it is (user name; else the first owner)")

    def handle(self, *args: Any, **options: Any) -> None:
        if bool(options["out"]) == bool(options["bring"]):
            raise CommandError("Say either --out TAG FILE or --bring FILE --site CODE.")
        try:
            self._out(*options["out"]) if options["out"] else self._bring(options)
        except (Refused, OSError) as problem:
            raise CommandError(str(problem)) from problem

    def _out(self, tag: str, name: str) -> None:
        bow = Bow.objects.select_related("site", "spec_sheet").filter(tag=tag).first()
        if bow is None:
            raise CommandError(f"There is no bow {tag!r}: `manage.py due` lists them.")
        now, target = datetime.now(UTC), Path(name)
        writers = {
            ".json": lambda: as_json(document_of(bow, now)),
            ".zip": lambda: as_zip(document_of(bow, now)),
            ".pdf": lambda: render_record(contents_of(bow, now), bow.site.paper),
        }
        if target.suffix not in writers:
            raise CommandError(f"{name} ends in {target.suffix!r}: choose {', '.join(writers)}.")
        content = writers[target.suffix]()
        target.write_bytes(content)
        self.stdout.write(f"{tag}: {len(content):,} bytes in {name}.")

    def _bring(self, options: dict[str, Any]) -> None:
        site = site_named(options["site"])
        if site is None:
            raise CommandError("Say with --site CODE where the bow belongs from now on.")
        person = person_named(options["by"])
        bow = bring(read(Path(options["bring"]).read_bytes()), by=person, site=site)
        self.stdout.write(f"{bow.tag} is in the book, at {site}. Its wear is computed by the next rebuild.")
