"""Keys of second factors sealed at rest: the book and its backups hold them in a form that this machine alone opens.

AES-SIV (RFC 5297) under a key derived from the site's secret key by HKDF (RFC 5869); the person's number is bound in,
so that a sealed key moved to somebody else's row does not open. 20 bytes seal to 36, which the column holds as hex. A
book restored beside another secret key opens none of them: recovery codes still do, and an owner resets the rest.
"""

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESSIV
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

SEAL_BYTES = 16
KEY_BYTES = 20
_SEALED_LETTERS = 2 * (KEY_BYTES + SEAL_BYTES)


def sealed(key: str, person_id: int) -> str:
    """A key (40 hex digits) as the book keeps it (72); ValueError for one of another length."""
    plain = bytes.fromhex(key)
    if len(plain) != KEY_BYTES:
        raise ValueError(f"a key of {len(plain)} bytes: one of {KEY_BYTES} bytes (40 hex digits) can be sealed.")
    return _cipher().encrypt(plain, _bound_to(person_id)).hex()


def opened(kept: str, person_id: int) -> bytes | None:
    """The key's bytes; None where this machine's secret key does not open it.

    One that a version before sealing kept is as it was; it is sealed when it is used next.
    """
    if not is_sealed(kept):
        return bytes.fromhex(kept)
    try:
        return _cipher().decrypt(bytes.fromhex(kept), _bound_to(person_id))
    except InvalidTag:
        return None


def is_sealed(kept: str) -> bool:
    """Whether a kept key is sealed: by its length."""
    return len(kept) == _SEALED_LETTERS


def _cipher() -> AESSIV:
    derived = HKDF(SHA256(), length=32, salt=None, info=b"bracebook second factor")
    return AESSIV(derived.derive(settings.SECRET_KEY.encode()))


def _bound_to(person_id: int) -> list[bytes]:
    return [b"person", str(person_id).encode()]
