"""The history of one cord spec's cords: as it is told by the register, and as it is saved for its page."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from fleet.models import CordSpec
from service.wear.learning import History, LifePosterior, LifePrior, Outcome
from service.wear.weibull import LifeData


@dataclass(frozen=True, eq=False)
class SpecLives:
    """The lives of one cord spec's cords, and what is believed before any of them."""

    spec: CordSpec
    history: History
    prior: LifePrior


@dataclass(frozen=True, eq=False)
class SpecHistory(SpecLives):
    """The same with what it teaches."""

    posterior: LifePosterior


def kept_lives(found: SpecLives) -> dict[str, Any]:
    """The lives as JSON: None above where a cord was still good."""
    data, history, prior = found.history.data, found.history, found.prior
    return {
        "lower": data.lower.tolist(),
        "upper": [upper if np.isfinite(upper) else None for upper in data.upper.tolist()],
        "entry": data.entry.tolist(),
        "counts": {str(outcome): count for outcome, count in history.counts.items()},
        "left_out": history.left_out,
        "prior": [prior.b10, prior.beta, prior.worth_cords],
    }


def lives_kept(spec: CordSpec, kept: dict[str, Any]) -> SpecLives:
    """The lives again."""
    upper = np.array([np.inf if one is None else one for one in kept["upper"]], dtype=np.float64)
    lower, entry = (np.array(kept[name], dtype=np.float64) for name in ("lower", "entry"))
    counts = {Outcome(name): count for name, count in kept["counts"].items()}
    return SpecLives(spec, History(LifeData(lower, upper, entry), counts, kept["left_out"]), LifePrior(*kept["prior"]))
