"""Verbs on incidents and notices: what holds bows at once."""

from datetime import date, datetime

from django.core.files.base import File
from django.db.models import Q, QuerySet

from fleet.models import Bow, Fitting, Incident, Notice, NoticeMatch, Person, SpecSheet
from fleet.record.bows import hold
from fleet.record.kernel import audit, not_in_future, touch, verb
from fleet.refusal import Refused
from fleet.vocabulary import HoldReason, IncidentKind


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
        return existing
    if kind not in IncidentKind.values:
        raise Refused(f"incident {kind!r} is not one of {', '.join(IncidentKind.values)}.")
    not_in_future("incident", happened_at, now)
    detail = f"{IncidentKind(kind).label} on {happened_at:%Y-%m-%d %H:%M} UTC"
    held = hold(by=by, bow=bow, reason=HoldReason.INCIDENT, detail=detail, since=happened_at)
    incident = Incident(bow=bow, kind=kind, happened_at=happened_at, reported_by=by, note=note, key=key, hold=held)
    if photo is not None:
        incident.photo.save(photo.name or "photo.jpg", photo, save=False)
    incident.save()
    audit(by, "report_incident", incident, bow=bow, kind=kind, happened_at=happened_at)
    return incident


def matched_bows(notice: Notice) -> QuerySet[Bow]:
    """Bows that a notice matches: by spec sheet, serial range and lot of a fitted cord, all that it names."""
    bows = Bow.objects.filter(retirement=None)
    if notice.spec_sheet_id:
        bows = bows.filter(spec_sheet=notice.spec_sheet)
    if notice.serial_from:
        bows = bows.filter(serial__gte=notice.serial_from)
    if notice.serial_to:
        bows = bows.filter(Q(serial__lte=notice.serial_to))
    if notice.cord_lot:
        carriers = Fitting.objects.filter(cord__lot=notice.cord_lot, removed_at=None).values("bow")
        bows = bows.filter(pk__in=carriers)
    return bows


@verb
def issue_notice(
    *,
    by: Person,
    title: str,
    issued_on: date,
    at: datetime,
    text: str = "",
    spec_sheet: SpecSheet | None = None,
    serial_from: str = "",
    serial_to: str = "",
    cord_lot: str = "",
    holds: bool = True,
    due_on: date | None = None,
) -> Notice:
    """Issue a notice; every bow that it matches is held at once, or gets its need by `due_on`."""
    if not (spec_sheet or serial_from or serial_to or cord_lot):
        raise Refused("A notice names what it is about: a spec sheet, a serial range or a cord lot.")
    if not holds and due_on is None:
        raise Refused("A notice that does not hold needs the day by which it is answered.")
    notice = Notice.objects.create(
        title=title,
        text=text,
        issued_on=issued_on,
        spec_sheet=spec_sheet,
        serial_from=serial_from,
        serial_to=serial_to,
        cord_lot=cord_lot,
        holds=holds,
        due_on=due_on,
    )
    matched = list(matched_bows(notice))
    for bow in matched:
        held = hold(by=by, bow=bow, reason=HoldReason.NOTICE, detail=title, since=at) if holds else None
        NoticeMatch.objects.create(notice=notice, bow=bow, hold=held)
    audit(by, "issue_notice", notice, title=title, bows=[bow.tag for bow in matched])
    touch(bow.pk for bow in matched)
    return notice


@verb
def answer_notice(*, by: Person, match: NoticeMatch, answer: str, at: datetime) -> NoticeMatch:
    """Write down how a bow was answered under a notice; the bench releases its hold separately."""
    if not answer.strip():
        raise Refused("Say what was done on this bow under the notice.")
    match.answer, match.answered_at, match.answered_by = answer, at, by
    match.save(update_fields=["answer", "answered_at", "answered_by"])
    audit(by, "answer_notice", match, bow=match.bow, answer=answer)
    touch([match.bow_id])
    return match
