"""`manage.py start` as a whole: it serves, works, ends cleanly, and comes back after any kill."""

import os
import signal
import socket
import stat

import pytest

from service.celery import app
from service.embedded import network
from tests.embedded.running import alive, free_port
from tests.machinery import tasks_go_to, wait_for

pytestmark = pytest.mark.broker

PROGRAMS = {"broker": "valkey-server", "worker": " worker ", "beat": " beat ", "web server": "granian"}


def run_a_task(started, times: int = 1):
    """Send Celery's own housekeeping task and wait until the worker has done it."""
    log = started.data_directory / "log" / "worker.log"
    before = log.read_text().count("succeeded") if log.exists() else 0
    with tasks_go_to(f"redis+socket://{started.data_directory / 'broker.sock'}"):
        app.send_task("celery.backend_cleanup")
    wait_for("the task", lambda: log.exists() and log.read_text().count("succeeded") >= before + times)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_serves_works_and_ends_without_a_process_left(start, number):
    started = start().wait_until_open()
    assert started.status() < 500
    run_a_task(started)
    begun = started.descendants()
    for words in PROGRAMS.values():
        assert any(words in line for line in begun.values()), words
    assert started.stop(number) == 0
    assert [line for process, line in begun.items() if alive(process)] == []
    assert not (started.data_directory / "broker.sock").exists()
    assert started.output.rstrip().endswith("Stopped.")
    kept = [path for path in started.data_directory.rglob("*") if path.is_file()]
    assert {"secret-key", "book.sqlite3"} <= {path.name for path in kept}
    assert [path for path in kept if stat.S_IMODE(path.stat().st_mode) & 0o077] == [], "others may read it"


def test_second_start_is_refused_on_the_same_directory_and_runs_on_another(start):
    first = start().wait_until_open()
    said = start(at_port=free_port()).refused()
    assert f"already runs on {first.data_directory} (process {first.process.popen.pid}" in said
    assert f"http://127.0.0.1:{first.port}" in said and "BRACEBOOK_DATA_DIR" in said
    second = start(at_port=free_port(), directory="other").wait_until_open()
    assert first.status() < 500 and second.status() < 500
    run_a_task(first)


def test_starts_again_after_its_own_kill(start):
    killed = start().wait_until_open()
    orphans = killed.descendants()
    killed.process.popen.kill()
    killed.process.popen.wait()
    assert any(alive(process) for process in orphans), "nothing was orphaned: this test no longer tests"
    started = start().wait_until_open()
    assert "An earlier start was killed" in started.output
    assert [line for process, line in orphans.items() if alive(process)] == []
    assert started.status() < 500
    run_a_task(started)
    assert started.stop() == 0


def test_starts_again_after_everything_was_killed(start):
    killed = start().wait_until_open()
    everything = [*killed.descendants(), killed.process.popen.pid]
    for process in everything:
        os.kill(process, signal.SIGKILL)
    killed.process.popen.wait()
    started = start().wait_until_open()
    run_a_task(started)
    assert started.stop() == 0


def test_a_killed_program_is_said_and_started_again(start):
    started = start().wait_until_open()
    for name, words in PROGRAMS.items():
        killed = started.main_process(words)
        group = [process for process in started.descendants() if os.getpgid(process) == killed]
        os.kill(killed, signal.SIGKILL)
        started.wait_for_words(f"The {name} stopped (killed by SIGKILL); starting it again in 1 s.")
        started.wait_for_words(f"The {name} runs again.")
        assert not any(alive(process) for process in group)
        wait_for("the page", lambda: _answers(started))
        run_a_task(started)
    assert started.stop() == 0


def _answers(started) -> bool:
    try:
        return started.status() < 500
    except OSError:
        return False


def test_a_killed_web_process_is_replaced_by_its_server(start):
    started = start().wait_until_open()
    server = started.main_process("granian")
    helpers = [process for process in started.descendants() if os.getpgid(process) == server and process != server]
    for process in helpers:
        os.kill(process, signal.SIGKILL)
    wait_for("the page", lambda: _answers(started))
    assert started.stop() == 0


def test_port_in_use_is_refused_with_the_next_step(start):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        said = start(at_port=port).refused()
    assert f"Port {port} on 127.0.0.1 is in use by another program" in said
    assert f"BRACEBOOK_BIND=127.0.0.1:{port + 1}" in said
    assert "Traceback" not in said


def test_a_bind_without_a_port_is_refused_with_an_example(start):
    said = start(BRACEBOOK_BIND="127.0.0.1").refused()
    assert "BRACEBOOK_BIND is '127.0.0.1'" in said and "127.0.0.1:8000" in said
    assert "Traceback" not in said


def test_lan_serves_https_that_the_printed_certificate_proves(start):
    addresses = network.lan_addresses()
    started = start("--lan")
    if not addresses:
        assert "This machine has no address on a network" in started.refused()
        return
    started.wait_until_open()
    url = f"https://{addresses[0]}:{started.port}"
    started.wait_for_words(f"Scan it with a phone on this network, or type {url}")
    assert any(block in started.output for block in "█▀▄"), "no QR code"
    tls = started.data_directory / "tls"
    assert stat.S_IMODE((tls / "key.pem").stat().st_mode) == 0o600
    # Verified as a phone that has installed it would: name, dates and signature.
    assert started.status("/", host=addresses[0], trust=tls / "certificate.pem") < 400
    assert started.status("/", host="localhost", trust=tls / "certificate.pem") < 400
    assert started.stop() == 0


def test_a_broker_named_by_the_environment_is_used_and_none_embedded(start):
    started = start(BRACEBOOK_BROKER_URL="memory://").wait_until_open()
    assert not any("valkey-server" in line for line in started.descendants().values())
    assert started.stop() == 0
