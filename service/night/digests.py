"""The morning's mail: who gets it when, and sending it once.

A mail's row is written before the mail leaves. A sending that failed is tried again; one whose program was killed in
the middle may have arrived and is not sent again: nobody gets a morning twice.
"""

import logging
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F

from fleet import lookups
from fleet.models import DigestWish
from fleet.vocabulary import Role
from service.models import DigestSent
from service.night.morning import subject_and_text

logger = logging.getLogger(__name__)
# A machine that was off in the morning does not send its morning in the evening.
LATEST_HOURS = 6
LONGEST_ERROR = 300


def is_mail_configured() -> bool:
    """Whether this book can send mail at all."""
    return bool(settings.MAIL_IS_CONFIGURED)


def due(now: datetime) -> list[tuple[int, str]]:
    """(wish, its person's own date as ISO text) of each mail for which it is time and which was not begun."""
    if not is_mail_configured():
        return []
    found = []
    for wish in DigestWish.objects.order_by("pk"):
        local = now.astimezone(ZoneInfo(wish.time_zone))
        if wish.hour <= local.hour < wish.hour + LATEST_HOURS:
            found.append((wish.pk, local.date()))
    begun = set(DigestSent.objects.filter(wish__in=[pk for pk, _ in found]).values_list("wish_id", "day"))
    return [(pk, day.isoformat()) for pk, day in found if (pk, day) not in begun]


def send(wish_id: int, day: date, now: datetime) -> bool:
    """Send one mail, unless it was sent or is on its way; returns whether it was sent now. Raises what went wrong."""
    wish = DigestWish.objects.filter(pk=wish_id).select_related("person", "site").first()
    if wish is None or not is_mail_configured() or not _may_get_it(wish):
        return False
    sent = _claim(wish, day, now)
    if sent is None:
        return False
    try:
        subject, text = subject_and_text(wish, now)
        EmailMessage(subject, text, to=[wish.person.email], headers={"Message-ID": _message_id(sent)}).send()
    except Exception as problem:
        logger.exception("morning mail %s of %s failed", wish_id, day)
        sent.error = f"{type(problem).__name__}: {problem}"[:LONGEST_ERROR]
        sent.save(update_fields=["error"])
        raise
    sent.sent_at = now
    sent.save(update_fields=["sent_at"])
    return True


def _may_get_it(wish: DigestWish) -> bool:
    """Who works there no more gets no mail about it."""
    role = lookups.role_at(wish.person, wish.site)
    return bool(wish.person.is_active and wish.person.email and role and role != Role.COUNTER)


def _claim(wish: DigestWish, day: date, now: datetime) -> DigestSent | None:
    """The row of a mail that nobody else sends; None where it was sent or is on its way."""
    row, is_new = DigestSent.objects.get_or_create(wish=wish, day=day, defaults={"tried_at": now})
    if is_new:
        return row
    if row.sent_at is not None or not row.error:
        return None
    again = DigestSent.objects.filter(pk=row.pk, tries=row.tries).exclude(error="")
    if not again.update(error="", tries=F("tries") + 1, tried_at=now):
        return None
    row.refresh_from_db()
    return row


def _message_id(sent: DigestSent) -> str:
    """The same for every try, so that a mail program that gets two shows one."""
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].strip("> ")
    return f"<morning-{sent.wish_id}-{sent.day.isoformat()}@{domain}>"
