"""Keys of feeds are shown once and shut for good; the morning's mail is asked for by the one who gets it."""

import hashlib

import pytest

from fleet import record
from fleet.models import AuditEntry, DigestWish, FeedKey
from fleet.record import Refused
from tests.personas import NOW, Shop


def test_only_the_hash_of_a_token_is_kept(shop: Shop) -> None:
    key, token = record.make_feed(by=shop.manager, site=shop.site, technician=shop.technician, now=NOW)

    kept = FeedKey.objects.values().get()
    assert len(token) >= 43  # 32 bytes, 256 bits, in base 64
    assert token not in str(kept) and token not in str(list(AuditEntry.objects.values()))
    assert key.digest == hashlib.sha256(token.encode()).hexdigest()


def test_no_two_tokens_are_alike(shop: Shop) -> None:
    tokens = {record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)[1] for _ in range(20)}
    assert len(tokens) == 20


def test_a_feed_is_revoked_once_and_by_whom_is_kept(shop: Shop) -> None:
    key, _ = record.make_feed(by=shop.manager, site=shop.site, technician=None, now=NOW)
    record.revoke_feed(by=shop.owner, key=key, now=NOW)
    record.revoke_feed(by=shop.manager, key=key, now=NOW)

    assert FeedKey.objects.get().revoked_by == shop.owner
    assert AuditEntry.objects.filter(verb="revoke_feed").count() == 1


def ask(shop: Shop, **changes: object) -> DigestWish:
    given = {"email": "marta@example.org", "time_zone": "America/Denver", "language": "en", "hour": 6}
    return record.ask_for_digest(by=shop.manager, site=shop.site, now=NOW, **{**given, **changes})  # type: ignore[arg-type]


def test_asking_again_changes_the_one_wish(shop: Shop) -> None:
    ask(shop)
    ask(shop, hour=7, language="fr")

    wish = DigestWish.objects.get()
    assert (wish.person, wish.hour, wish.language) == (shop.manager, 7, "fr")
    shop.manager.refresh_from_db()
    assert shop.manager.email == "marta@example.org"
    assert "marta@example.org" not in str(list(AuditEntry.objects.filter(verb="ask_for_digest").values()))


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"email": "marta"}, r"'marta' is not an e-mail address"),
        ({"email": ""}, r"'' is not an e-mail address"),
        ({"time_zone": "Denver"}, r"time zone 'Denver' is not known"),
        ({"hour": 24}, r"hour 24 o'clock is outside 0 to 23"),
    ],
)
def test_wishes_that_cannot_be_are_refused(shop: Shop, changes: dict[str, object], text: str) -> None:
    with pytest.raises(Refused, match=text):
        ask(shop, **changes)
    assert not DigestWish.objects.exists()


def test_stopping_ends_ones_own_wish_alone(shop: Shop) -> None:
    ask(shop)
    record.stop_digest(by=shop.owner, site=shop.site)
    assert DigestWish.objects.count() == 1
    record.stop_digest(by=shop.manager, site=shop.site)
    assert not DigestWish.objects.exists()
