"""Verbs on device tokens: made and shown once, revoked for good."""

import hashlib
import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils.translation import gettext as _

from fleet.models import DeviceToken, Person, Site
from fleet.record.kernel import add, audit, verb
from fleet.refusal import Refused
from fleet.vocabulary import DeviceScope

PREFIX = "bb_"
SECRET_BYTES = 32
SHOWN_LETTERS = 9
USE_NOTED_EVERY = timedelta(hours=1)


def hashed(secret: str) -> str:
    """What the book keeps of a secret. It is 256 random bits, so that a plain hash cannot be turned round."""
    return hashlib.sha256(secret.encode(errors="surrogatepass")).hexdigest()


@verb
def make_device_token(
    *, by: Person, site: Site, name: str, scopes: Iterable[str], now: datetime
) -> tuple[DeviceToken, str]:
    """Make a token of a site for these kinds of thing; returns it and its secret, which is kept nowhere."""
    wanted = sorted(set(scopes))
    if not wanted or any(scope not in DeviceScope.values for scope in wanted):
        raise Refused(
            _("scopes %(wanted)s of a device: choose one or more of %(values)s.")
            % {"wanted": wanted, "values": ", ".join(DeviceScope.values)}
        )
    if not name.strip():
        raise Refused(
            _("The device has no name: give the one on its label, so that a lost one can be found in the list.")
        )
    if DeviceToken.objects.filter(site=site, name=name.strip(), revoked_at=None).exists():
        raise Refused(_("%(name)s has a token already: revoke it, or choose another name.") % {"name": name.strip()})
    secret = PREFIX + secrets.token_urlsafe(SECRET_BYTES)
    username = f"device-{secrets.token_hex(6)}"
    person = Person(username=username, display_name=name.strip(), is_active=False)
    person.set_unusable_password()
    add(person)
    token = add(
        DeviceToken(
            site=site,
            name=name.strip(),
            scopes=wanted,
            secret_sha256=hashed(secret),
            begins=secret[:SHOWN_LETTERS],
            person=person,
            made_at=now,
            made_by=by,
        )
    )
    audit(by, "make_device_token", token, name=token.name, site=site.code, scopes=wanted, begins=token.begins)
    return token, secret


@verb
def revoke_device_token(*, by: Person, token: DeviceToken, now: datetime) -> DeviceToken:
    """Let nobody in with this token any more; doing it twice changes nothing."""
    if DeviceToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=now, revoked_by=by):
        audit(by, "revoke_device_token", token, name=token.name, site=token.site.code, begins=token.begins)
    token.refresh_from_db()
    return token


def note_use(token: DeviceToken, now: datetime) -> None:
    """Keep when a token was last used, to the hour: a write per request would cost more than the request."""
    long_ago = Q(used_at=None) | Q(used_at__lt=now - USE_NOTED_EVERY)
    DeviceToken.objects.filter(long_ago, pk=token.pk).update(used_at=now)
