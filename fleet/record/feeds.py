"""Verbs on calendar feeds and on the morning's mail."""

import hashlib
import secrets
import zoneinfo
from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.utils.translation import gettext

from fleet.models import DigestWish, FeedKey, Person, Site
from fleet.ranges import HOUR_OF_DAY
from fleet.record.kernel import add, audit, put, verb
from fleet.refusal import Refused

TOKEN_BYTES = 32


def feed_digest(token: str) -> str:
    """What the book keeps of a feed's token. 256 random bits need no salt and no slow hash."""
    return hashlib.sha256(token.encode()).hexdigest()


@verb
def make_feed(*, by: Person, site: Site, technician: Person | None, now: datetime) -> tuple[FeedKey, str]:
    """Make the key of a site's calendar, or of one technician's there. Returns it and its token, shown this once."""
    token = secrets.token_urlsafe(TOKEN_BYTES)
    key = add(FeedKey(site=site, technician=technician, digest=feed_digest(token), made_at=now, made_by=by))
    audit(by, "make_feed", key, site=site, technician=technician)
    return key, token


@verb
def revoke_feed(*, by: Person, key: FeedKey, now: datetime) -> None:
    """Shut a feed for good: whoever holds its token finds nothing there any more."""
    if FeedKey.objects.filter(pk=key.pk, revoked_at=None).update(revoked_at=now, revoked_by=by):
        audit(by, "revoke_feed", key, site=key.site, technician=key.technician)


@verb
def ask_for_digest(
    *, by: Person, site: Site, email: str, time_zone: str, language: str, hour: int, now: datetime
) -> DigestWish:
    """Ask for a site's day by mail each morning, or change where, when and in which language it comes."""
    try:
        validate_email(email)
    except ValidationError as problem:
        raise Refused(
            gettext("'%(email)s' is not an e-mail address: write it as name@example.org.") % {"email": email}
        ) from problem
    if time_zone not in zoneinfo.available_timezones():
        raise Refused(
            gettext("time zone '%(time_zone)s' is not known: give an IANA name such as Europe/Paris.")
            % {"time_zone": time_zone}
        )
    HOUR_OF_DAY.check(hour)
    changed = put(by, {"email": email})
    wish = DigestWish.objects.filter(person=by, site=site).first() or DigestWish(person=by, site=site, since=now)
    if changed | put(wish, {"time_zone": time_zone, "language": language, "hour": hour}):
        # The address stays out of the audit trail, which is never erased.
        audit(by, "ask_for_digest", wish, site=site, time_zone=time_zone, language=language, hour=hour)
    return wish


@verb
def stop_digest(*, by: Person, site: Site) -> None:
    """Stop one's own mail about a site."""
    stopped, _ = DigestWish.objects.filter(person=by, site=site).delete()
    if stopped:
        audit(by, "stop_digest", site, site=site)
