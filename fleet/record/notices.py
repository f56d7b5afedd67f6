"""Verbs on notices: a maker's or the shop's own campaign over a spec sheet, a serial range or a cord lot."""

import re
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from fleet.models import Bow, Cord, Fitting, Notice, NoticeMatch, Person, SpecSheet
from fleet.record.holds import hold
from fleet.record.kernel import add, audit, check_fields, touch, verb
from fleet.refusal import Refused
from fleet.vocabulary import HoldReason


def serial_order(serial: str) -> list[str | int]:
    """What serials are sorted by: runs of digits as numbers, so that A9 comes before A10 on every engine."""
    return [int(part) if part.isdecimal() else part.casefold() for part in re.split(r"(\d+)", serial)]


def matched_bows(notice: Notice) -> list[Bow]:
    """Bows in service that a notice matches: by spec sheet, serial range and lot of a fitted cord, all that it names.

    A bow without a recorded serial cannot be ruled out of its own spec sheet's range, so it matches.
    """
    bows = Bow.objects.filter(retirement=None)
    if notice.spec_sheet_id:
        bows = bows.filter(spec_sheet=notice.spec_sheet)
    if notice.cord_lot:
        carriers = Fitting.objects.filter(cord__lot=notice.cord_lot, removed_at=None).values("bow")
        bows = bows.filter(pk__in=carriers)
    return [bow for bow in bows if _serial_matches(notice, bow.serial)]


def _serial_matches(notice: Notice, serial: str) -> bool:
    if not (notice.serial_from or notice.serial_to):
        return True
    if not serial:
        return notice.spec_sheet_id is not None
    order = serial_order(serial)
    after = not notice.serial_from or serial_order(notice.serial_from) <= order
    return after and (not notice.serial_to or order <= serial_order(notice.serial_to))


def _match(by: Person, notice: Notice, bow: Bow, at: datetime) -> NoticeMatch:
    held = hold(by=by, bow=bow, reason=HoldReason.NOTICE, detail=notice.title, since=at) if notice.holds else None
    return NoticeMatch.objects.create(notice=notice, bow=bow, hold=held)


def apply_notices(*, by: Person, bow: Bow, at: datetime, cord: Cord | None = None) -> None:
    """Match a bow that was added or changed against the notices in the book.

    A cord of a recalled lot, newly fitted, holds the bow even where the bow was answered under that notice before.
    """
    for notice in Notice.objects.all():
        known = NoticeMatch.objects.filter(notice=notice, bow=bow).first()
        if known is None:
            if bow in matched_bows(notice):
                audit(by, "match_notice", _match(by, notice, bow, at), bow=bow, title=notice.title)
        elif cord is not None and notice.cord_lot == cord.lot and notice.holds and known.answered_at is not None:
            hold(by=by, bow=bow, reason=HoldReason.NOTICE, detail=notice.title, since=at)


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
        raise Refused(_("A notice names what it is about: a spec sheet, a serial range or a cord lot."))
    if not holds and due_on is None:
        raise Refused(_("A notice that does not hold needs the day by which it is answered."))
    if serial_from and serial_to and serial_order(serial_from) > serial_order(serial_to):
        raise Refused(
            _("The serials run from %(serial_from)s to %(serial_to)s: the earlier one comes first.")
            % {"serial_from": serial_from, "serial_to": serial_to}
        )
    said: dict[str, Any] = {"title": title, "issued_on": issued_on, "holds": holds, "due_on": due_on}
    about: dict[str, Any] = {"serial_from": serial_from, "serial_to": serial_to, "cord_lot": cord_lot}
    if Notice.objects.filter(spec_sheet=spec_sheet, **said, **about).exists():
        raise Refused(_("The notice '%(title)s' is in the book already: look it up among the notices.") % said)
    notice = add(Notice(text=text, spec_sheet=spec_sheet, **said, **about))
    matched = matched_bows(notice)
    for bow in matched:
        _match(by, notice, bow, at)
    audit(by, "issue_notice", notice, title=title, bows=[bow.tag for bow in matched])
    touch(bow.pk for bow in matched)
    return notice


@verb
def answer_notice(*, by: Person, match: NoticeMatch, answer: str, at: datetime) -> NoticeMatch:
    """Write down how a bow was answered under a notice; the bench releases its hold separately."""
    if not answer.strip():
        raise Refused(_("Say what was done on this bow under the notice."))
    if (match.answer, match.answered_by) == (answer, by):
        raise Refused(_("This answer is written down already."))
    match.answer, match.answered_at, match.answered_by = answer, at, by
    check_fields(match)
    match.save(update_fields=["answer", "answered_at", "answered_by"])
    audit(by, "answer_notice", match, bow=match.bow, answer=answer)
    touch([match.bow_id])
    return match
