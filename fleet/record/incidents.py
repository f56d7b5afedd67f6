"""Reporting an incident: it holds the bow at once."""

from datetime import datetime

from django.core.files.base import File
from django.utils.translation import gettext as _

from fleet.models import Bow, Incident, Person
from fleet.record.holds import hold
from fleet.record.kernel import audit, check_fields, not_in_future, same_entry, verb
from fleet.refusal import Refused
from fleet.vocabulary import HoldReason, IncidentKind
from service.said import mark, moment, say
from service.wording import named

# So say the holds of older books.
_IN_UTC = mark("%(kind)s on %(at)s UTC")


@verb
def report_incident(
    *,
    by: Person,
    bow: Bow,
    kind: str,
    happened_at: datetime,
    key: str,
    now: datetime,
    note: str = "",
    photo: "File[bytes] | None" = None,
) -> Incident:
    """Record what happened to a bow and hold it at once."""
    existing = Incident.objects.filter(key=key).first()
    if existing is not None:
        same_entry(key, {"bow": (existing.bow, bow), "kind": (existing.kind, kind)})
        return existing
    if kind not in IncidentKind.values:
        raise Refused(
            _("incident '%(kind)s' is not one of %(values)s.")
            % {"kind": kind, "values": ", ".join(IncidentKind.values)}
        )
    not_in_future("incident", happened_at, now)
    # On the bow's own clock, which is named: whoever reads it stands beside the bow.
    here = moment(happened_at, bow.site.time_zone)
    detail = say("%(kind)s on %(at)s", kind=named(IncidentKind(kind).label), at=here)
    held = hold(by=by, bow=bow, reason=HoldReason.INCIDENT, detail=detail, since=happened_at)
    incident = Incident(bow=bow, kind=kind, happened_at=happened_at, reported_by=by, note=note, key=key, hold=held)
    check_fields(incident)
    if photo is not None:
        incident.photo.save(photo.name or "photo.jpg", photo, save=False)
    incident.save()
    audit(by, "report_incident", incident, bow=bow, kind=kind, happened_at=happened_at)
    return incident
