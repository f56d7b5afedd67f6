"""The parts of `start`, each by itself."""

import itertools
import os
import signal
import stat
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import load_pem_private_key

from service.embedded import address, certificate, child, leftovers, lock, network
from service.embedded.address import Address
from service.embedded.child import Child, Program

NOW = datetime(2026, 5, 1, 12, tzinfo=UTC)
SLEEPER = [sys.executable, "-c", "import time; time.sleep(600)"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [("127.0.0.1:8000", Address("127.0.0.1", 8000)), ("[::1]:80", Address("::1", 80)), ("book:1", Address("book", 1))],
)
def test_address_reads_what_it_writes(text, expected):
    assert address.from_text(text) == expected
    assert str(expected) == text


@pytest.mark.parametrize("text", ["", "8000", ":8000", "host:", "host:0", "host:65536", "host:8k", "host:-1", "host:²"])
def test_address_says_what_it_wants(text):
    with pytest.raises(ValueError, match=r"give host:port with a port of 1 to 65535, for example 127\.0\.0\.1:8000"):
        address.from_text(text)


def test_an_address_of_another_machine_cannot_be_listened_on():
    """192.0.2.0/24 is kept for documentation (RFC 5737): no machine has it."""
    reason = address.why_not_free(Address("192.0.2.1", 8000))
    assert reason is not None and "192.0.2.1 is not an address of this machine" in reason


def test_certificate_carries_names_addresses_and_a_private_key(tmp_path: Path):
    made, key = certificate.ensure(tmp_path / "tls", ["shop", "shop.local"], ["198.51.100.7"], NOW)
    read = x509.load_pem_x509_certificate(made.read_bytes())
    carried = read.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert carried.get_values_for_type(x509.DNSName) == ["shop", "shop.local"]
    assert [str(number) for number in carried.get_values_for_type(x509.IPAddress)] == ["198.51.100.7"]
    assert read.not_valid_before_utc < NOW < read.not_valid_after_utc < NOW + timedelta(days=398)
    read.verify_directly_issued_by(read)
    assert load_pem_private_key(key.read_bytes(), None).public_key() == read.public_key()
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert b"BEGIN PRIVATE KEY" in key.read_bytes(), "the web server reads PKCS #8 only"


def test_certificate_is_kept_until_it_ends_or_lacks_an_address(tmp_path: Path):
    def serial(addresses: list[str], now: datetime) -> int:
        made, _ = certificate.ensure(tmp_path, ["shop"], addresses, now)
        return x509.load_pem_x509_certificate(made.read_bytes()).serial_number

    first = serial(["198.51.100.7"], NOW)
    assert serial(["198.51.100.7"], NOW + timedelta(days=300)) == first
    moved = serial(["198.51.100.8"], NOW)
    assert moved != first
    assert serial(["198.51.100.8"], NOW + timedelta(days=380)) != moved


def test_a_damaged_certificate_is_made_anew(tmp_path: Path):
    made, _ = certificate.ensure(tmp_path, ["shop"], [], NOW)
    made.write_text("not a certificate")
    certificate.ensure(tmp_path, ["shop"], [], NOW)
    assert x509.load_pem_x509_certificate(made.read_bytes())


def test_lan_addresses_are_those_the_kernel_lists():
    """Against the kernel's own table of local addresses; the loopback is never among them."""
    found = network.lan_addresses()
    assert not any(number.startswith("127.") for number in found)
    fib = Path("/proc/net/fib_trie").read_text().split("Local:")[-1].splitlines()
    local = {above.split()[-1] for above, line in itertools.pairwise(fib) if "/32 host LOCAL" in line}
    assert set(found) <= local


def test_the_lock_is_let_go_when_the_block_ends(tmp_path: Path):
    with (
        lock.only_one(tmp_path, "http://here"),
        pytest.raises(lock.AlreadyRunning, match=rf"process {os.getpid()}, http://here"),
        lock.only_one(tmp_path, "http://there"),
    ):
        pytest.fail("two hold the directory")
    with lock.only_one(tmp_path, "http://there"):
        pass


def test_leftovers_are_those_with_the_mark_of_this_directory(tmp_path: Path):
    mine, other = tmp_path / "mine", tmp_path / "other"
    begun = [
        subprocess.Popen(SLEEPER, env={**os.environ, leftovers.MARK: str(place)}, start_new_session=True)
        for place in (mine, other)
    ]
    try:
        wanted, spared = begun
        deadline = time.monotonic() + 10
        while leftovers.marked(mine) != {wanted.pid} and time.monotonic() < deadline:
            time.sleep(0.05)
        assert leftovers.marked(mine) == {wanted.pid}
        leftovers.end({wanted.pid})
        assert wanted.wait(5) == -signal.SIGTERM
        assert spared.poll() is None
    finally:
        for one in begun:
            one.kill()
            one.wait()


def test_a_leftover_that_ignores_the_request_is_killed(tmp_path: Path):
    deaf = (
        "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(600)"
    )
    with subprocess.Popen([sys.executable, "-c", deaf], stdout=subprocess.PIPE, start_new_session=True) as process:
        assert process.stdout is not None and process.stdout.readline() == b"deaf\n"
        leftovers.end({process.pid}, grace_s=0.3)
        assert process.wait(5) == -signal.SIGKILL


def failing(tmp_path: Path, script: str = "raise SystemExit(3)") -> Child:
    program = Program("helper", [sys.executable, "-c", script], tmp_path / "helper.log", grace_s=1)
    return Child(program, dict(os.environ), tmp_path)


def test_waits_double_up_to_a_minute_and_start_over_once_healthy(tmp_path: Path):
    helper = failing(tmp_path)
    waits = []
    for now in range(9):
        helper.started_at = now
        waits.append(helper.retry_later(now))
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 60]
    helper.started_at = 0
    assert helper.retry_later(child.HEALTHY_AFTER_S + 1) == 1


def test_says_how_a_program_ended_and_its_last_words(tmp_path: Path):
    helper = failing(tmp_path, "print('the reason'); raise SystemExit(3)")
    assert helper.how_it_ended() is None
    helper.start(now=0)
    assert helper.process is not None
    helper.process.wait(20)
    assert helper.how_it_ended() == "exit code 3"
    assert helper.last_words() == "the reason"


def test_a_long_log_is_moved_aside_and_the_program_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(child, "LOG_MAX_BYTES", 100)
    helper = failing(tmp_path, "import sys\nfor line in sys.stdin: pass")
    with helper.program.log.open("ab") as log:
        log.write(b"x" * 101)
        log.flush()
        helper.keep_log_short()
        log.write(b"y")
    assert (tmp_path / "helper.log.1").read_bytes() == b"x" * 101
    assert helper.program.log.read_bytes() == b"y"


def test_killing_a_program_takes_its_whole_group(tmp_path: Path):
    script = f"import subprocess, sys; p = subprocess.Popen({SLEEPER!r}); print(p.pid, flush=True); p.wait()"
    helper = failing(tmp_path, script)
    helper.start(now=0)
    deadline = time.monotonic() + 20
    while not helper.program.log.read_text().strip() and time.monotonic() < deadline:
        time.sleep(0.05)
    grandchild = int(helper.program.log.read_text())
    helper.kill()
    deadline = time.monotonic() + 5
    while Path(f"/proc/{grandchild}/cmdline").exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    stat_file = Path(f"/proc/{grandchild}/stat")
    assert not stat_file.exists() or stat_file.read_text().rpartition(")")[2].split()[0] == "Z"
