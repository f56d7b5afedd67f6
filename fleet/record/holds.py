"""Verbs that say whether a bow may go to a guest: holds and releases."""

from datetime import datetime

from django.utils.translation import gettext as _

from fleet.models import BenchVisit, Bow, Hold, Person, Release
from fleet.record.kernel import add, audit, touch, verb
from fleet.refusal import Refused
from fleet.signed_contents import seal_of
from fleet.vocabulary import HoldReason
from service.said import Said
from service.wording import moment_here

LONGEST_DETAIL = 200


@verb
def hold(*, by: Person, bow: Bow, reason: str, detail: str, since: datetime) -> Hold:
    """Hold a bow: it must not go to a guest until a release closes this."""
    if reason not in HoldReason.values:
        raise Refused(
            _("reason '%(reason)s' is not one of %(values)s.")
            % {"reason": reason, "values": ", ".join(HoldReason.values)}
        )
    if not detail.strip():
        raise Refused(_("%(tag)s: say in words why the bow is held.") % {"tag": bow.tag})
    # What a person typed has an end; a sentence of the book keeps its parts.
    kept = detail if isinstance(detail, Said) else detail[:LONGEST_DETAIL]
    entry = add(Hold(bow=bow, reason=reason, detail=kept, since=since, by=by))
    audit(by, "hold", entry, bow=bow, reason=reason, detail=detail, since=since)
    touch([bow.pk])
    return entry


@verb
def release(
    *, by: Person, bow: Bow, at: datetime, order_number: str = "", note: str = "", holds: list[Hold] | None = None
) -> Release:
    """Sign that a bow may go out again: closes the named open holds (all by default) and the bench visit."""
    visit = BenchVisit.objects.filter(bow=bow, until=None).first()
    if visit is not None and at < visit.since:
        raise Refused(
            _("%(tag)s came to the bench at %(since)s, after %(at)s: it cannot be released before.")
            % {"tag": bow.tag, "since": moment_here(visit.since), "at": moment_here(at)}
        )
    entry = add(Release(bow=bow, at=at, by=by, order_number=order_number, note=note[:200]))
    open_holds = Hold.objects.filter(bow=bow, released=None)
    if holds is not None:
        open_holds = open_holds.filter(pk__in=[one.pk for one in holds])
    closed = list(open_holds.values_list("pk", flat=True))
    open_holds.update(released=entry)
    BenchVisit.objects.filter(bow=bow, until=None).update(until=at)
    told = {"order_number": order_number, "holds": closed, "note": note}
    audit(by, "release", entry, bow=bow, **told, contents=seal_of(entry))
    touch([bow.pk])
    return entry
