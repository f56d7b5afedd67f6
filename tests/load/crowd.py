"""A crowd at one book: phones that check bows, people who read lists, loggers that send batches."""

import json
import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from tests.load.browser import Answer, Browser
from tests.turnaround.typed import fine

USES: tuple[dict[str, str | None], ...] = (
    {"use": "none"},
    {"use": "0.5"},
    {"use": "1"},
    {"use": "shots", "shots": "37"},
)
LISTS = ("/due/", "/bows/", "/queue/", "/turnaround/", "/bows/{tag}/")
SENT_AGAIN_IN, SENT_TWICE_AT_ONCE_IN, BATCH_AGAIN_IN = 5, 7, 4
BATCH = 20


@dataclass(frozen=True)
class Size:
    """How many of each, and how long they wait between one thing and the next (s)."""

    phones: int
    readers: int
    loggers: int
    phone_waits_s: float = 0.0
    reader_waits_s: float = 1.0
    logger_waits_s: float = 10.0


@dataclass
class Crowd:
    """Everybody, and what was acknowledged: checks by key, batch items by key, and when each bow was last shot."""

    port: int
    book: dict[str, Any]
    name: str = ""
    answers: list[Answer] = field(default_factory=list)
    checks_sent: set[str] = field(default_factory=set)
    checks: set[str] = field(default_factory=set)
    with_shots: set[str] = field(default_factory=set)
    shots: set[str] = field(default_factory=set)
    readings: set[str] = field(default_factory=set)
    last_shot: dict[str, float] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def run(self, size: Size, seconds: float) -> None:
        """Sign everybody in, then all at once for so many seconds; each ends what it has begun."""
        counters, managers = self.book["counters"], self.book["managers"]
        work: list[Callable[[float], None]] = []
        for n in range(size.phones):
            browser = Browser(self.port, self.answers).sign_in(counters[n % len(counters)])
            work.append(_Phone(self, browser, random.Random(n), size.phone_waits_s).until)
        for n in range(size.readers):
            browser = Browser(self.port, self.answers).sign_in(managers[n % len(managers)])
            work.append(_Reader(self, browser, random.Random(n), size.reader_waits_s).until)
        for n in range(size.loggers):
            browser = Browser(self.port, self.answers, bearer=self.book["devices"][n])
            work.append(_Logger(self, browser, random.Random(n), size.logger_waits_s, n).until)
        end = time.monotonic() + seconds
        threads = [threading.Thread(target=self._guarded, args=(one, end)) for one in work]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def _guarded(self, work: Callable[[float], None], end: float) -> None:
        try:
            work(end)
        except Exception as problem:  # told by the main thread: an end without a word would look like success
            self.problems.append(repr(problem))
            raise

    def note_shot(self, tag: str, at: float) -> None:
        """A bow's shots were acknowledged; they were sent at `at`."""
        with self._lock:
            self.last_shot[tag] = max(at, self.last_shot.get(tag, 0.0))


@dataclass
class _Phone:
    crowd: Crowd
    browser: Browser
    random: random.Random
    waits_s: float

    def until(self, end: float) -> None:
        number = 0
        while time.monotonic() < end:
            self._check(number)
            number += 1
            time.sleep(self.random.uniform(0.5, 1.5) * self.waits_s)

    def _check(self, number: int) -> None:
        """Open the bow's page, answer, and now and then send the same again: later, or twice at the same instant."""
        tag = self.random.choice(self.crowd.book["tags"])
        page = self.browser.ask("check page", f"/turnaround/{tag}/")
        key, use = page.hidden("key"), self.random.choice(USES)
        body = urlencode(fine(**{**use, "key": key, "typed_by": page.hidden("typed_by")}))
        self.crowd.checks_sent.add(key)
        sent_at = time.time()
        answers: list[Answer] = []

        def send(browser: Browser, kind: str) -> None:
            answers.append(browser.ask(kind, f"/turnaround/{tag}/", body))

        if number % SENT_TWICE_AT_ONCE_IN == 3:
            other = threading.Thread(target=send, args=(self.browser.again(), "check, twice at once"))
            other.start()
            send(self.browser, "check, twice at once")
            other.join()
        else:
            send(self.browser, "check")
        if number % SENT_AGAIN_IN == 0:
            send(self.browser, "check, again")
        taken = [json.loads(one.text) for one in answers if one.status == 200]
        if taken:
            self.crowd.checks.add(key)
            if use["use"] != "none":
                self.crowd.with_shots.add(key)
                self.crowd.note_shot(tag, sent_at)
        if any(one != taken[0] for one in taken):
            self.crowd.problems.append(f"{key} was answered differently: {taken}")


@dataclass
class _Reader:
    crowd: Crowd
    browser: Browser
    random: random.Random
    waits_s: float

    def until(self, end: float) -> None:
        while time.monotonic() < end:
            path = self.random.choice(LISTS)
            self.browser.ask(f"list {path}", path.format(tag=self.random.choice(self.crowd.book["tags"])))
            time.sleep(self.random.uniform(0.5, 1.5) * self.waits_s)


@dataclass
class _Logger:
    crowd: Crowd
    browser: Browser
    random: random.Random
    waits_s: float
    lane: int

    def until(self, end: float) -> None:
        number = 0
        while time.monotonic() < end:
            (self._readings if number % 3 == 2 else self._shots)(number)
            number += 1
            time.sleep(self.random.uniform(0.5, 1.5) * self.waits_s)

    def _shots(self, number: int) -> None:
        now = datetime.now(UTC)
        tags = self.random.sample(self.crowd.book["tags"], min(BATCH, len(self.crowd.book["tags"])))
        start, end = (now - timedelta(seconds=ago) for ago in (240, 60))
        when = {"start": start.isoformat(), "end": end.isoformat()}
        name = f"{self.crowd.name}{self.lane}-{number}"
        items = [{"key": f"{name}-{tag}", "bow": tag, **when, "count": self.random.randint(1, 12)} for tag in tags]
        sent_at = time.time()
        for index in self._sent("shots", "/api/shots", items, number):
            self.crowd.shots.add(f"api:{self.crowd.book['site']}:{items[index]['key']}")
            self.crowd.note_shot(tags[index], sent_at)

    def _readings(self, number: int) -> None:
        place = self.crowd.book["places"][self.lane]
        at = datetime.now(UTC).replace(microsecond=0) - timedelta(seconds=1)
        items = [{"place": place, "at": at.isoformat(), "celsius": round(self.random.uniform(15.0, 25.0), 2)}]
        for index in self._sent("readings", "/api/readings", items, number):
            self.crowd.readings.add(f"{place} {items[index]['at']}")

    def _sent(self, kind: str, path: str, items: list[dict[str, Any]], number: int) -> list[int]:
        """Which items stand now; some batches are sent again, and then all of them must be known."""
        body = json.dumps({"items": items})
        answer = self.browser.ask(f"batch of {kind}", path, body, "application/json")
        if answer.status != 200:
            return []
        results = json.loads(answer.text)["items"]
        if number % BATCH_AGAIN_IN == 1:
            again = self.browser.ask(f"batch of {kind}", path, body, "application/json")
            if again.status == 200 and any(one["status"] != "known" for one in json.loads(again.text)["items"]):
                self.crowd.problems.append(f"a batch sent again was not known: {again.text[:500]}")
        refused = [one for one in results if one["status"] == "refused"]
        if refused:
            self.crowd.problems.append(f"a good item was refused: {refused[0]}")
        return [one["index"] for one in results if one["status"] != "refused"]
