"""What the API answers while the database is away, and that a fault of the book is not told as that.

Each error is a real one: the engine itself is brought to say it.
"""

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.test import Client

from service.api import tokens
from service.database_away import is_away
from tests.api.conftest import Device, shots

pytestmark = pytest.mark.both_engines


def said_by(act: Callable[[], object]) -> DatabaseError:
    """What the database says to an act on a connection of the test's own."""
    with pytest.raises(DatabaseError) as found:
        act()
    return found.value


class Own:
    """A second connection to a file, or to this engine's server, whose troubles are no other test's."""

    def __init__(self, name: str = "", **options: object) -> None:
        self.book = connection.copy("own")
        self.book.settings_dict["NAME"] = name or self.book.settings_dict["NAME"]
        self.book.settings_dict["OPTIONS"] = {**self.book.settings_dict["OPTIONS"], **options}

    def run(self, *statements: str) -> None:
        """One after the other."""
        with self.book.cursor() as cursor:
            for one in statements:
                cursor.execute(one)


def locked(folder: Path) -> DatabaseError:
    name = str(folder / "locked.sqlite3")
    with sqlite3.connect(name) as other:
        other.execute("CREATE TABLE t (a)")
        other.execute("BEGIN EXCLUSIVE")
        return said_by(lambda: Own(name, timeout=0).run("SELECT * FROM t"))


def full(folder: Path) -> DatabaseError:
    statements = ("PRAGMA page_size=512", "PRAGMA max_page_count=3", "CREATE TABLE t (a)", "CREATE TABLE u (a)")
    fill = "INSERT INTO t VALUES (randomblob(9000))"
    return said_by(lambda: Own(str(folder / "full.sqlite3")).run(*statements, fill))


def unopened(folder: Path) -> DatabaseError:
    return said_by(lambda: Own(str(folder / "no-such-folder" / "book.sqlite3")).run("SELECT 1"))


def read_only(folder: Path) -> DatabaseError:
    return said_by(lambda: Own(str(folder / "ro.sqlite3")).run("PRAGMA query_only=1", "CREATE TABLE t (a)"))


def ended(_folder: Path) -> DatabaseError:
    return said_by(lambda: Own().run("SELECT pg_terminate_backend(pg_backend_pid())"))


def took_too_long(_folder: Path) -> DatabaseError:
    return said_by(lambda: Own().run("SET statement_timeout = 20", "SELECT pg_sleep(5)"))


def no_server(_folder: Path) -> DatabaseError:
    def ask() -> None:
        own = Own()
        own.book.settings_dict |= {"HOST": "127.0.0.1", "PORT": "9"}
        own.run("SELECT 1")

    return said_by(ask)


def closed(_folder: Path) -> DatabaseError:
    own = Own()
    own.run("SELECT 1")
    own.book.connection.close()
    return said_by(lambda: own.run("SELECT 1"))


AWAY = {
    "sqlite": [locked, full, unopened, read_only],
    "postgresql": [ended, took_too_long, no_server, closed],
}
FAULTS = {
    "sqlite": ["SELECT no_such FROM fleet_bow", "SELECT * FROM no_such", "SELEC 1", "SELECT abs(-9223372036854775808)"],
    "postgresql": [
        "SELECT no_such FROM fleet_bow",
        "SELEC 1",
        f"SELECT {', '.join(['1'] * 2000)}",  # 54011: an OperationalError too, and no outage
    ],
}


def test_what_means_that_the_database_is_away(db: None, tmp_path: Path) -> None:
    for act in AWAY[connection.vendor]:
        assert is_away(act(tmp_path)), act.__name__


def test_what_is_a_fault_of_the_book(db: None) -> None:
    for statement in FAULTS[connection.vendor]:
        own = Own()
        found = said_by(lambda own=own, statement=statement: own.run(statement))
        own.book.close()
        assert not is_away(found), statement


def test_what_the_driver_says_of_a_value_is_a_fault() -> None:
    """sqlite3 tells an unsupported value by InterfaceError or ProgrammingError, by its version; neither has a code."""
    for own in (InterfaceError("Error binding parameter 0"), OperationalError("x")):
        own.__cause__ = sqlite3.InterfaceError("Error binding parameter 0 - probably unsupported type.")
        assert not is_away(own)
    assert not is_away(None) and not is_away(ValueError("locked"))


@pytest.fixture
def trouble(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[DatabaseError], None]]:
    """Lets the next look at a token meet what the database said."""

    def meet(said: DatabaseError) -> None:
        def raise_it(*_: object) -> None:
            raise said from said.__cause__

        monkeypatch.setattr(tokens, "note_use", raise_it)

    return meet


def test_a_call_meanwhile_is_a_problem_with_the_seconds_to_wait(
    shop: object, device: Callable[..., Device], trouble: Callable[[DatabaseError], None], tmp_path: Path
) -> None:
    made = device()
    trouble(AWAY[connection.vendor][0](tmp_path))
    for answer in (made.get("/api/due"), made.send("/api/shots", {"items": [shots()]})):
        assert (answer.status_code, answer["Retry-After"]) == (503, "30")
        assert answer["Content-Type"] == "application/problem+json"
        told = answer.json()
        assert (told["status"], told["type"]) == (503, "/api/problems/away")
        assert "does not answer" in told["detail"] and "Retry-After" in told["next_step"]


def test_a_fault_is_no_outage(
    shop: object,
    device: Callable[..., Device],
    trouble: Callable[[DatabaseError], None],
    caplog: pytest.LogCaptureFixture,
) -> None:
    """500, with its trace in the log: nobody waits for what does not pass."""
    made = device("read")
    own = Own()
    trouble(said_by(lambda: own.run("SELECT no_such FROM fleet_bow")))
    own.book.close()
    client = Client(raise_request_exception=False)
    answer = client.get("/api/due", headers={"Authorization": f"Bearer {made.secret}"})
    assert answer.status_code == 500 and "Retry-After" not in answer
    assert "no_such" not in answer.content.decode()
    logged = [one for one in caplog.records if one.name == "django.request" and one.levelname == "ERROR"]
    assert [one.exc_info is not None and "no_such" in str(one.exc_info[1]) for one in logged] == [True]
