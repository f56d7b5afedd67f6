"""What a search for a guest's bow found: bows that fit and bows that do not, as pages show them."""

from dataclasses import dataclass
from datetime import date

from fleet.models import Bow

# So many are looked at on a phone with one hand; the further ones open on their own.
BEST_FEW = 5


@dataclass(frozen=True)
class BowFit:
    """One bow for one booking: `share_now` and `share_at_end` of its replacement point, and why it does not fit.

    `bench_day`: it fits if the bench does by then what it has planned.
    """

    bow: Bow
    share_now: float
    share_at_end: float
    why_not: tuple[str, ...]
    bench_day: date | None

    @property
    def fits(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.why_not


@dataclass(frozen=True)
class Beyond:
    """What a page of a search leaves to its next pages: how many more fit, and how many that do not are not listed.

    `next_fit`, `next_other`: where the next page begins, None where there is none. `why_others`: of all that do not
    fit, how many of them for each reason of their shape, and how many of the right shape for any other reason.
    """

    fit: int = 0
    next_fit: int | None = None
    others: int = 0
    next_other: int | None = None
    why_others: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class FitsInOrder:
    """Bows as they are offered: the best few, the further ones that fit, and those that do not."""

    best: tuple[BowFit, ...]
    further: tuple[BowFit, ...]
    others: tuple[BowFit, ...]
    beyond: Beyond = Beyond()

    @property
    def count(self) -> int:
        """How many fit."""
        return len(self.best) + len(self.further) + self.beyond.fit

    @property
    def further_count(self) -> int:
        """How many fit besides the best few."""
        return len(self.further) + self.beyond.fit

    @property
    def others_count(self) -> int:
        """How many do not."""
        return len(self.others) + self.beyond.others


def in_order(
    fits: list[BowFit], promised: Bow | None = None, few: int = BEST_FEW, beyond: Beyond = Beyond()
) -> FitsInOrder:
    """The bows of a search, those that fit without bench work first.

    A bow that is promised stands among the best whether it still fits or not: who looks, looks for it.
    """
    own = [one for one in fits if one.bow == promised]
    fitting = sorted(
        (one for one in fits if one.fits and one.bow != promised), key=lambda one: one.bench_day is not None
    )
    left = max(0, few - len(own))
    others = tuple(one for one in fits if not one.fits and one.bow != promised)
    return FitsInOrder((*own, *fitting[:left]), tuple(fitting[left:]), others, beyond)
