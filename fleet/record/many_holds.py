"""Verbs on many bows at once: hold them in one act, and take exactly that act back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from fleet.models import AuditEntry, Bow, HeldTogether, Hold, HoldAction, Person, Release, Retirement, Site
from fleet.record.kernel import add, audit, plain, touch, verb
from fleet.record.sealing import ROWS_AT_ONCE, write_sealed
from fleet.refusal import Refused
from fleet.signed_contents import CONTENTS, contents_of, new_seal
from fleet.vocabulary import HoldReason
from service.wording import moment_here


@dataclass(frozen=True)
class Undone:
    """What taking an act back did: bows whose hold it released, and those that stay held by what came meanwhile."""

    released: tuple[str, ...]
    kept: tuple[str, ...]


@verb
def hold_many(*, by: Person, site: Site, bows: Sequence[Bow], detail: str, picked: str, at: datetime) -> HoldAction:
    """Hold bows of one site in one act; `picked` says in words how they were chosen.

    A bow that is held already gets this reason as well; a retired one is refused, and so is an act that says what one
    in force says already: its form was sent twice.
    """
    if not bows:
        raise Refused(_("No bow was chosen: narrow the list to the bows that are to be held."))
    if not detail.strip():
        raise Refused(_("Say in words why these bows are held: whoever releases one must know what to look for."))
    if strays := [bow.tag for bow in bows if bow.site_id != site.pk]:
        raise Refused(
            _("%(strays)s: not a bow of %(site)s; hold it from its own site.")
            % {"strays": ", ".join(strays[:5]), "site": site}
        )
    ids = {bow.pk for bow in bows}
    gone = Retirement.objects.filter(bow__site=site).values_list("bow_id", "bow__tag")
    if retired := sorted(tag for pk, tag in gone if pk in ids):
        raise Refused(
            _("%(retired)s is retired: it goes to no guest, so there is nothing to hold.") % {"retired": retired[0]}
        )
    _require_not_said_yet(site, ids, detail[:200])
    action = add(HoldAction(site=site, picked=picked[:300], detail=detail[:200], at=at, by=by))
    holds = Hold.objects.bulk_create(
        [Hold(bow=bow, reason=HoldReason.PERSON, detail=detail[:200], since=at, by=by) for bow in bows], ROWS_AT_ONCE
    )
    HeldTogether.objects.bulk_create([HeldTogether(action=action, hold=one) for one in holds], ROWS_AT_ONCE)
    audit(by, "hold_many", action, site=site, picked=picked, detail=detail, bows=len(bows))
    _audit_each(
        by, "hold", "hold", holds, {}, action=action.pk, reason=HoldReason.PERSON.value, detail=detail, since=at
    )
    touch(bow.pk for bow in bows)
    return action


def _require_not_said_yet(site: Site, bow_ids: set[int], detail: str) -> None:
    for former in HoldAction.objects.filter(site=site, detail=detail, undone_at=None):
        there = HeldTogether.objects.filter(action=former, hold__released=None)
        if bow_ids <= set(there.values_list("hold__bow_id", flat=True)):
            raise Refused(
                _("These bows are held for this reason already, since %(at)s: see the acts so far.")
                % {"at": moment_here(former.at, site.time_zone)}
            )


@verb
def undo_hold_many(*, by: Person, action: HoldAction, at: datetime) -> Undone:
    """Release exactly what an act held and the bench has not released since.

    A bow that got another reason to be held meanwhile stays held by both: somebody has to look at it. What held a
    bow before the act goes on holding it.
    """
    if action.undone_at is not None:
        raise Refused(
            _("This act was taken back at %(undone_at)s already: hold the bows anew.")
            % {"undone_at": moment_here(action.undone_at, action.site.time_zone)}
        )
    ends, stay = what_undo_would_do(action)
    note = f"taken back: {action.detail}"[:200]
    releases = Release.objects.bulk_create(
        [Release(bow=one.bow, at=at, by=by, note=note) for one in ends], ROWS_AT_ONCE
    )
    for one, release in zip(ends, releases, strict=True):
        one.released = release
    Hold.objects.bulk_update(ends, ["released"], ROWS_AT_ONCE)
    action.undone_at, action.undone_by = at, by
    action.save(update_fields=["undone_at", "undone_by"])
    kept = tuple(one.bow.tag for one in stay)
    audit(by, "undo_hold_many", action, released=len(ends), kept=list(kept))
    contents = contents_of("release", [one.pk for one in releases])
    seals = {number: {CONTENTS: new_seal(one)} for number, one in contents.items()}
    _audit_each(by, "release", "release", releases, seals, action=action.pk, note=note)
    touch(one.bow_id for one in ends)
    return Undone(tuple(one.bow.tag for one in ends), kept)


def what_undo_would_do(action: HoldAction) -> tuple[list[Hold], list[Hold]]:
    """The holds of an act that taking it back would end, and those that would stay: something else came after them."""
    ours = list(holds_to_undo(action).select_related("bow").order_by("pk"))
    return [one for one in ours if not one.stays], [one for one in ours if one.stays]


def holds_to_undo(action: HoldAction) -> QuerySet[Any]:
    """What an act holds until now, none once it was taken back; `stays`: something holds the bow that came after it."""
    later = Hold.objects.filter(bow=OuterRef("bow"), released=None, pk__gt=OuterRef("pk"))
    ours = Hold.objects.none() if action.undone_at else Hold.objects.filter(held_together__action=action, released=None)
    return ours.annotate(stays=Exists(later))


def _audit_each(
    by: Person, name: str, kind: str, rows: Sequence[Hold | Release], more: dict[int, dict[str, Any]], **detail: object
) -> None:
    """The audit row of each bow, so that its own history tells of the act; `more` by the row's number."""
    told = {key: plain(value) for key, value in detail.items()}
    write_sealed(
        [
            AuditEntry(
                at=datetime.now(UTC),
                person=by,
                verb=name,
                subject_kind=kind,
                subject_id=row.pk,
                bow=row.bow,
                detail={**told, **more.get(row.pk, {})},
            )
            for row in rows
        ]
    )
