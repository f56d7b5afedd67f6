"""A plan read off the fractional one: each need where the fractional plan has most of it, if there is room, else
on the open spot of least reduced cost. The first plan knows no price of bench time; this one does, so it is
the better start for the search when the bench is full."""

from service.plan.bench import Bench
from service.plan.bound import LinearBound
from service.plan.choices import Choices
from service.plan.frame import Frame, Spot, Spots
from service.plan.state import canceller_of, without_pointless

TIE = 1e-6
"""Cents of reduced cost that count as equal."""


def priced_spots(frame: Frame, choices: Choices, linear: LinearBound, keep: Spots) -> Spots:
    """`keep` is a plan that keeps the published jobs: those it has at their published spots stay there."""
    bench = Bench(frame, {n: spot for n, spot in keep.items() if frame.published.get(n) == spot})
    share = linear.share

    def order(need: int) -> tuple[bool, bool, bool, float, int]:
        surest = max((float(share[c]) for c in choices.at[need].values()), default=0.0)
        leads = frame.leader[need] is None
        return not frame.must_place[need], not leads, not frame.cancels[need], -round(surest, 6), need

    for need in sorted(range(len(frame.needs)), key=order):
        if need not in bench.spots:
            spot = _least_priced(bench, choices, linear, need)
            if spot is not None:
                bench.place(need, spot)
    return without_pointless(frame, bench.spots)


def _least_priced(bench: Bench, choices: Choices, linear: LinearBound, need: int) -> Spot | None:
    frame = bench.frame
    spots = choices.at[need]
    if (leader := frame.leader[need]) is not None:
        if leader not in bench.spots:
            return None
        window = frame.follow_window(need, bench.spots[leader][0])
        spots = {spot: column for spot, column in spots.items() if spot[0] in window}

    def price(spot: Spot) -> tuple[float, float, Spot]:
        column = spots[spot]
        priced = float(linear.reduced_cost[column]) + _set_up_price(bench, choices, linear, need, spot)
        return round(priced / TIE) * TIE, -float(linear.share[column]), spot

    best = min((spot for spot in spots if not bench.blocks(need, spot)), key=price, default=None)
    if best is None or price(best)[0] > _price_of_none(bench, choices, linear, need):
        return None
    return best


def _set_up_price(bench: Bench, choices: Choices, linear: LinearBound, need: int, spot: Spot) -> float:
    wanted = bench.frame.needs[need]
    visit = (wanted.bow, *spot)
    paid = bench.setup_of(visit)
    levels = choices.setup.get(visit, {}).items()
    return sum(float(linear.reduced_cost[c]) for level, c in levels if paid < level <= wanted.setup_min)


def _price_of_none(bench: Bench, choices: Choices, linear: LinearBound, need: int) -> float:
    """Reduced cost of not placing it: cancelled by what is placed, or left out (never, if it must be placed)."""
    frame = bench.frame
    canceller = canceller_of(frame, bench.spots, need)
    if canceller is not None:
        return float(linear.reduced_cost[choices.cancelled[need, canceller, bench.spots[canceller][0]]])
    return float("inf") if frame.must_place[need] else float(linear.reduced_cost[choices.skip[need]])
