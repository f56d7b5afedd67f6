"""The second factor of a sign-in: a code from an app that the person holds (TOTP, RFC 6238), or a recovery code.

django-otp keeps the keys, sealed (`fleet.sealed_keys`), and slows guessing down: after each wrong code the next is
looked at only after 1, 2, 4, 8 ... seconds. Recovery codes are kept as digests; each opens once.
"""

import base64
import hashlib
import secrets

from django.db import transaction
from django.utils.translation import gettext
from django_otp import verify_token
from django_otp.plugins.otp_static.models import StaticDevice

from fleet.models import Person, SealedDevice
from fleet.record.kernel import audit, verb
from fleet.record.sealing import begin_in_order
from fleet.refusal import Refused

RECOVERY_CODES = 10
# 80 bits: a digest of it cannot be searched, so none needs a salt.
RECOVERY_CODE_BYTES = 10
# As many letters as django-otp's column holds.
KEPT_LETTERS = 16


def has_second_factor(person: Person) -> bool:
    """Whether the person is asked for a code at sign-in."""
    return bool(SealedDevice.objects.filter(user=person, confirmed=True).exists())


def recovery_codes_left(person: Person) -> int:
    """How many recovery codes of the person have not been used."""
    return sum(device.token_set.count() for device in StaticDevice.objects.filter(user=person))


@verb
def take_second_factor(*, by: Person, key: str, code: str) -> list[str]:
    """Ask this person for a code from now on; `key` is the app's (hex), `code` shows that the app has it.

    Returns the recovery codes, which are kept nowhere in words. Refused for a wrong code, or if there is one already.
    """
    if has_second_factor(by):
        raise Refused(gettext("You have a second factor already: end it before you begin another one."))
    device = SealedDevice.objects.create(user=by, name="app", key=key, confirmed=True)
    if not device.verify_token(code):
        raise Refused(
            gettext(
                "The code '%(code)s' is not the one for now: type the six digits that the app shows at "
                "this moment, and check that the clock of the phone sets itself."
            )
            % {"code": code[:12]}
        )
    codes = [_new_code() for _ in range(RECOVERY_CODES)]
    spare = StaticDevice.objects.create(user=by, name="recovery", confirmed=True)
    spare.token_set.bulk_create([spare.token_set.model(device=spare, token=_kept(one)) for one in codes])
    audit(by, "take_second_factor", by)
    return codes


@verb
def drop_second_factor(*, by: Person, person: Person) -> None:
    """Ask the person for no code any more: their own wish, or an owner's where phone and recovery codes are lost."""
    if forget_second_factor(person):
        audit(by, "drop_second_factor", person)


def forget_second_factor(person: Person) -> bool:
    """Delete the key and the recovery codes; returns whether there was a key."""
    gone, _ = SealedDevice.objects.filter(user=person).delete()
    StaticDevice.objects.filter(user=person).delete()
    return bool(gone)


def accepts(person: Person, code: str) -> bool:
    """Whether this is the person's code of the moment or an unused recovery code; either opens once.

    A wrong one counts against guessing, so this is no verb: a refusal would undo the count.
    """
    typed = "".join(code.split()).replace("-", "")
    with transaction.atomic():
        begin_in_order()
        if typed.isascii() and typed.isdigit():
            return any(_opens(person, one, typed) for one in SealedDevice.objects.filter(user=person, confirmed=True))
        opened = any(_opens(person, one, _kept(typed)) for one in StaticDevice.objects.filter(user=person))
        if opened:
            audit(person, "use_recovery_code", person, left=recovery_codes_left(person))
        return opened


def _opens(person: Person, device: SealedDevice | StaticDevice, token: str) -> bool:
    return verify_token(person, device.persistent_id, token) is not None


def _new_code() -> str:
    """A code as it is shown: four groups of four letters and digits."""
    letters = base64.b32encode(secrets.token_bytes(RECOVERY_CODE_BYTES)).decode().lower()
    return "-".join(letters[start : start + 4] for start in range(0, len(letters), 4))


def _kept(code: str) -> str:
    plain = code.replace("-", "").lower()
    return hashlib.sha256(plain.encode()).hexdigest()[:KEPT_LETTERS]
