"""The demo shop in a test's book: loaded once for all tests of the same instant."""

from datetime import datetime

from service.demo.load import load
from tests.remembered import remembered


@remembered()
def loaded(now: datetime) -> int:
    """Load the season that ends at `now`; returns how many bows."""
    return load(now)
