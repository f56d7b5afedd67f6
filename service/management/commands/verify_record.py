"""`manage.py verify_record`: is the audit trail as it was written?"""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.contents_verification import Covered
from fleet.verification import verify_record


class Command(BaseCommand):
    """Walk the chain of audit rows, and hold what was signed to the seals in them."""

    help = (
        "Walk the chain of audit rows and name the first that was changed, added or taken out, or the first "
        "signed result, release or check whose contents are not those that were signed. Note the digest it "
        "prints somewhere else: with --noted it is looked for again, which finds even a chain written anew as a whole."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--noted", default="", help="a digest that this command printed earlier")

    def handle(self, *args: Any, **options: Any) -> None:
        noted = options["noted"].strip().lower()
        found = verify_record(noted)
        if found.wrong:
            raise CommandError(
                f"The audit trail does not hold after {found.rows} rows: {found.wrong}. Keep this book as it is, and "
                "compare it with the backups: `restore FILE --check` reads one, `verify_record` in a book restored "
                "from it tells whether it was whole then."
            )
        if found.seen is False:
            raise CommandError(
                f"No row of the audit trail has the digest {noted}: the trail was written anew since it was noted, "
                "or the digest is of another book or mistyped."
            )
        self.stdout.write(
            f"The audit trail holds: {found.rows} rows; {_covered(found.covered)}; the last row has the digest "
            f"{found.digest}"
        )


def _covered(covered: Covered) -> str:
    """How many signed records are as they were signed, and how many nobody can tell of."""
    told = f"of the signed results, releases and checks {covered.held} are as they were signed"
    if not covered.without:
        return told
    return f"{told} and {covered.without} are not covered (from before contents were sealed, or from another book)"
