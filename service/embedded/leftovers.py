"""What an earlier start left running because it was killed: found by a mark in the environment, and ended."""

import contextlib
import os
import signal
import time
from pathlib import Path

MARK = "BRACEBOOK_SUPERVISED_IN"
GRACE_S = 10.0


def marked(data_directory: Path) -> set[int]:
    """Processes of this user that a start on this data directory began, and their descendants."""
    mark = f"{MARK}={data_directory}".encode()
    found = set()
    for entry in Path("/proc").glob("[0-9]*"):
        # Processes end while we look, and other users' may not be read.
        with contextlib.suppress(OSError):
            if mark in (entry / "environ").read_bytes().split(b"\0"):
                found.add(int(entry.name))
    return found - {os.getpid()}


def end(processes: set[int], grace_s: float = GRACE_S) -> None:
    """Ask the leaders of the process groups to stop, wait, then kill what is left. None of them is our child."""
    for process in processes:
        with contextlib.suppress(ProcessLookupError):
            if os.getpgid(process) == process:
                os.kill(process, signal.SIGTERM)
    if not _gone(processes, grace_s):
        for process in processes:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        _gone(processes, grace_s)


def _gone(processes: set[int], seconds: float) -> bool:
    until = time.monotonic() + seconds
    while any(_runs(process) for process in processes):
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True


def _runs(process: int) -> bool:
    """Whether it runs; one that has ended and waits to be collected by its parent does not."""
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state not in {"Z", "X"}
