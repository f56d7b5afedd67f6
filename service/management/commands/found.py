"""`manage.py found`: the first person of an empty book."""

import getpass
import os
from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from fleet import record


class Command(BaseCommand):
    """Make the first owner."""

    help = "Make the first owner of an empty book; the password is asked for, or taken from BRACEBOOK_FIRST_PASSWORD."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--name", required=True, help="the name that others see")

    def handle(self, *args: Any, **options: Any) -> None:
        password = os.environ.get("BRACEBOOK_FIRST_PASSWORD") or getpass.getpass("Password: ")
        try:
            validate_password(password)
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from problem
        try:
            record.found_book(username=options["username"], display_name=options["name"], password=password)
        except record.Refused as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"{options['name']} owns this book. Sign in as {options['username']}.")
