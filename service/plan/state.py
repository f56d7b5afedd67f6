"""What follows from the spots alone: which needs are cancelled, not called for, left to the next plan, or out."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.plan.frame import Frame, Spots


@dataclass(frozen=True)
class State:
    """Every need of `needs` is in exactly one of the five; indices are the frame's."""

    needs: Sequence[int]
    spots: Spots
    cancelled: dict[int, int]
    """cancelled need -> the placed need that cancels it"""
    not_called_for: tuple[int, ...]
    """followers whose leader is not placed"""
    next_plan: tuple[int, ...]
    """followers whose days run past the horizon"""
    left_out: tuple[int, ...]


def state_of(frame: Frame, spots: Spots, needs: Sequence[int] | None = None) -> State:
    """The state of all needs, or of some that include whole bows (costs and links never leave a bow)."""
    needs = range(len(frame.needs)) if needs is None else needs
    cancelled: dict[int, int] = {}
    not_called_for, next_plan, left_out = [], [], []
    for need in needs:
        if need in spots:
            continue
        leader = frame.leader[need]
        canceller = canceller_of(frame, spots, need)
        if canceller is not None:
            cancelled[need] = canceller
        elif leader is not None and leader not in spots:
            not_called_for.append(need)
        elif leader is not None and frame.may_follow_later(need, spots[leader][0]):
            next_plan.append(need)
        else:
            left_out.append(need)
    placed = {need: spots[need] for need in needs if need in spots}
    return State(needs, placed, cancelled, tuple(not_called_for), tuple(next_plan), tuple(left_out))


def canceller_of(frame: Frame, spots: Spots, need: int) -> int | None:
    """The placed need that makes this one pointless, the earliest of several."""
    able = [n for n in frame.cancelled_by[need] if n in spots and frame.may_cancel(spots[n][0], need)]
    return min(able, key=lambda n: (spots[n][0], n), default=None)


def without_pointless(frame: Frame, spots: Spots) -> Spots:
    """Drop placed needs that an earlier (or same-day) placed need cancels, and followers of nothing.

    Never costs more: late costs only rise with the day, and what a dropped need cancels its canceller
    cancels too (the problem insists on it).
    """
    kept = dict(spots)
    for need in sorted(spots, key=lambda n: (-spots[n][0], -n)):
        if any(n in kept and kept[n][0] <= spots[need][0] for n in frame.cancelled_by[need]):
            del kept[need]
    return {n: spot for n, spot in kept.items() if frame.leader[n] is None or frame.leader[n] in kept}
