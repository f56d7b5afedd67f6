"""Verbs on cords: fitting, removing, resetting twists."""

from datetime import UTC, datetime
from typing import Any

from django.utils.translation import gettext as _

from fleet.models import Bow, Cord, CordReset, CordSpec, Fitting, Person
from fleet.ranges import HALF_TWISTS, PRIOR_HEAT, PRIOR_SHOTS, PRIOR_TENSION
from fleet.record.holds import hold
from fleet.record.kernel import add, audit, not_in_future, put, touch, verb
from fleet.record.notices import apply_notices
from fleet.refusal import Refused
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, Finding, HoldReason, Position, RemovalReason
from service.said import say
from service.wording import day_here, moment_here, named

PRIOR_RANGES = {
    "prior_shots": PRIOR_SHOTS,
    "prior_shots_sd": PRIOR_SHOTS,
    "prior_tension_h": PRIOR_TENSION,
    "prior_heat_h": PRIOR_HEAT,
    "prior_heat_h_sd": PRIOR_HEAT,
}


@verb
def put_cord(
    *,
    by: Person,
    serial: str,
    spec: CordSpec,
    at: datetime | None = None,
    **values: Any,
) -> Cord:
    """Add a cord, or change what is known of the one with this serial.

    `values`: lot, made_on, prior_use (none, known, unknown) and, where known, the prior_... figures (shots, hours);
    what is not given stays as it is. A fitted cord whose prior use turns out unknown holds its bow from `at` on.
    """
    cord = Cord.objects.filter(serial=serial).first() or Cord(serial=serial, spec=spec)
    values = _checked_prior_use(cord, values)
    fitting = cord.fittings.filter(removed_at=None).select_related("bow").first() if cord.pk else None
    if fitting is not None and spec.position != fitting.position:
        raise Refused(
            _(
                "cord %(serial)s is fitted as %(position)s, and %(code)s is a %(spec_position)s: remove it "
                "first, or give the right spec."
            )
            % {
                "serial": serial,
                "position": fitting.get_position_display(),
                "code": spec.code,
                "spec_position": spec.get_position_display(),
            }
        )
    changed = put(cord, {"spec": spec, **values})
    if changed:
        audit(by, "put_cord", cord, serial=serial, changed=changed)
        if fitting is not None and "prior_use" in changed:
            _hold_if_unknown(by, cord, fitting.bow, at or datetime.now(UTC))
        touch(cord.fittings.values_list("bow_id", flat=True))
    return cord


def _checked_prior_use(cord: Cord, values: dict[str, Any]) -> dict[str, Any]:
    """The values with prior figures that agree with the prior use; those of a cord no longer 'known' go to nil."""
    prior_use = values.get("prior_use", cord.prior_use)
    if prior_use not in ("none", "known", "unknown"):
        raise Refused(
            _("use before the book began '%(prior_use)s' is not one of none, known, unknown.")
            % {"prior_use": prior_use}
        )
    for field, allowed in PRIOR_RANGES.items():
        allowed.check(values.get(field, 0.0))
        if prior_use != "known" and values.get(field):
            raise Refused(
                _("cord %(serial)s: prior figures are given, so its prior use must be 'known'.")
                % {"serial": cord.serial}
            )
    if prior_use == "known":
        return values
    return {**dict.fromkeys(PRIOR_RANGES, 0.0), **values}


@verb
def fit_cord(
    *,
    by: Person,
    cord: Cord,
    bow: Bow,
    position: str,
    at: datetime,
    now: datetime,
    half_twists: int | None = None,
    again_because: str = "",
) -> Fitting:
    """Fit a cord on a bow; the position must be free and the cord not fitted elsewhere.

    A cord that came off a bow lies apart: it is fitted again only with the reason why, which the trail keeps.
    """
    not_in_future(f"{cord.serial} fitted", at, now)
    _check_position(cord, bow, position)
    if half_twists is not None:
        HALF_TWISTS.check(half_twists)
    existing = Fitting.objects.filter(cord=cord, bow=bow, position=position, fitted_at=at).first()
    if existing is not None:
        return existing
    if Cord.objects.filter(pk=cord.pk, scrapped_at__isnull=False).exists():
        raise Refused(
            _("cord %(serial)s was condemned and scrapped: it is never fitted again; take another cord.")
            % {"serial": cord.serial}
        )
    if cord.made_on is not None and at.date() < cord.made_on:
        raise Refused(
            _("cord %(serial)s was made on %(made_on)s, after its fitting on %(at)s: check both.")
            % {"serial": cord.serial, "made_on": cord.made_on, "at": day_here(at)}
        )
    other = Fitting.objects.filter(bow=bow, position=position, removed_at=None).select_related("cord").first()
    if other is not None:
        raise Refused(
            _("%(tag)s has cord %(serial)s as its %(position)s: remove that one first.")
            % {"tag": bow.tag, "serial": other.cord.serial, "position": position}
        )
    elsewhere = Fitting.objects.filter(cord=cord, removed_at=None).select_related("bow").first()
    if elsewhere is not None:
        raise Refused(
            _("cord %(serial)s is fitted on %(tag)s: remove it there first.")
            % {"serial": cord.serial, "tag": elsewhere.bow.tag}
        )
    _check_no_overlap(cord, bow, position, at)
    _check_decided(cord, again_because)
    fitting = add(Fitting(cord=cord, bow=bow, position=position, fitted_at=at, fitted_by=by, half_twists=half_twists))
    decided = {"again_because": again_because.strip()} if last_off(cord) else {}
    audit(
        by, "fit_cord", fitting, bow=bow, cord=cord.serial, position=position, at=at, half_twists=half_twists, **decided
    )
    _hold_if_unknown(by, cord, bow, at)
    apply_notices(by=by, bow=bow, at=at, cord=cord)
    touch([bow.pk])
    return fitting


def _check_position(cord: Cord, bow: Bow, position: str) -> None:
    allowed = POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system]
    if position not in allowed:
        raise Refused(
            _("%(tag)s has no %(position)s: its positions are %(allowed)s.")
            % {"tag": bow.tag, "position": position, "allowed": ", ".join(allowed)}
        )
    if cord.spec.position != position:
        raise Refused(
            _("cord %(serial)s is a %(position)s (%(code)s), not a %(wanted_position)s.")
            % {
                "serial": cord.serial,
                "position": cord.spec.position,
                "code": cord.spec.code,
                "wanted_position": position,
            }
        )


def _check_no_overlap(cord: Cord, bow: Bow, position: str, at: datetime) -> None:
    later = Fitting.objects.filter(bow=bow, position=position, removed_at__gt=at).select_related("cord").first()
    if later is not None and later.removed_at is not None:
        raise Refused(
            _(
                "%(tag)s: cord %(serial)s was its %(position)s until %(removed_at)s, after the "
                "fitting at %(at)s: check the dates."
            )
            % {
                "tag": bow.tag,
                "serial": later.cord.serial,
                "position": position,
                "removed_at": moment_here(later.removed_at),
                "at": moment_here(at),
            }
        )
    if cord.fittings.filter(removed_at__gt=at).exists():
        raise Refused(
            _("cord %(serial)s was on another bow at %(at)s: check the dates.")
            % {"serial": cord.serial, "at": moment_here(at)}
        )


def last_off(cord: Cord) -> Fitting | None:
    """The fitting that a cord came off last; None for one that never was on a bow."""
    return cord.fittings.exclude(removed_at=None).select_related("bow").order_by("-removed_at").first()


def _check_decided(cord: Cord, again_because: str) -> None:
    off = last_off(cord)
    if off is not None and off.removed_at is not None and not again_because.strip():
        raise Refused(
            _(
                "cord %(serial)s came off %(tag)s on %(day)s (%(why)s) and lies apart since: it is fitted again only "
                "by a decision; give the reason, or take a new cord."
            )
            % {
                "serial": cord.serial,
                "tag": off.bow.tag,
                "day": day_here(off.removed_at),
                "why": off.get_removed_why_display(),
            }
        )


def _hold_if_unknown(by: Person, cord: Cord, bow: Bow, at: datetime) -> None:
    if cord.prior_use == "unknown":
        hold(
            by=by,
            bow=bow,
            reason=HoldReason.UNKNOWN_USE,
            detail=say(
                "cord %(serial)s: its use before the book began is unknown; inspect before hire", serial=cord.serial
            ),
            since=at,
        )


def _may_come_off(fitting: Fitting, at: datetime, why: str, finding: str, now: datetime) -> None:
    not_in_future(f"{fitting.cord.serial} removed", at, now)
    if why not in RemovalReason.values:
        raise Refused(
            _("reason '%(why)s' is not one of %(values)s.") % {"why": why, "values": ", ".join(RemovalReason.values)}
        )
    if fitting.removed_at is not None:
        raise Refused(
            _("cord %(serial)s was already removed at %(removed_at)s.")
            % {"serial": fitting.cord.serial, "removed_at": moment_here(fitting.removed_at)}
        )
    if at < fitting.fitted_at:
        raise Refused(
            _("cord %(serial)s was fitted at %(fitted_at)s, after %(at)s: check the dates.")
            % {
                "serial": fitting.cord.serial,
                "fitted_at": moment_here(fitting.fitted_at),
                "at": moment_here(at),
            }
        )
    if why == RemovalReason.CONDEMNED and finding not in Finding.values:
        raise Refused(
            _("A condemned cord names its finding, one of %(values)s.") % {"values": ", ".join(Finding.values)}
        )
    if finding and finding not in Finding.values:
        raise Refused(
            _("finding '%(finding)s' is not one of %(values)s.")
            % {"finding": finding, "values": ", ".join(Finding.values)}
        )


@verb
def remove_cord(*, by: Person, fitting: Fitting, at: datetime, why: str, now: datetime, finding: str = "") -> Fitting:
    """Take a cord off. A condemned one names its finding, holds its bow and is scrapped: it is never fitted again."""
    fitting = (
        Fitting.objects.select_for_update(of=("self",), no_key=True).select_related("cord", "bow").get(pk=fitting.pk)
    )
    _may_come_off(fitting, at, why, finding, now)
    fitting.removed_at, fitting.removed_why, fitting.finding = at, why, finding
    fitting.save(update_fields=["removed_at", "removed_why", "finding"])
    if why == RemovalReason.CONDEMNED:
        Cord.objects.filter(pk=fitting.cord_id).update(scrapped_at=at)
        found = say(
            "%(position)s %(serial)s condemned: %(finding)s",
            position=named(Position(fitting.position).label),
            serial=fitting.cord.serial,
            finding=named(Finding(finding).label),
        )
        hold(by=by, bow=fitting.bow, reason=HoldReason.CONDEMNED, detail=found, since=at)
    audit(by, "remove_cord", fitting, bow=fitting.bow, cord=fitting.cord.serial, why=why, finding=finding, at=at)
    touch([fitting.bow_id])
    return fitting


@verb
def reset_cord(
    *, by: Person, fitting: Fitting, at: datetime, half_twists: int | None = None, order_number: str = ""
) -> CordReset:
    """Record that timing was reset on a fitted cord, with the twists it has now; stretch counts from here."""
    if half_twists is not None:
        HALF_TWISTS.check(half_twists)
    if at < fitting.fitted_at:
        raise Refused(
            _("cord %(serial)s was fitted at %(fitted_at)s, after this reset at %(at)s: check the dates.")
            % {
                "serial": fitting.cord.serial,
                "fitted_at": moment_here(fitting.fitted_at),
                "at": moment_here(at),
            }
        )
    entry = add(CordReset(fitting=fitting, at=at, half_twists=half_twists, order_number=order_number))
    audit(by, "reset_cord", entry, bow=fitting.bow, cord=fitting.cord.serial, half_twists=half_twists, at=at)
    touch([fitting.bow_id])
    return entry
