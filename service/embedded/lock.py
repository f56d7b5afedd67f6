"""One running start per data directory."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class AlreadyRunning(Exception):
    """Another start holds the data directory; the text says which and what to do."""


@contextmanager
def only_one(data_directory: Path, address: str) -> Iterator[None]:
    """Hold the data directory for as long as the block runs. The kernel lets go of it however we end."""
    handle = os.open(data_directory / "start.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise AlreadyRunning(_who(handle, data_directory)) from None
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"{os.getpid()} {address}".encode(), 0)
        yield
    finally:
        os.close(handle)


def _who(handle: int, data_directory: Path) -> str:
    process, _, address = os.pread(handle, 400, 0).decode().partition(" ")
    return (
        f"Bracebook already runs on {data_directory} (process {process or 'unknown'}, {address or 'starting'}). "
        f"Open that address; or stop it with Ctrl-C where it runs, or `kill {process}`; "
        "or give this one a directory of its own in BRACEBOOK_DATA_DIR."
    )
