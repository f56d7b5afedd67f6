"""The wear model's coefficients as people read them: a name, what it does, and what it belongs to."""

from dataclasses import dataclass
from enum import Enum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from service.wear.coefficients import DEFAULTS, Fibre, Label

LABELS: dict[Label, Promise] = {
    Label.PUBLISHED: _("published"),
    Label.COMMON_PRACTICE: _("common practice"),
    Label.OWN_MEASUREMENT: _("own measurement"),
    Label.ASSUMED: _("assumed"),
}
# Units that are words; the others are symbols.
UNITS: dict[str, Promise] = {
    "shots": _("shots"),
    "days": _("days"),
    "months": _("months"),
    "rated lives": _("rated lives"),
    "m/m per month at the reference temperature": _("m/m per month at the reference temperature"),
}


class Belongs(Enum):
    """What a coefficient is a property of: the make of cord, the house as a whole, or a setting kept elsewhere."""

    CORD_SPEC = "cord spec"
    HOUSE = "house"
    ELSEWHERE = "elsewhere"


@dataclass(frozen=True)
class Named:
    """A coefficient's name, what it does in one sentence, and what it belongs to."""

    name: Promise
    does: Promise
    belongs: Belongs


_SPEC, _HOUSE, _ELSEWHERE = Belongs.CORD_SPEC, Belongs.HOUSE, Belongs.ELSEWHERE
_HEAT_WEIGHT = _("How much of the heat's acceleration this fibre feels; 1 is HMPE.")
_RATED = _("The usual rated use of such a cord; this cord spec's own is kept with it.")

NAMES: dict[str, Named] = {
    "load_exponent": Named(
        _("load exponent"),
        _("How steeply a shot's wear grows with peak weight: one shot counts (weight / rated weight) to this power."),
        _SPEC,
    ),
    "weibull_shape": Named(
        _("Weibull shape of the prior"),
        _("How closely cords of one make fail together, before this shop's history says so; above 1 they age."),
        _SPEC,
    ),
    "shelf_fraction": Named(
        _("shelf fraction"), _("What an hour on the shelf counts of an hour under tension."), _SPEC
    ),
    "activation_energy": Named(
        _("activation energy of creep"), _("How steeply heat speeds wear and creep (Arrhenius)."), _SPEC
    ),
    "heat_weight_hmpe": Named(_("heat weight, HMPE"), _HEAT_WEIGHT, _SPEC),
    "heat_weight_hmpe_lcp_blend": Named(_("heat weight, HMPE/LCP blend"), _HEAT_WEIGHT, _SPEC),
    "heat_weight_polyester": Named(_("heat weight, polyester"), _HEAT_WEIGHT, _SPEC),
    "heat_weight_lcp": Named(_("heat weight, LCP"), _HEAT_WEIGHT, _SPEC),
    "creep_rate": Named(_("creep rate"), _("How fast a cord stretches under tension once it has settled in."), _SPEC),
    "creep_log_sd": Named(
        _("spread of the creep rate"),
        _("How far one cord's creep may lie from the rate: widens the timing dates."),
        _SPEC,
    ),
    "settle_in_strain": Named(_("settle-in strain"), _("How far a new cord stretches while it settles in."), _SPEC),
    "settle_in_relative_sd": Named(
        _("spread of the settle-in strain"),
        _("How far the settling-in of one cord may be off: what it hides from a cord's own creep rate."),
        _SPEC,
    ),
    "settle_in_shots_constant": Named(
        _("settle-in constant"), _("Shots after which 63 % of the settling-in has happened."), _SPEC
    ),
    "settle_in_shots": Named(
        _("settle-in shots"), _("Shots on a new cord after which its timing is measured again."), _SPEC
    ),
    "shot_wear_log_sd": Named(
        _("spread of rated shots"), _("How far the rated shots may be off: widens the replacement dates."), _SPEC
    ),
    "time_wear_log_sd": Named(
        _("spread of rated months"), _("How far the rated months with heat may be off: widens the dates."), _SPEC
    ),
    "reference_temperature": Named(
        _("reference temperature"), _("The temperature at which an hour counts as one hour."), _HOUSE
    ),
    "max_bridged_gap": Named(
        _("longest bridged gap"), _("A longer gap between two readings takes the site's assumed temperature."), _HOUSE
    ),
    "cabin_shade_factor": Named(
        _("shade factor"), _("What is left of a parked car's temperature rise in shade."), _HOUSE
    ),
    "cabin_boot_factor": Named(_("boot factor"), _("What the boot gets of the cabin's temperature rise."), _HOUSE),
    "cabin_cap": Named(_("cabin ceiling"), _("The hottest that a parked car is taken to get."), _HOUSE),
    "heat_caution_notice": Named(_("heat told of"), _("A cord that met more is told of."), _HOUSE),
    "heat_caution_inspect": Named(_("heat inspected for"), _("A cord that met more is inspected."), _HOUSE),
    "heat_caution_hold": Named(_("heat held for"), _("A bow whose cord met more is held."), _HOUSE),
    "indoor_temperature": Named(
        _("indoor temperature"), _("Taken where no logger is; kept with each site."), _ELSEWHERE
    ),
    "life_cap": Named(_("cap on life used"), _("No cord is planned to run past it; kept with each site."), _ELSEWHERE),
    "unnoticed_risk": Named(
        _("risk of an unnoticed failure"), _("Sets the step to the next inspection; kept with each site."), _ELSEWHERE
    ),
    "inspection_interval_max": Named(
        _("longest inspection interval"), _("Whatever the risk says; kept with each site."), _ELSEWHERE
    ),
    "timing_grace": Named(
        _("grace of a timing check"),
        _("Days past a predicted timing check before the bow is held; per site."),
        _ELSEWHERE,
    ),
    "rated_condemned_share": Named(
        _("share condemned at rated life"), _("What rated means; it is a definition and cannot be set."), _ELSEWHERE
    ),
    "wax_interval": Named(_("waxing interval"), _("A habit at the bench: no estimate rests on it."), _ELSEWHERE),
    "rated_shots_hmpe": Named(_("rated shots, HMPE or blend"), _RATED, _ELSEWHERE),
    "rated_shots_polyester": Named(_("rated shots, polyester"), _RATED, _ELSEWHERE),
    "rated_months_personal": Named(_("rated months, personal bow"), _RATED, _ELSEWHERE),
    "rated_months_rental": Named(_("rated months, rental"), _RATED, _ELSEWHERE),
    "rated_months_polyester": Named(_("rated months, polyester"), _RATED, _ELSEWHERE),
}


def coefficient_name(name: str) -> str:
    """A coefficient's name in words; any other name (an assumed arm) with spaces."""
    return str(NAMES[name].name) if name in NAMES else name.replace("_", " ")


def label_name(label: str) -> str:
    """How far a coefficient can be trusted, in words."""
    return str(LABELS[Label(label)])


def unit_name(unit: str) -> str:
    """A coefficient's unit in the reader's language."""
    return str(UNITS.get(unit, unit))


def of_fibre(fibre: str) -> list[str]:
    """The coefficients that bear on a cord of this fibre, in the order of NAMES."""
    other_weights = {f"heat_weight_{one.value}" for one in Fibre if one.value != fibre}
    poly = fibre == Fibre.POLYESTER.value
    rated = {"rated_shots_hmpe", "rated_months_personal", "rated_months_rental"}
    other_rated = rated if poly else {"rated_shots_polyester", "rated_months_polyester", "rated_months_personal"}
    return [name for name in NAMES if name in DEFAULTS and name not in other_weights | other_rated]
