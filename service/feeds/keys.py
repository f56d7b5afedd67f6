"""Whether a feed's token opens anything: constant in time, and refused for a while to who only guesses."""

import hashlib
import hmac

from django.db.models import Q

from fleet import lookups
from fleet.models import FeedKey, Person, Site
from fleet.vocabulary import Role
from service import shared_counts

WRONG_TOKENS = 30
WAIT_S = 600
LONGEST_TOKEN = 100


def key_of(token: str) -> FeedKey | None:
    """The key that a token opens; None for a wrong, a revoked, or one whose technician works there no more.

    The index finds the hash of what was sent, which tells a guesser nothing about the token; the comparison that
    decides takes the same time whatever was sent.
    """
    digest = hashlib.sha256(token[:LONGEST_TOKEN].encode()).hexdigest()
    key = FeedKey.objects.filter(digest=digest).select_related("site", "technician").first()
    if not hmac.compare_digest(key.digest if key else "0" * len(digest), digest):
        return None
    if key is None or key.revoked_at is not None:
        return None
    technician = key.technician
    if technician is not None and not (technician.is_active and lookups.role_at(technician, key.site)):
        return None
    return key


def note_wrong(address: str) -> None:
    """Remember that an address sent a token that opens nothing."""
    shared_counts.count(f"feed-wrong:{address}", 1, WAIT_S)


def must_wait(address: str) -> bool:
    """Whether an address has sent so many wrong tokens that it is not answered for WAIT_S seconds."""
    return shared_counts.count(f"feed-wrong:{address}", 0, WAIT_S) >= WRONG_TOKENS


def keys_shown_to(person: Person, site: Site, role: str) -> list[FeedKey]:
    """The open feeds of a site that a person may see and revoke: their own; a manager all of them."""
    keys = FeedKey.objects.filter(site=site, revoked_at=None).select_related("technician", "made_by")
    if role not in (Role.MANAGER, Role.OWNER):
        keys = keys.filter(Q(technician=person) | Q(made_by=person))
    return list(keys)
