"""From a diagnosis to the twists to start from."""

from __future__ import annotations

from collections.abc import Sequence

from service.timing.diagnosis import Diagnosis, Verdict
from service.timing.twists import Cord, TwistProposal, propose
from service.timing.vocabulary import LABELS


def twists_for(diagnosis: Diagnosis, cords: Sequence[Cord]) -> tuple[TwistProposal, ...]:
    """Twists that take back the stretch of the cords that moved beyond doubt; none where the bench cannot tell.

    Raises ValueError when a cord that moved is not among `cords`.
    """
    if diagnosis.verdict is not Verdict.MOVED:
        return ()
    by_position = {cord.position: cord for cord in cords}
    missing = [LABELS[position] for position in diagnosis.moved if position not in by_position]
    if missing:
        raise ValueError(
            f"no length and twists recorded for the {', '.join(missing)}; record the fitted cord before asking "
            "for its twists"
        )
    return tuple(
        propose(by_position[cord.position], cord.stretch_m)
        for cord in diagnosis.stretches
        if cord.position in diagnosis.moved and cord.stretch_m is not None
    )
