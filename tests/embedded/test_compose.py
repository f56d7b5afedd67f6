"""docker-compose.yml runs the programs that `start` runs: same command lines, on real PostgreSQL and Redis.

No container is built here: the commands and the environment of the file are started as they stand, with the names of
the other containers replaced by this machine's services.
"""

import http.client
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from service.celery import app
from service.embedded import commands
from service.embedded.address import Address
from tests.embedded.running import free_port
from tests.machinery import REPOSITORY, programs, tasks_go_to, wait_for


@pytest.fixture(scope="module")
def compose() -> dict:
    return yaml.safe_load((REPOSITORY / "docker-compose.yml").read_text())


def command_of(compose: dict, name: str) -> list[str]:
    program, *rest = compose["services"][name]["command"]
    assert program == "python"
    return [sys.executable, *rest]


def test_command_lines_are_those_that_start_runs(compose):
    assert command_of(compose, "web") == commands.web(Address("0.0.0.0", 8000), processes=2, threads=4)
    assert command_of(compose, "worker") == commands.worker(processes=2)
    assert command_of(compose, "beat") == commands.beat()


def test_broker_keeps_tasks_as_the_embedded_one_does(compose):
    embedded = commands.broker(Path("valkey-server"), Path("/s"), Path("/d"))
    ours = compose["services"]["broker"]["command"]
    for option in ("--appendonly", "--appendfsync", "--save", "--maxmemory-policy"):
        assert ours[ours.index(option) + 1] == embedded[embedded.index(option) + 1]


def test_every_name_it_asks_of_the_environment_is_a_setting_or_its_own(compose):
    settings = (REPOSITORY / "service" / "settings.py").read_text()
    for name in compose["x-program"]["environment"]:
        assert name == "DJANGO_SETTINGS_MODULE" or f'"{name}"' in settings, name


def environment(compose: dict, database: str, broker: str, data: Path) -> dict[str, str]:
    """The file's environment, with what differs from a container: where the services and the data are."""
    given = dict(compose["services"]["web"]["environment"])
    for name, value in given.items():
        value = re.sub(r"\$\{BRACEBOOK_PUBLIC_URL:\?[^}]*\}", "https://book.example", value)
        given[name] = re.sub(r"\$\{\w+:-([^}]*)\}", r"\1", value)
    given |= {"BRACEBOOK_DATABASE_URL": database, "BRACEBOOK_BROKER_URL": broker, "BRACEBOOK_DATA_DIR": str(data)}
    given["BRACEBOOK_METRICS_DIR"] = str(data / "metrics")
    assert not any("${" in value for value in given.values())
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
    return clean | given


@pytest.fixture
def running(compose, postgresql_database, redis_server, tmp_path) -> Iterator[tuple[int, Path, str]]:
    """prepare, then web, worker and beat; yields the web port, the folder of the logs and the broker."""
    env = environment(compose, postgresql_database, redis_server, tmp_path / "data")
    port = free_port()
    with programs(tmp_path, env) as begin:
        prepare = begin("prepare", command_of(compose, "prepare"))
        assert prepare.popen.wait(120) == 0, prepare.log.read_text()
        web = command_of(compose, "web")
        web[web.index("8000")], web[web.index("0.0.0.0")] = str(port), "127.0.0.1"
        begin("web", web)
        worker = begin("worker", command_of(compose, "worker"))
        begin("beat", command_of(compose, "beat"))
        wait_for("the worker", lambda: worker.said(" ready."))
        yield port, tmp_path, redis_server


@pytest.mark.broker
def test_programs_run_on_postgresql_and_redis(running):
    port, logs, broker = running
    wait_for("the web server", lambda: status(port, "book.example", "https") < 500)
    assert status(port, "book.example", "https") < 400
    assert status(port, "127.0.0.1", "http") == 301, "a person is sent on to HTTPS"
    assert status(port, "127.0.0.1", "http", "/health/ready") == 200, "what the health check sees"
    assert status(port, "elsewhere.example", "https") == 400, "a name that is not ours"
    with tasks_go_to(broker):
        app.send_task("celery.backend_cleanup")
    wait_for("the task", lambda: "succeeded" in (logs / "worker.log").read_text())
    wait_for("the clock", lambda: "beat: Starting" in (logs / "beat.log").read_text())


def status(port: int, host: str, scheme: str, path: str = "/") -> int:
    """Ask as the proxy does."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request("GET", path, headers={"Host": host, "X-Forwarded-Proto": scheme})
        return connection.getresponse().status
    except OSError:
        return 599
    finally:
        connection.close()
