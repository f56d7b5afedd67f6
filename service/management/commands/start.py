"""`manage.py start`: the whole service on one machine, until Ctrl-C."""

import os
from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, CommandError, call_command
from django.db import connections, transaction

from fleet.models import Person, Site
from service.embedded import address, broker, lan, leftovers, lock, programs, welcome
from service.embedded.supervisor import NotReady, Supervisor

# Nobody else on this machine reads the book, its key, its photos or its logs.
PRIVATE = 0o077


class Command(BaseCommand):
    """Migrates, loads the demo shop into an empty book, runs broker, worker, beat and web server, and waits."""

    help = "Start Bracebook on this machine: makes or updates its database, then serves it until Ctrl-C."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare the two choices; everything else is set by BRACEBOOK_ variables."""
        parser.add_argument("--lan", action="store_true", help="serve phones on the local network over HTTPS")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty book empty")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run until asked to stop; CommandError says what prevents it and what to do."""
        os.umask(PRIVATE)
        directory = Path(settings.DATA_DIR)
        try:
            listen = address.from_text(settings.BIND)
            overrides = lan.settings_for(listen.port, directory, datetime.now(UTC)) if options["lan"] else {}
            listen = address.from_text(overrides.get("BRACEBOOK_BIND", settings.BIND))
            url = overrides.get("BRACEBOOK_PUBLIC_URL", settings.PUBLIC_URL)
            with lock.only_one(directory, url):
                self._clear_leftovers(directory)
                self._require_free(listen)
                self._prepare_book(with_demo=not options["no_demo"])
                self._run(listen, overrides, url)
        except (ValueError, lan.NoNetwork, lock.AlreadyRunning, NotReady) as problem:
            raise CommandError(str(problem)) from problem
        except KeyboardInterrupt:
            raise CommandError("Stopped before the book was open; start again when you like.") from None

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()

    def _clear_leftovers(self, directory: Path) -> None:
        left = leftovers.marked(directory)
        if programs.has_embedded_broker() and (listener := broker.listener(settings.BROKER_SOCKET)):
            left.add(listener)
        if left:
            self._say(f"An earlier start was killed and left {len(left)} processes running; ending them.")
            leftovers.end(left)

    def _require_free(self, listen: address.Address) -> None:
        reason = address.why_not_free(listen)
        if reason:
            raise CommandError(reason)

    def _prepare_book(self, with_demo: bool) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        if with_demo and not Person.objects.exists() and not Site.objects.exists():
            self._say("The book is empty; loading the demo shop ...")
            with transaction.atomic():
                call_command("demo", stdout=self.stdout)

    def _run(self, listen: address.Address, overrides: dict[str, str], url: str) -> None:
        supervisor = Supervisor(programs.children(listen, overrides), self._say)
        supervisor.obey_signals()
        lines = welcome.address_lines(url, Path(settings.DATA_DIR)) + welcome.sign_in_lines()
        if overrides:
            certificate = overrides.get("BRACEBOOK_TLS_CERTIFICATE", settings.TLS_CERTIFICATE)
            lines += welcome.lan_lines(url, Path(certificate))
        connections.close_all()
        try:
            supervisor.start()
            if not supervisor.stop_requests:
                self._say("\n".join(lines))
                supervisor.watch()
        finally:
            self._say("Stopping ...")
            supervisor.stop()
            self._say("Stopped.")
