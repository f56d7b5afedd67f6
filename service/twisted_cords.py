"""The cords on a bow as far as twisting goes."""

from fleet import lookups
from fleet.models import Bow, Fitting
from service.closed_orders import TURNS_PER_HALF_TURN
from service.timing.geometry import DEFAULT_CORD_DIAMETER_M
from service.timing.response import LearnedResponse
from service.timing.twists import Cord, TwistedLength, TwistRange
from service.timing.vocabulary import Position


def cords_of(bow: Bow, response: LearnedResponse) -> list[Cord]:
    """The fitted cords of a bow with what a turn does to each."""
    fitted = lookups.fitted(bow).prefetch_related("resets")
    return [_cord_of(fitting, response) for fitting in fitted]


def _cord_of(fitting: Fitting, response: LearnedResponse) -> Cord:
    """One cord. The register does not know how long a yoke's legs are, so the turns are those of the whole cord."""
    spec, half_twists = fitting.cord.spec, half_twists_now(fitting)
    allowed = None
    if spec.twists_per_m_min is not None and spec.twists_per_m_max is not None and spec.twists_per_m_max > 0:
        allowed = TwistRange(spec.twists_per_m_min, spec.twists_per_m_max)
    position = Position(fitting.position)
    diameter_m = spec.diameter_m or DEFAULT_CORD_DIAMETER_M
    return Cord(
        position=position,
        body=TwistedLength(spec.length_m, (half_twists or 0) * TURNS_PER_HALF_TURN, diameter_m),
        twist_range=allowed,
        shortening_factor=response.shortening_factor.get(position, 1.0),
        turns_counted=half_twists is not None,
        has_yoke=spec.yoke_legs > 0,
    )


def half_twists_now(fitting: Fitting) -> int | None:
    """Half turns in a fitted cord as last counted; None: never counted."""
    counted = [reset for reset in fitting.resets.all() if reset.half_twists is not None]
    return max(counted, key=lambda one: one.at).half_twists if counted else fitting.half_twists
