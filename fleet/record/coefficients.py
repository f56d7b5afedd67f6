"""Verbs on wear coefficients: setting one for a cord spec or the house, and taking a setting back."""

from collections.abc import Iterable
from datetime import datetime

from django.utils.translation import gettext as _

from fleet.models import CoefficientSetting, CordSpec, Fitting, Person
from fleet.record.kernel import add, audit, touch, verb
from fleet.refusal import Refused
from service.wording import day_here


@verb
def set_coefficient(
    *,
    by: Person,
    name: str,
    value: float,
    unit: str,
    label: str,
    source: str,
    why: str,
    at: datetime,
    cord_spec: CordSpec | None = None,
) -> CoefficientSetting:
    """Set a wear coefficient for a cord spec (or the house); the former value stays in the history.

    `source` says where the value comes from, `why` what made the person set it. The caller has checked the value
    against the coefficient's range, which the wear model owns.
    """
    if not why.strip():
        raise Refused(
            _("%(name)s %(value)s %(unit)s without a reason: write what made you set it.")
            % {"name": name, "value": f"{value:g}", "unit": unit}
        )
    current = CoefficientSetting.objects.filter(name=name, cord_spec=cord_spec, superseded_at=None)
    before = current.first()
    if before is not None and (before.value, before.label, before.source) == (value, label, source):
        return before
    current.update(superseded_at=at)
    setting = add(
        CoefficientSetting(
            name=name,
            cord_spec=cord_spec,
            value=value,
            unit=unit,
            label=label,
            source=source,
            why=why,
            set_at=at,
            set_by=by,
        )
    )
    audit(
        by,
        "set_coefficient",
        setting,
        name=name,
        cord_spec=cord_spec and cord_spec.code,
        before=before and before.value,
        after=value,
        why=why,
    )
    touch(_bows_with(cord_spec))
    return setting


@verb
def withdraw_coefficient(*, by: Person, setting: CoefficientSetting, why: str, at: datetime) -> CoefficientSetting:
    """Take a setting back, so that the value it replaced for its cord spec (or the house) is in force again."""
    if setting.superseded_at is not None:
        raise Refused(
            _(
                "%(name)s %(setting)s %(unit)s is not in force since %(superseded_at)s: reload the page "
                "and look at what is."
            )
            % {
                "name": setting.name,
                "setting": f"{setting.value:g}",
                "unit": setting.unit,
                "superseded_at": day_here(setting.superseded_at),
            }
        )
    if not why.strip():
        raise Refused(
            _("%(name)s %(setting)s %(unit)s taken back without a reason: write why.")
            % {"name": setting.name, "setting": f"{setting.value:g}", "unit": setting.unit}
        )
    setting.superseded_at, setting.withdrawn_by, setting.withdrawn_why = at, by, why
    add(setting)
    spec = setting.cord_spec
    audit(by, "withdraw_coefficient", setting, name=setting.name, cord_spec=spec and spec.code, why=why)
    touch(_bows_with(spec))
    return setting


def _bows_with(cord_spec: CordSpec | None) -> Iterable[int]:
    """Bows that ever carried a cord of the spec: what was learned of it rests on all of them."""
    fittings = Fitting.objects.filter(cord__spec=cord_spec) if cord_spec else Fitting.objects.all()
    return fittings.values_list("bow_id", flat=True)
