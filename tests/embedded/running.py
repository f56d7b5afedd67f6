"""`manage.py start` as a test runs and looks at it."""

import http.client
import os
import signal
import socket
import ssl
import sys
from pathlib import Path

from tests.machinery import Process, wait_for


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def alive(process: int) -> bool:
    """Runs, and is not merely waiting to be collected."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] not in {"Z", "X"}
    except OSError:
        return False


def descendants(process: int) -> dict[int, str]:
    """Every process that this one began, and their own, with command lines: read from the kernel, not from our code."""
    parents, lines = {}, {}
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(entry.name)] = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            lines[int(entry.name)] = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
        except OSError:
            continue
    found: set[int] = set()
    level = {process}
    while level:
        level = {child for child, parent in parents.items() if parent in level}
        found |= level
    return {child: lines[child] for child in found}


class Start:
    """One `manage.py start` on a data directory and a private port."""

    def __init__(self, data_directory: Path, port: int, *options: str, **settings: str) -> None:
        self.data_directory, self.port = data_directory, port
        env = {"BRACEBOOK_DATA_DIR": str(data_directory), "BRACEBOOK_BIND": f"127.0.0.1:{port}"}
        env |= {"DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_WORKER_PROCESSES": "1", **settings}
        clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
        data_directory.mkdir(exist_ok=True)
        log = data_directory.parent / f"{data_directory.name}.start-{len(list(data_directory.parent.iterdir()))}.txt"
        command = [sys.executable, "manage.py", "start", *options]
        self.process = Process(command, log, clean | env, inherit=False)

    @property
    def output(self) -> str:
        return self.process.log.read_text(errors="replace")

    def wait_until_open(self) -> "Start":
        wait_for("the open book", lambda: self.process.said("Bracebook is open at"), 120)
        return self

    def wait_for_words(self, words: str, seconds: float = 60) -> None:
        wait_for(f"{words!r} from start", lambda: self.process.said(words), seconds)

    def descendants(self) -> dict[int, str]:
        return descendants(self.process.popen.pid)

    def main_process(self, words: str) -> int:
        """The direct child whose command line has these words."""
        (found,) = [
            process for process, line in self.descendants().items() if words in line and os.getpgid(process) == process
        ]
        return found

    def status(self, path: str = "/", host: str = "127.0.0.1", trust: Path | None = None) -> int:
        """The status of one page."""
        if trust is None:
            connection = http.client.HTTPConnection(host, self.port, timeout=20)
        else:
            context = ssl.create_default_context(cafile=str(trust))
            connection = http.client.HTTPSConnection(host, self.port, timeout=20, context=context)
        try:
            connection.request("GET", path)
            return connection.getresponse().status
        finally:
            connection.close()

    def refused(self) -> str:
        """Wait for a start that must not come up; returns what it said."""
        assert self.process.popen.wait(60) == 1
        return self.output

    def stop(self, number: int = signal.SIGTERM) -> int:
        """Send the signal and wait for the end; returns the exit code."""
        self.process.popen.send_signal(number)
        return self.process.popen.wait(60)
