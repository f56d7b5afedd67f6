"""Verbs on bows: adding, set-up, bench, holds, releases, deferral, retirement."""

from datetime import date, datetime
from typing import Any

from fleet import lookups
from fleet.models import BenchVisit, Bow, Deferral, Hold, Person, Release, Retirement, SetUp, Site, SpecSheet
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT
from fleet.record.kernel import audit, not_in_future, put, touch, verb
from fleet.refusal import Refused
from fleet.vocabulary import BowState, Hand, HoldReason


@verb
def put_bow(*, by: Person, tag: str, **values: Any) -> Bow:
    """Add a bow, or change serial, hand, site or spec sheet of the one with this tag."""
    if "hand" in values and values["hand"] not in Hand.values:
        raise Refused(f"hand {values['hand']!r} is not one of {', '.join(Hand.values)}.")
    bow = Bow.objects.filter(tag=tag).first() or Bow(tag=tag)
    _check_hand(tag, values.get("spec_sheet"), values.get("hand"))
    changed = put(bow, values)
    if changed:
        audit(by, "put_bow", bow, bow=bow, tag=tag, changed=changed)
        touch([bow.pk])
    return bow


def _check_hand(tag: str, sheet: SpecSheet | None, hand: str | None) -> None:
    if sheet is not None and hand is not None and sheet.hands not in ("both", hand):
        raise Refused(f"{tag}: {sheet} is made for the {sheet.hands} hand only, not the {hand} hand.")


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
            f"{what} {value:g} {unit} is outside the spec sheet's {low:g} to {high:g} {unit}: "
            "correct the value, or the spec sheet if the maker's own says otherwise."
        )


@verb
def hold(*, by: Person, bow: Bow, reason: str, detail: str, since: datetime) -> Hold:
    """Hold a bow: it must not go to a guest until a release closes this."""
    if reason not in HoldReason.values:
        raise Refused(f"reason {reason!r} is not one of {', '.join(HoldReason.values)}.")
    entry = Hold.objects.create(bow=bow, reason=reason, detail=detail[:200], since=since, by=by)
    audit(by, "hold", entry, bow=bow, reason=reason, detail=detail, since=since)
    touch([bow.pk])
    return entry


@verb
def take_to_bench(*, by: Person, bow: Bow, order_number: str, at: datetime) -> BenchVisit:
    """Put a bow on the bench under a work order; refused while it is out with a guest."""
    state = lookups.state_of(bow)
    if state == BowState.OUT:
        raise Refused(f"{bow.tag} is out with a guest: take it back first.")
    if state == BowState.RETIRED:
        raise Refused(f"{bow.tag} is retired: no work is done on it.")
    open_visit = BenchVisit.objects.filter(bow=bow, until=None).first()
    if open_visit is not None:
        if open_visit.order_number == order_number:
            return open_visit
        raise Refused(f"{bow.tag} is on the bench under {open_visit.order_number}: close that order first.")
    visit = BenchVisit.objects.create(bow=bow, order_number=order_number, since=at)
    audit(by, "take_to_bench", visit, bow=bow, order_number=order_number)
    return visit


@verb
def leave_bench(*, by: Person, bow: Bow, order_number: str, at: datetime) -> None:
    """Take a bow off the bench without releasing any hold (an order that is put back or cancelled)."""
    if BenchVisit.objects.filter(bow=bow, order_number=order_number, until=None).update(until=at):
        audit(by, "leave_bench", bow, bow=bow, order_number=order_number)


@verb
def release(
    *, by: Person, bow: Bow, at: datetime, order_number: str = "", note: str = "", holds: list[Hold] | None = None
) -> Release:
    """Sign that a bow may go out again: closes the named open holds (all by default) and the bench visit."""
    entry = Release.objects.create(bow=bow, at=at, by=by, order_number=order_number, note=note[:200])
    open_holds = Hold.objects.filter(bow=bow, released=None)
    if holds is not None:
        open_holds = open_holds.filter(pk__in=[one.pk for one in holds])
    closed = list(open_holds.values_list("pk", flat=True))
    open_holds.update(released=entry)
    BenchVisit.objects.filter(bow=bow, until=None).update(until=at)
    audit(by, "release", entry, bow=bow, order_number=order_number, holds=closed, note=note)
    touch([bow.pk])
    return entry


@verb
def defer(*, by: Person, bow: Bow, need_kind: str, until: date, why: str, at: datetime) -> Deferral:
    """Put a need off in writing; the caller has checked that `until` is no later than its hard limit."""
    if not why.strip():
        raise Refused("A deferral needs its reason in writing: say why it is safe to wait.")
    entry = Deferral.objects.create(bow=bow, need_kind=need_kind, until=until, why=why, at=at, by=by)
    audit(by, "defer", entry, bow=bow, need_kind=need_kind, until=until, why=why)
    touch([bow.pk])
    return entry


@verb
def retire(*, by: Person, bow: Bow, at: datetime, why: str) -> Retirement:
    """Take a bow out of service for good."""
    if lookups.state_of(bow) == BowState.OUT:
        raise Refused(f"{bow.tag} is out with a guest: take it back before you retire it.")
    entry, added = Retirement.objects.get_or_create(bow=bow, defaults={"at": at, "why": why})
    if added:
        audit(by, "retire", entry, bow=bow, why=why)
        touch([bow.pk])
    return entry
