"""Where the web server listens: a host and a port, read from text and written as people type it."""

import errno
import socket
from dataclasses import dataclass

# Listening on these means on every address of the machine; one cannot connect to them.
_EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # nosec B104 - a table, nothing is bound


@dataclass(frozen=True)
class Address:
    """A host (name or number, without brackets) and a TCP port."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"

    @property
    def reachable_here(self) -> "Address":
        """The same server as this machine reaches it: an address for everywhere is no address to connect to."""
        return Address(_EVERYWHERE.get(self.host, self.host), self.port)


def from_text(text: str) -> Address:
    """Read `host:port` or `[host]:port`; ValueError says what is wrong and how to write it."""
    host, colon, port = text.rpartition(":")
    host = host.removeprefix("[").removesuffix("]")
    if not (colon and host and port.isascii() and port.isdigit() and 1 <= int(port) <= 65535):
        raise ValueError(
            f"BRACEBOOK_BIND is {text!r}: give host:port with a port of 1 to 65535, for example 127.0.0.1:8000."
        )
    return Address(host, int(port))


def why_not_free(address: Address) -> str | None:
    """None if a server can listen there now, else the reason and the next step."""
    try:
        family, kind, protocol, _, place = socket.getaddrinfo(address.host, address.port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(place)
            probe.listen(1)
    except OSError as problem:
        return _in_words(address, problem)
    return None


def _in_words(address: Address, problem: OSError) -> str:
    if problem.errno == errno.EADDRINUSE:
        return (
            f"Port {address.port} on {address.host} is in use by another program. Stop that program, or choose another "
            f"port, for example BRACEBOOK_BIND={Address(address.host, address.port % 65535 + 1)}."
        )
    if problem.errno == errno.EACCES:
        return (
            f"Port {address.port} may not be opened by this user: ports below 1024 belong to the system. "
            f"Choose one of 1024 to 65535, for example BRACEBOOK_BIND={Address(address.host, 8000)}."
        )
    return (
        f"{address.host} is not an address of this machine ({problem.strerror}). "
        f"Set BRACEBOOK_BIND to one that is, for example 127.0.0.1:{address.port}."
    )
