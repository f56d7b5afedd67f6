"""One supervised program: started in a process group of its own, watched, restarted with backoff, ended whole."""

import contextlib
import os
import shutil
import signal
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

LONGEST_WAIT_S = 60.0
# Having run this long, a program counts as healthy again and its next failure starts from the shortest wait.
HEALTHY_AFTER_S = 60.0
LOG_MAX_BYTES = 10 * 1024 * 1024


@dataclass(frozen=True)
class Program:
    """What to run. `prepare` runs before each start and may raise OSError: then the start is tried again later."""

    name: str
    command: list[str]
    log: Path
    grace_s: float
    prepare: Callable[[], None] = field(default=lambda: None)
    is_ready: Callable[[], bool] = field(default=lambda: True)


@dataclass
class Child:
    """A program as it runs now. Instants are seconds of the monotonic clock, given by the caller."""

    program: Program
    env: dict[str, str]
    directory: Path
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0
    start_again_at: float | None = None
    failures: int = 0

    def start(self, now: float) -> None:
        """Run the program, its output appended to its log; OSError if it cannot be started."""
        self.start_again_at = None
        self.started_at = now
        self.program.prepare()
        with self.program.log.open("ab") as output:
            self.process = subprocess.Popen(
                self.program.command,
                cwd=self.directory,
                env=self.env,
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def how_it_ended(self) -> str | None:
        """In words how the running program ended by itself; None while it runs or waits for its next start."""
        code = None if self.process is None else self.process.poll()
        if code is None:
            return None
        return f"killed by {signal.Signals(-code).name}" if code < 0 else f"exit code {code}"

    def retry_later(self, now: float) -> float:
        """Clear what is left of it and choose when to start it again; returns the wait in seconds."""
        self.kill()
        self.failures = 1 if now - self.started_at > HEALTHY_AFTER_S else self.failures + 1
        wait = min(LONGEST_WAIT_S, 2.0 ** (self.failures - 1))
        self.start_again_at = now + wait
        return wait

    def ask_to_stop(self) -> None:
        """SIGTERM to the program alone: it ends its own helpers in order."""
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()

    def kill(self) -> None:
        """SIGKILL to all that is left of its process group. The group keeps its number while any of it lives."""
        if self.process is None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process = None

    def last_words(self, lines: int = 5) -> str:
        """The end of its log."""
        with self.program.log.open("rb") as log:
            log.seek(max(0, log.seek(0, os.SEEK_END) - 4000))
            return "\n".join(log.read().decode(errors="replace").splitlines()[-lines:])

    def keep_log_short(self) -> None:
        """Move a long log aside; the program goes on writing to the emptied one, since it only appends."""
        log = self.program.log
        if log.exists() and log.stat().st_size > LOG_MAX_BYTES:
            shutil.copyfile(log, log.with_suffix(".log.1"))
            os.truncate(log, 0)
