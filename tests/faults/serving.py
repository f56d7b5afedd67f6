"""A served book that a test does harm to: its programs on an environment, and somebody at the counter meanwhile."""

import http.cookiejar
import json
import os
import re
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPResponse
from pathlib import Path
from urllib.parse import urlencode
from uuid import uuid4

from service.embedded import commands
from service.embedded.address import Address
from tests.embedded.running import free_port
from tests.machinery import REPOSITORY, Process, programs, wait_for
from tests.migrated import BOOK, put_empty_book
from tests.personas import PASSWORD
from tests.turnaround.typed import fine

NO_ANSWER = 599


def environment(data: Path, **settings: str) -> dict[str, str]:
    """This process's environment with the book's settings and no others."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
    given = {f"BRACEBOOK_{name}": value for name, value in settings.items()}
    return {**clean, "DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_DATA_DIR": str(data), **given}


def run(env: dict[str, str], *words: str) -> str:
    """Run a Python program to its end; returns what it said."""
    done = subprocess.run(
        [sys.executable, *words], cwd=REPOSITORY, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def make_tables(env: dict[str, str]) -> None:
    """An empty book: a copy on SQLite, made by the migrations on PostgreSQL."""
    if "BRACEBOOK_DATABASE_URL" in env:
        run(env, "manage.py", "migrate", "--verbosity", "0")
        return
    data = Path(env["BRACEBOOK_DATA_DIR"])
    data.mkdir(mode=0o700, exist_ok=True)
    put_empty_book(data / BOOK)


def prepare(env: dict[str, str], bows: int) -> str:
    """A shop that is open now; returns its device's secret."""
    make_tables(env)
    return run(env, "-m", "tests.faults.shop_now", str(bows)).splitlines()[-1]


def ask(port: int, path: str, token: str = "") -> tuple[int, str, dict[str, str]]:
    """Status, text and headers of a page without signing in, or of a device's call; NO_ANSWER where nobody listens."""
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers=headers)
    return _answer_of(urllib.request.build_opener(), request)


def _headers(answer: HTTPResponse | urllib.error.HTTPError) -> dict[str, str]:
    """By their names in small letters: servers differ in how they write them."""
    return {name.lower(): value for name, value in answer.headers.items()}


def _answer_of(
    opener: urllib.request.OpenerDirector, request: urllib.request.Request
) -> tuple[int, str, dict[str, str]]:
    try:
        with opener.open(request, timeout=60) as answer:
            return answer.status, answer.read().decode(), _headers(answer)
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode(), _headers(refused)
    except OSError:
        return NO_ANSWER, "", {}


@dataclass
class AtTheCounter:
    """Somebody signed in on a phone, who looks at pages and sends checks; `sent` has each check's key and status."""

    port: int
    sent: dict[str, int] = field(default_factory=dict)
    cookies: http.cookiejar.CookieJar = field(default_factory=http.cookiejar.CookieJar)

    def sign_in(self) -> "AtTheCounter":
        """With the password; the session lasts."""
        found = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.look("/sign-in/")[1])
        assert found is not None
        form = {"username": "larkspur-counter", "password": PASSWORD, "csrfmiddlewaretoken": found.group(1)}
        status, page, _ = self._ask("/sign-in/", form)
        assert status == 200 and "/sign-out/" in page
        return self

    def look(self, path: str) -> tuple[int, str, dict[str, str]]:
        """Status, text and headers of a page."""
        return self._ask(path)

    def check(self, tag: str, key: str = "") -> int:
        """Send a check in which all is fine, as the phone's script does; returns the status."""
        fields = fine("recurve", key=key or str(uuid4()))
        status, text, _ = self._ask(f"/turnaround/{tag}/", fields)
        self.sent[fields["key"]] = status
        if status == 200:
            assert json.loads(text)["tag"] == tag
        return status

    def count(self) -> Counter[int]:
        """How many checks were answered how."""
        return Counter(self.sent.values())

    @property
    def acknowledged(self) -> list[str]:
        """Keys of the checks that were answered well."""
        return sorted(key for key, status in self.sent.items() if status == 200)

    def _ask(self, path: str, form: dict[str, str] | None = None) -> tuple[int, str, dict[str, str]]:
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.cookies))
        token = next((cookie.value for cookie in self.cookies if cookie.name == "csrftoken"), "") or ""
        accept = "application/json" if path.startswith("/turnaround/") and form else "text/html"
        headers = {"X-CSRFToken": token, "Accept": accept}
        body = urlencode(form).encode() if form else None
        return _answer_of(opener, urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", body, headers))


@contextmanager
def checking(counter: AtTheCounter, bows: int) -> Iterator[AtTheCounter]:
    """One check after the other, bow by bow, for as long as the block runs."""
    ended = threading.Event()

    def work() -> None:
        number = 0
        while not ended.wait(0.05):
            counter.check(f"K-{number % bows}")
            number += 1

    thread = threading.Thread(target=work)
    thread.start()
    try:
        yield counter
    finally:
        ended.set()
        thread.join()


@dataclass
class Served:
    """The web server and a worker, as docker-compose.yml runs them."""

    port: int
    web: Process
    worker: Process


@contextmanager
def served(env: dict[str, str], folder: Path) -> Iterator[Served]:
    """Begin both and wait until they are ready."""
    port = free_port()
    with programs(folder, env) as begin:
        web = begin("web", commands.web(Address("127.0.0.1", port), processes=1, threads=4))
        worker = begin("worker", commands.worker(processes=1))
        wait_for("the worker", lambda: worker.said(" ready."))
        wait_for("the web server", lambda: ask(port, "/health/ready")[0] == 200)
        yield Served(port, web, worker)
