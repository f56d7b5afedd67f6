"""Keys of events, so that the same file twice changes nothing.

A `key` column, where a file has one, is taken as it is. Without one the key is a digest of the row's own content
with the number of the line among identical ones: two truly identical lines of a file stay two entries, the order of
lines and other lines do not matter, and the same file again gives the same keys. The file's name is no part of it,
so a copy under another name adds nothing either.
"""

import hashlib

from service.intake.words import text
from service.said import say

KEY_COLUMN = text("key", 64, say("your own key of the entry; empty = made from the row's content"))
PREFIX = "content-"
DIGEST_BYTES = 16


def digest(*content: object) -> bytes:
    """A digest of a row's content."""
    spelled = "\x1f".join(map(str, content))
    return hashlib.blake2b(spelled.encode(), digest_size=DIGEST_BYTES).digest()


def content_key(content: bytes, occurrence: int) -> str:
    """The key of the n-th line with this content."""
    return f"{PREFIX}{content.hex()}-{occurrence}"


def occurrence_of(key: str) -> tuple[bytes, int] | None:
    """The content and occurrence of a key made here; None for any other key."""
    content, _, occurrence = key.removeprefix(PREFIX).rpartition("-")
    if not key.startswith(PREFIX) or len(content) != 2 * DIGEST_BYTES or not occurrence.isdecimal():
        return None
    try:
        return bytes.fromhex(content), int(occurrence)
    except ValueError:
        return None
