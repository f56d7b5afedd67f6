"""Money in the plan: whole hundredths of the site's currency, so that sums are exact."""

CENTS = 100


def to_cents(amount: float) -> int:
    """Whole hundredths of the currency: the solver's unit."""
    return round(amount * CENTS)


def from_cents(cents: int) -> float:
    """The amount in the site's currency."""
    return cents / CENTS
