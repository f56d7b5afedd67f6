"""What this machine is called on its local network."""

import contextlib
import fcntl
import socket
import struct

# ioctl "get interface address" of Linux, and the size and offset of its request.
_SIOCGIFADDR = 0x8915
_REQUEST = "256s"
_ADDRESS_AT = slice(20, 24)
# An address kept for documentation (RFC 5737): nothing is sent to it, the kernel only chooses a way out.
_ELSEWHERE = ("192.0.2.1", 9)


def lan_addresses() -> list[str]:
    """The IPv4 addresses of this machine, the one on the way to other networks first; none of the loopback."""
    found = [address for _, name in socket.if_nameindex() if (address := _address_of(name)) is not None]
    main = _way_out()
    ordered = ([main] if main in found else []) + [address for address in found if address != main]
    return [address for address in ordered if not address.startswith("127.")]


def machine_names() -> list[str]:
    """The machine's own name, and the one under which it announces itself on a local network."""
    name = socket.gethostname().lower()
    return [name] if name.endswith(".local") or "." in name else [name, f"{name}.local"]


def _address_of(interface: str) -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        answer = fcntl.ioctl(probe.fileno(), _SIOCGIFADDR, struct.pack(_REQUEST, interface.encode()[:15]))
        return socket.inet_ntoa(answer[_ADDRESS_AT])
    return None


def _way_out() -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe, contextlib.suppress(OSError):
        probe.connect(_ELSEWHERE)
        return str(probe.getsockname()[0])
    return None
