"""Verbs on people who leave and on names that are erased: the person stays as a number on everything they did.

How long a name under a signed record is kept is the house's own choice (five years unless it says otherwise): the law
that Bracebook's records are modelled on asks for the name of who did the work (14 CFR 43.9(a)(3), aircraft), but no
law known to us asks it of bows. Within that time a name is erased only for a reason, which the audit trail keeps.
"""

import secrets
from datetime import UTC, date, datetime, timedelta

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db.models import Max
from django.utils.translation import gettext

from fleet.models import (
    Booking,
    Departure,
    DeviceToken,
    DigestWish,
    ErasedKind,
    Erasure,
    FeedKey,
    GuestName,
    Person,
    Post,
    ReferenceSet,
    SignedResult,
    Site,
)
from fleet.record.kernel import audit, verb
from fleet.record.names_in_text import Name, blank_audit_rows, name_of, take_out
from fleet.record.sealing_contents import seal_anew, sealed_with
from fleet.record.second_factor import forget_second_factor
from fleet.refusal import Refused
from fleet.signals import names_erased
from fleet.vocabulary import Role

# Who was let go by a slip of the hand can be let in again with the name they had.
LEAST_DAYS_AFTER_LEAVING = 30


def is_erased(person: Person) -> bool:
    """Whether the person's name was erased."""
    return Erasure.objects.filter(kind=ErasedKind.PERSON, number=person.pk, since=person.date_joined).exists()


def kept_until(person: Person) -> date | None:
    """The last day on which the name is kept for what the person signed; None if they signed nothing."""
    performed = SignedResult.objects.filter(performed_by=person).aggregate(last=Max("signed_at"))["last"]
    released = SignedResult.objects.filter(released_by=person).aggregate(last=Max("released_at"))["last"]
    measured = ReferenceSet.objects.filter(taken_by=person).aggregate(last=Max("taken_at"))["last"]
    signed = [at for at in (performed, released, measured) if at is not None]
    days = Site.objects.aggregate(longest=Max("signed_name_days"))["longest"] or 0
    return max(signed).astimezone(UTC).date() + timedelta(days=days) if signed else None


def names_due(today: date) -> list[Person]:
    """People who left and whose names are to be erased by now, by what they signed and what the house chose since."""
    gone = [one.person for one in Departure.objects.filter(erase_on__lte=today).select_related("person")]
    return [person for person in gone if (kept_until(person) or date.min) < today]


@verb
def let_go(*, by: Person, person: Person, now: datetime) -> Departure:
    """Close everything by which a person gets into the book, because they left; says when their name is erased."""
    _check_may_leave(by, person)
    if Departure.objects.filter(person=person).exists():
        raise Refused(gettext("%(person)s left already: their sign-in is closed.") % {"person": person})
    _shut_out(by, person, now)
    soonest = now.astimezone(UTC).date() + timedelta(days=LEAST_DAYS_AFTER_LEAVING)
    until = kept_until(person)
    erase_on = max(soonest, until + timedelta(days=1)) if until else soonest
    departure = Departure.objects.create(person=person, left_at=now, closed_by=by, erase_on=erase_on)
    audit(by, "let_go", person, erase_on=erase_on)
    return departure


@verb
def let_in_again(*, by: Person, person: Person) -> Person:
    """Let somebody who left work here again, by their old name; an owner gives a new password."""
    gone, _ = Departure.objects.filter(person=person).delete()
    if not gone or is_erased(person):
        raise Refused(
            gettext("%(person)s did not leave, or their name is erased: add them as a new person.") % {"person": person}
        )
    person.is_active = True
    person.save(update_fields=["is_active"])
    audit(by, "let_in_again", person)
    return person


@verb
def erase_person(
    *, by: Person, person: Person, now: datetime, forced_because: str = "", also: tuple[str, ...] = ()
) -> list[str]:
    """Erase a person's name: "person 17" stands on all they did. Returns where the name has to stay, in words.

    `also`: other spellings to look for in texts. Refused within the time for which a signed name is kept, unless a
    reason is given, which is kept.
    """
    _check_may_leave(by, person)
    name, forced_because = name_of(person, also), forced_because.strip()
    until = kept_until(person)
    if until is not None and now.astimezone(UTC).date() <= until and not forced_because:
        raise Refused(
            gettext(
                "%(person)s signed work whose name this house keeps until %(until)s: wait until then, "
                "let the night after it erase the name, or give the reason why it is erased before."
            )
            % {"person": person, "until": until}
        )
    if name.within(forced_because):
        raise Refused(gettext("The reason is kept for ever and has the name in it: say it without the name."))
    _shut_out(by, person, now)
    person.display_name, person.email = name.stand_in, ""
    # No other book has this sign-in name: a bow's record taken there must not meet another person 17.
    person.username = f"person-{person.pk}-{secrets.token_hex(4)}"
    person.save(update_fields=["display_name", "email", "username"])
    person.absences.exclude(why="").update(why="")
    left, rows = _take_out_everywhere(by, name)
    Departure.objects.filter(person=person).delete()
    _log(ErasedKind.PERSON, [(person.pk, person.date_joined)], now.astimezone(UTC).date())
    audit(by, "erase_person", person, rows=rows, forced_because=forced_because, kept_until=until)
    return left


@verb
def erase_guest_name(*, by: Person, booking: Booking, now: datetime) -> list[str]:
    """Erase a guest's name before its day, because the guest asks for it; returns where it has to stay, in words."""
    guest = GuestName.objects.filter(booking=booking).first()
    if guest is None:
        raise Refused(
            gettext("%(reference)s has no guest's name: there is nothing to erase.") % {"reference": booking.reference}
        )
    name = Name((guest.display_name,), f"the guest of booking {booking.pk}")
    guest.delete()
    left, rows = _take_out_everywhere(by, name)
    _log(ErasedKind.GUEST, [(booking.pk, None)], now.astimezone(UTC).date())
    audit(by, "erase_guest_name", booking, rows=rows)
    return left


@verb
def erase_guest_names(*, by: Person, today: date, site: Site | None = None) -> int:
    """Erase the names of guests whose time is over, of one site or of all; returns how many.

    Only the count goes into the audit.
    """
    over = GuestName.objects.filter(erase_on__lte=today)
    over = over if site is None else over.filter(booking__site=site)
    bookings = list(over.values_list("booking_id", flat=True))
    GuestName.objects.filter(booking_id__in=bookings).delete()
    if bookings:
        _log(ErasedKind.GUEST, [(number, None) for number in bookings], today)
        audit(by, "erase_guest_names", None, count=len(bookings))
    return len(bookings)


def _take_out_everywhere(by: Person, name: Name) -> tuple[list[str], list[int]]:
    """Take a name out of texts and audit rows; where it has to stay, and the audit rows without a detail now."""
    signed = sealed_with(name)
    left = take_out(name)
    rows = blank_audit_rows(name)
    return left, sorted({*rows, *seal_anew(by, signed)})


def _check_may_leave(by: Person, person: Person) -> None:
    if by == person:
        raise Refused(gettext("You cannot close your own sign-in: another owner does it."))
    if DeviceToken.objects.filter(person=person).exists():
        raise Refused(gettext("%(person)s is a device: revoke its token on the page of devices.") % {"person": person})
    if is_erased(person):
        raise Refused(gettext("The name of %(person)s is erased already.") % {"person": person})
    owners = Post.objects.filter(role=Role.OWNER, site=None, person__is_active=True)
    if owners.filter(person=person).exists() and not owners.exclude(person=person).exists():
        raise Refused(
            gettext("%(person)s is the only owner of every site: make somebody else one first.") % {"person": person}
        )


def _shut_out(by: Person, person: Person, now: datetime) -> None:
    """End the sign-in, its sessions, second factor, tokens, mails and roles, and the hours at the bench."""
    person.is_active = False
    person.set_unusable_password()
    person.save(update_fields=["is_active", "password"])
    forget_second_factor(person)
    feeds = FeedKey.objects.filter(technician=person) | FeedKey.objects.filter(made_by=person)
    feeds.filter(revoked_at=None).update(revoked_at=now, revoked_by=by)
    DigestWish.objects.filter(person=person).delete()
    for rows in (person.posts, person.skills, person.bench_hours, person.views):
        rows.all().delete()
    for session in Session.objects.all():
        if session.get_decoded().get("_auth_user_id") == str(person.pk):
            session.delete()
    # Who tried to sign in, by name and address.
    for table in ("AccessAttempt", "AccessFailureLog", "AccessLog"):
        apps.get_model("axes", table).objects.filter(username=person.username).delete()


def _log(kind: ErasedKind, numbers: list[tuple[int, datetime | None]], on: date) -> None:
    Erasure.objects.bulk_create(Erasure(kind=kind, number=number, since=since, on=on) for number, since in numbers)
    names_erased.send(sender=None)
