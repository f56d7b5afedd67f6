"""The coefficients of a cord spec: what is in force and why, what was set before; setting one or taking it back."""

from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from fleet import record
from fleet.models import CoefficientSetting, CordSpec, Person, Site
from service.coefficient_names import LABELS, NAMES, Belongs, Named, of_fibre
from service.gather import coefficients
from service.lives_to_learn import have_learned
from service.wear.coefficients import DEFAULTS, Coefficient, Label, validate

# Where the value in force comes from where a site or the cord spec keeps it: the field, and whose it is.
KEPT_BY_SITE = {
    "indoor_temperature": "indoor_temperature_c",
    "life_cap": "replacement_cap",
    "unnoticed_risk": "undetected_risk_target",
    "inspection_interval_max": "inspection_max_days",
    "timing_grace": "timing_grace_days",
}
KEPT_BY_SPEC = {
    "rated_shots_hmpe": "rated_shots",
    "rated_shots_polyester": "rated_shots",
    "rated_months_rental": "rated_months",
    "rated_months_polyester": "rated_months",
}


@dataclass(frozen=True)
class InForce:
    """One coefficient as it stands for a cord spec: the model's own, the one in force, and who set it, if anybody."""

    key: str
    named: Named
    default: Coefficient
    coefficient: Coefficient
    setting: CoefficientSetting | None

    @property
    def label(self) -> str:
        """How far the value in force can be trusted, in words."""
        return str(LABELS[self.coefficient.label])

    @property
    def is_assumed(self) -> bool:
        """Whether nobody has published or measured it."""
        return self.coefficient.label is Label.ASSUMED

    @property
    def can_be_set(self) -> bool:
        """Whether it is a property of the make of cord."""
        return self.named.belongs is Belongs.CORD_SPEC

    @property
    def is_of_house(self) -> bool:
        """Whether it is the same for every cord."""
        return self.named.belongs is Belongs.HOUSE


@dataclass(frozen=True)
class Happened:
    """One line of the history: a value set (with what stood before) or taken back (`after` None)."""

    at: datetime
    who: Person
    key: str
    unit: str
    before: float | None
    after: float | None
    label: str
    source: str
    why: str
    for_house: bool


def in_force(spec: CordSpec, site: Site) -> list[InForce]:
    """Every coefficient that bears on a cord spec; what a site keeps is shown as this site has it."""
    table = coefficients().of(spec.pk)
    settings = _settings_in_force(spec)
    return [_one(name, table[name], settings.get(name), spec, site) for name in of_fibre(spec.fibre)]


def in_force_for_house() -> list[InForce]:
    """What holds for every cord spec that has no value of its own, and what is the same for all."""
    table, settings = coefficients().house, _settings_in_force(None)
    names = [name for name, named in NAMES.items() if named.belongs is not Belongs.ELSEWHERE]
    return [InForce(name, NAMES[name], DEFAULTS[name], table[name], settings.get(name)) for name in names]


def _settings_in_force(spec: CordSpec | None) -> dict[str, CoefficientSetting]:
    rows = CoefficientSetting.objects.filter(_bearing_on(spec), superseded_at=None)
    # The house's first, so that the spec's own wins.
    ordered = sorted(rows.select_related("set_by"), key=lambda one: one.cord_spec_id is not None)
    return {one.name: one for one in ordered}


def _bearing_on(spec: CordSpec | None) -> Q:
    """Settings for the house, and those of the cord spec if there is one."""
    return Q(cord_spec=None) if spec is None else Q(cord_spec=spec) | Q(cord_spec=None)


def _one(
    name: str, coefficient: Coefficient, setting: CoefficientSetting | None, spec: CordSpec, site: Site
) -> InForce:
    if name in KEPT_BY_SITE:
        coefficient = _kept(coefficient, getattr(site, KEPT_BY_SITE[name]))
    elif name in KEPT_BY_SPEC:
        coefficient = _kept(coefficient, getattr(spec, KEPT_BY_SPEC[name]))
    return InForce(name, NAMES[name], DEFAULTS[name], coefficient, setting)


def _kept(coefficient: Coefficient, value: float) -> Coefficient:
    """The same coefficient at the value that a site or a cord spec keeps; it is theirs to choose."""
    return replace(coefficient, value=float(value), low=min(coefficient.low, value), high=max(coefficient.high, value))


def history(spec: CordSpec | None, name: str = "") -> list[Happened]:
    """What was set and taken back for a cord spec, and for the house where that bears on it; the latest first.

    Without a cord spec: for the house alone.
    """
    rows = CoefficientSetting.objects.filter(_bearing_on(spec))
    if name:
        rows = rows.filter(name=name)
    elif spec is not None:
        rows = rows.filter(name__in=of_fibre(spec.fibre))
    told: list[Happened] = []
    stood: dict[tuple[str, bool], float] = {}
    for row in rows.select_related("set_by", "withdrawn_by").order_by("set_at", "pk"):
        key = (row.name, row.cord_spec_id is None)
        before = stood.get(key, DEFAULTS[row.name].value)
        told.append(_set(row, before))
        stood[key] = row.value
        if row.withdrawn_by is not None and row.superseded_at is not None:
            told.append(_taken_back(row, row.withdrawn_by, row.superseded_at))
            del stood[key]
    return sorted(told, key=lambda one: one.at, reverse=True)


def _set(row: CoefficientSetting, before: float) -> Happened:
    for_house = row.cord_spec_id is None
    return Happened(
        row.set_at, row.set_by, row.name, row.unit, before, row.value, row.label, row.source, row.why, for_house
    )


def _taken_back(row: CoefficientSetting, who: Person, at: datetime) -> Happened:
    for_house = row.cord_spec_id is None
    return Happened(at, who, row.name, row.unit, row.value, None, "", "", row.withdrawn_why, for_house)


@dataclass(frozen=True)
class Given:
    """A value with its label, its source and the reason for setting it."""

    value: float
    label: str
    source: str
    why: str


def set_value(spec: CordSpec | None, name: str, given: Given, *, by: Person, now: datetime) -> CoefficientSetting:
    """Set one coefficient of a cord spec (None: of the house), learn the lives anew under it, mark the bows.

    ValueError: the value lies outside its plausible range, or the coefficient is none of a cord spec.
    """
    _checked(spec, name)
    validate(DEFAULTS[name], given.value)
    with transaction.atomic():
        setting = record.set_coefficient(
            by=by,
            name=name,
            value=given.value,
            unit=DEFAULTS[name].unit,
            label=str(Label(given.label)),
            source=given.source,
            why=given.why,
            at=now,
            cord_spec=spec,
        )
        _learn(spec, now)
    return setting


def take_back(spec: CordSpec | None, name: str, *, why: str, by: Person, now: datetime) -> None:
    """Take a cord spec's (or the house's) own value back, so that the one before it is in force again.

    ValueError: there is no such value.
    """
    _checked(spec, name)
    setting = CoefficientSetting.objects.filter(cord_spec=spec, name=name, superseded_at=None).first()
    if setting is None:
        raise ValueError(f"{name}: {spec or 'the house'} has no value of its own to take back; reload the page.")
    with transaction.atomic():
        record.withdraw_coefficient(by=by, setting=setting, why=why, at=now)
        _learn(spec, now)


def _learn(spec: CordSpec | None, now: datetime) -> None:
    """The life that was learned under the former value is no longer planned with."""
    have_learned(list(CordSpec.objects.all()) if spec is None else [spec], now)


def _checked(spec: CordSpec | None, name: str) -> None:
    able = {Belongs.CORD_SPEC} if spec is not None else {Belongs.CORD_SPEC, Belongs.HOUSE}
    if name not in NAMES or NAMES[name].belongs not in able:
        names = ", ".join(sorted(key for key, one in NAMES.items() if one.belongs in able))
        raise ValueError(f"{name!r} cannot be set for {spec or 'the house'}; what can: {names}.")
