"""How much one token may ask for, counted per minute."""

import time

from fleet.models import DeviceToken
from service import shared_counts
from service.api.problems import Stopped

WINDOW_S = 60
REQUESTS_A_WINDOW = 240
ITEMS_A_WINDOW = 60_000
FAILURES_A_WINDOW = 30


def spend_request(token: DeviceToken) -> None:
    """Count one request of a token; Stopped with 429 beyond REQUESTS_A_WINDOW."""
    _spend(f"requests:{token.pk}", 1, REQUESTS_A_WINDOW, "requests")


def spend_items(token: DeviceToken, count: int) -> None:
    """Count the items of a batch; Stopped with 429 beyond ITEMS_A_WINDOW."""
    _spend(f"items:{token.pk}", count, ITEMS_A_WINDOW, "items")


def note_failure(address: str) -> None:
    """Count a request without a valid token from an address."""
    _count(f"failures:{address}", 1)


def require_patience(address: str) -> None:
    """Stopped with 429 for an address that has tried FAILURES_A_WINDOW tokens in vain this minute."""
    if _count(f"failures:{address}", 0) >= FAILURES_A_WINDOW:
        raise _too_many(f"{FAILURES_A_WINDOW} requests without a valid token came from this address in a minute")


def _spend(name: str, amount: int, limit: int, unit: str) -> None:
    count = _count(name, amount)
    if count > limit:
        raise _too_many(f"This token has sent {count} {unit} in a minute", count, f"0 to {limit}", f"{unit} a minute")


def _too_many(detail: str, value: int | None = None, allowed: str | None = None, unit: str | None = None) -> Stopped:
    wait_s = WINDOW_S - int(time.time()) % WINDOW_S
    return Stopped(
        "too-many",
        429,
        f"{detail}; the count starts anew in {wait_s} s.",
        {"Retry-After": str(wait_s)},
        value=value,
        allowed=allowed,
        unit=unit,
    )


def _count(name: str, amount: int) -> int:
    return shared_counts.count(f"api:{name}:{int(time.time()) // WINDOW_S}", amount, 2 * WINDOW_S)
