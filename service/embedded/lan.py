"""What `start --lan` sets so that phones on the local network reach the book over HTTPS."""

import os
from datetime import datetime
from pathlib import Path

from service.embedded import certificate, network
from service.embedded.address import Address


class NoNetwork(Exception):
    """This machine has no address that a phone could reach."""


def settings_for(port: int, data_directory: Path, now: datetime) -> dict[str, str]:
    """BRACEBOOK_ settings for the programs: listen everywhere, our own certificate, the address of this machine.

    What the environment already names stays as it is.
    """
    addresses, names = network.lan_addresses(), network.machine_names()
    if not addresses:
        raise NoNetwork("This machine has no address on a network: connect it, or start without --lan.")
    chosen = {
        "BRACEBOOK_BIND": str(Address("0.0.0.0", port)),  # nosec B104 - --lan asks for it
        "BRACEBOOK_PUBLIC_URL": f"https://{Address(addresses[0], port)}",
        "BRACEBOOK_ALLOWED_HOSTS": ",".join([*addresses, *names, "localhost", "127.0.0.1"]),
    }
    if "BRACEBOOK_TLS_CERTIFICATE" not in os.environ:
        made, key = certificate.ensure(data_directory / "tls", [*names, "localhost"], [*addresses, "127.0.0.1"], now)
        chosen |= {"BRACEBOOK_TLS_CERTIFICATE": str(made), "BRACEBOOK_TLS_KEY": str(key)}
    kept = {"BRACEBOOK_PUBLIC_URL", "BRACEBOOK_ALLOWED_HOSTS"} & os.environ.keys()
    return {name: value for name, value in chosen.items() if name not in kept}
