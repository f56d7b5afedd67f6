"""Verbs on bows: adding, set-up, bench, deferral, retirement."""

from datetime import UTC, date, datetime
from typing import Any

from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import BenchVisit, Bow, Deferral, Fitting, Person, Retirement, SetUp, Site, SpecSheet
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT
from fleet.record.kernel import add, audit, not_in_future, put, touch, verb
from fleet.record.notices import apply_notices
from fleet.refusal import Refused
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowState, Hand
from service.wording import moment_here


@verb
def put_bow(*, by: Person, tag: str, **values: Any) -> Bow:
    """Add a bow, or change serial, hand, site or spec sheet of the one with this tag."""
    if "hand" in values and values["hand"] not in Hand.values:
        raise Refused(
            _("hand '%(hand)s' is not one of %(values)s.") % {"hand": values["hand"], "values": ", ".join(Hand.values)}
        )
    bow = Bow.objects.filter(tag=tag).first() or Bow(tag=tag)
    sheet = values.get("spec_sheet") or (bow.spec_sheet if bow.pk else None)
    if sheet is None:
        raise Refused(_("%(tag)s: a bow needs its spec sheet: add the sheet first.") % {"tag": tag})
    _check_sheet(bow, sheet, values.get("hand", bow.hand))
    changed = put(bow, values)
    if changed:
        audit(by, "put_bow", bow, bow=bow, tag=tag, changed=changed)
        apply_notices(by=by, bow=bow, at=datetime.now(UTC))
        touch([bow.pk])
    return bow


def _check_sheet(bow: Bow, sheet: SpecSheet, hand: str) -> None:
    if sheet.hands not in ("both", hand):
        raise Refused(
            _("%(tag)s: %(sheet)s is made for the %(hands)s hand only, not the %(hand)s hand.")
            % {"tag": bow.tag, "sheet": sheet, "hands": sheet.hands, "hand": hand or "unnamed"}
        )
    if bow.pk is None:
        return
    allowed = POSITIONS_BY_CAM_SYSTEM[sheet.cam_system]
    extra = Fitting.objects.filter(bow=bow, removed_at=None).exclude(position__in=allowed).first()
    if extra is not None:
        raise Refused(
            _("%(tag)s carries a %(position)s, which %(sheet)s has not: remove that cord first.")
            % {"tag": bow.tag, "position": extra.get_position_display(), "sheet": sheet}
        )


@verb
def move_to_site(*, by: Person, bow: Bow, site: Site) -> Bow:
    """Send a bow to another site."""
    before = bow.site
    if before == site:
        return bow
    bow.site = site
    bow.save(update_fields=["site"])
    audit(by, "move_to_site", bow, bow=bow, before=before, after=site)
    touch([bow.pk])
    return bow


@verb
def set_up(
    *, by: Person, bow: Bow, since: datetime, draw_length_m: float, peak_weight_n: float, now: datetime
) -> SetUp:
    """Record the draw length (m, true) and peak weight (N) that a bow is set to from `since` on."""
    DRAW_LENGTH.check(draw_length_m)
    PEAK_WEIGHT.check(peak_weight_n)
    not_in_future("set-up", since, now)
    sheet = bow.spec_sheet
    _check_within(f"{bow.tag}: draw length", draw_length_m, sheet.draw_length_min_m, sheet.draw_length_max_m, "m")
    _check_within(f"{bow.tag}: peak weight", peak_weight_n, sheet.peak_weight_min_n, sheet.peak_weight_max_n, "N")
    entry = SetUp.objects.filter(bow=bow, since=since).first() or SetUp(bow=bow, since=since)
    changed = put(entry, {"draw_length_m": draw_length_m, "peak_weight_n": peak_weight_n})
    if changed:
        audit(by, "set_up", entry, bow=bow, since=since, changed=changed)
        touch([bow.pk])
    return entry


def _check_within(what: str, value: float, low: float, high: float, unit: str) -> None:
    # A spec sheet is typed in rounded units, so a value on its very edge is inside.
    slack = 1e-3 * max(abs(low), abs(high))
    if not low - slack <= value <= high + slack:
        raise Refused(
            _(
                "%(what)s %(value)s %(unit)s is outside the spec sheet's %(low)s to %(high)s %(unit)s: "
                "correct the value, or the spec sheet if the maker's own says otherwise."
            )
            % {"what": what, "value": f"{value:g}", "unit": unit, "low": f"{low:g}", "high": f"{high:g}"}
        )


@verb
def take_to_bench(*, by: Person, bow: Bow, order_number: str, at: datetime) -> BenchVisit:
    """Put a bow on the bench under a work order; refused while it is out with a guest."""
    state = lookups.state_of(bow)
    if state == BowState.OUT:
        raise Refused(_("%(tag)s is out with a guest: take it back first.") % {"tag": bow.tag})
    if state == BowState.RETIRED:
        raise Refused(_("%(tag)s is retired: no work is done on it.") % {"tag": bow.tag})
    open_visit = BenchVisit.objects.filter(bow=bow, until=None).first()
    if open_visit is not None:
        if open_visit.order_number == order_number:
            return open_visit
        raise Refused(
            _("%(tag)s is on the bench under %(order_number)s: close that order first.")
            % {"tag": bow.tag, "order_number": open_visit.order_number}
        )
    visit = add(BenchVisit(bow=bow, order_number=order_number, since=at))
    audit(by, "take_to_bench", visit, bow=bow, order_number=order_number)
    return visit


@verb
def leave_bench(*, by: Person, bow: Bow, order_number: str, at: datetime) -> None:
    """Take a bow off the bench without releasing any hold (an order that is put back or cancelled)."""
    visit = BenchVisit.objects.filter(bow=bow, order_number=order_number, until=None).first()
    if visit is None:
        return
    if at < visit.since:
        raise Refused(
            _("%(tag)s came to the bench at %(since)s, after %(at)s: it cannot leave before.")
            % {"tag": bow.tag, "since": moment_here(visit.since), "at": moment_here(at)}
        )
    visit.until = at
    visit.save(update_fields=["until"])
    audit(by, "leave_bench", bow, bow=bow, order_number=order_number)


@verb
def defer(*, by: Person, bow: Bow, need_kind: str, until: date, why: str, at: datetime) -> Deferral:
    """Put a need off in writing; the caller has checked that `until` is no later than its hard limit."""
    if not why.strip():
        raise Refused(_("A deferral needs its reason in writing: say why it is safe to wait."))
    latest = Deferral.objects.filter(bow=bow, need_kind=need_kind).order_by("-at", "-pk").first()
    if latest is not None and (latest.until, latest.why) == (until, why):
        raise Refused(_("%(tag)s is put off to %(until)s for this reason already.") % {"tag": bow.tag, "until": until})
    entry = add(Deferral(bow=bow, need_kind=need_kind, until=until, why=why, at=at, by=by))
    audit(by, "defer", entry, bow=bow, need_kind=need_kind, until=until, why=why)
    touch([bow.pk])
    return entry


@verb
def retire(*, by: Person, bow: Bow, at: datetime, why: str) -> Retirement:
    """Take a bow out of service for good."""
    if lookups.state_of(bow) == BowState.OUT:
        raise Refused(_("%(tag)s is out with a guest: take it back before you retire it.") % {"tag": bow.tag})
    there = Retirement.objects.filter(bow=bow).first()
    if there is not None:
        return there
    entry = add(Retirement(bow=bow, at=at, why=why))
    audit(by, "retire", entry, bow=bow, why=why)
    touch([bow.pk])
    return entry
