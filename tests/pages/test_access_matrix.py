"""Every address of the resolver, by GET and by POST, for everybody: of the site, of another one, without a sign-in, and
with a device's token. What is expected follows from the tables of test_who_may.py; an address that stands in none of
them fails the first test here, with its method, before anything is asked."""

import re
from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from fleet import record
from fleet.models import AuditEntry, Booking, CheckPhoto, Cord, FeedKey, NoticeMatch, Person
from tests import personas
from tests.pages.test_who_may import (
    BOW_PAGES,
    FILE_PAGES,
    OWN_PAGES,
    ROLES,
    SITE_PAGES,
    WITHOUT_SIGN_IN,
    addresses,
)
from tests.personas import NOW, Shop

__all__ = ["addresses"]
PAGES = {**SITE_PAGES, **BOW_PAGES, **FILE_PAGES, **OWN_PAGES}
# Calls with a token: which scope each needs (None: open to everybody).
CALLS = {
    "shots": "shots",
    "readings": "readings",
    "due": "read",
    "bows": "read",
    "bow": "read",
    "orders": "read",
    "plan": "read",
    "openapi": None,
    "problem-type": None,
}
# What the address names is the whole house's (a cord spec, a coefficient, a sample, a format, a notice), so every site
# opens it; a notice shows the bows of one's own sites alone.
WHOLE_HOUSE = {
    "due-file",
    "costs-file",
    "parts-file",
    "order-list-file",
    "record-new",
    "take-in-sample",
    "house-coefficient",
    "cord-spec",
    "coefficient",
    "spec-history",
    "part",
    "notice",
}
# Named by a word that each site may have for a thing of its own ("Rack"): held by a test of its own below.
NAMED_PER_SITE = {"record-change"}
# A person is of the house; what an owner of one site may not do to anybody is 403, by the role.
OF_THE_HOUSE = {"password", "second-factor-reset", "leaving"}
# Answers by which nothing was opened and nothing done: not there, not open, not by this method.
SHUT = {403, 404, 405}


def named(patterns: list[URLPattern | URLResolver], space: str = "") -> Iterator[tuple[str, str, str]]:
    """(namespace, name, route) of every address, at any depth."""
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from named(one.url_patterns, one.namespace or space)
        else:
            yield space, str(one.name), str(one.pattern)


ADDRESSES = list(named(get_resolver().url_patterns))
WITH_OBJECT = sorted(name for space, name, route in ADDRESSES if space == "" and re.search(r"<\w+(:\w+)?>", route))


def test_every_address_at_any_depth_stands_in_the_tables() -> None:
    for space, name, route in ADDRESSES:
        assert name in (CALLS if space == "api" else {**PAGES, **dict.fromkeys(WITHOUT_SIGN_IN)}), route
    assert set(CALLS) == {name for space, name, _ in ADDRESSES if space == "api"}
    assert {space for space, _, _ in ADDRESSES} == {"", "api"}
    assert set(WITH_OBJECT) >= WHOLE_HOUSE | OF_THE_HOUSE


@pytest.mark.parametrize("role", ROLES)
def test_a_lesser_role_is_refused_by_every_method(
    role: str, shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    """Empty forms are posted too: what a page does not show it does not take either."""
    client = signed_in(getattr(shop, role))
    before = AuditEntry.objects.count()
    for name, (_, least) in PAGES.items():
        if ROLES.index(role) < ROLES.index(least):
            for ask in (client.get, client.post):
                assert ask(addresses[name]).status_code in {403, 404, 405}, f"{ask} {name} as {role}"
    assert AuditEntry.objects.count() == before


@pytest.mark.parametrize("role", ["manager", "owner"])
def test_another_sites_object_is_never_opened(
    role: str, shop: Shop, camp: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    """By people with every right at their own site, an owner of that one site among them."""
    person = camp.manager if role == "manager" else personas.person(shop.owner, camp.site, "owner", "camp-owner")
    client = signed_in(person)
    before = AuditEntry.objects.count()
    for name in WITH_OBJECT:
        if name not in WHOLE_HOUSE | NAMED_PER_SITE | WITHOUT_SIGN_IN:
            for ask in (client.get, client.post):
                assert ask(addresses[name]).status_code in SHUT, f"{ask} {name} as {role} of another site"
    assert AuditEntry.objects.count() == before, "nothing was done"


@pytest.mark.parametrize("kind", ["bows", "tools", "cords", "sites", "people"])
def test_a_form_changes_nothing_of_another_site(
    kind: str, shop: Shop, camp: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    name = {
        "bows": "L-900",
        "tools": shop.tool_codes["rule"],
        "cords": Cord.objects.filter(fittings__bow__tag="L-900").values_list("serial", flat=True)[0],
        "sites": "larkspur",
        "people": "larkspur-counter",
    }[kind]
    client = signed_in(camp.manager)
    for ask in (client.get, client.post):
        assert ask(f"/house/{kind}/{name}/change/").status_code in SHUT


def test_a_place_is_the_one_of_the_site_that_is_looked_at(
    shop: Shop, camp: Shop, signed_in: Callable[..., Client]
) -> None:
    signed_in(camp.manager).post(
        "/house/places/Rack/change/", {"name": "Rack", "temperature_source": "fixed", "fixed_temperature_c": "30"}
    )
    shop.rack.refresh_from_db()
    camp.rack.refresh_from_db()
    assert (shop.rack.temperature_source, camp.rack.temperature_source) == ("logger", "fixed")


def test_whose_object_it_is_decides_and_not_the_site_asked_for(
    shop: Shop, camp: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    """Somebody with a role at both sites looks at one of them: what is of the other opens only there, or as itself."""
    personas.person(shop.owner, camp.site, "counter", "larkspur-manager")
    shop.manager.refresh_from_db()
    client = signed_in(shop.manager)
    for name in ("booking", "place"):
        assert client.get(addresses[name], {"site": "ridgecamp"}).status_code in SHUT, name
    for name in ("promise-bow", "cancel-booking", "erase-guest", "receive-order", "device-revoke", "revoke-feed"):
        address = f"{addresses[name]}?site=ridgecamp"
        assert client.post(address).status_code in SHUT, name
    assert Booking.objects.get().cancelled_at is None and not FeedKey.objects.exclude(revoked_at=None).exists()


def test_a_notice_shows_the_bows_of_ones_own_sites_alone(
    shop: Shop, camp: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    assert "L-900" not in signed_in(camp.manager).get(addresses["notice"]).content.decode()
    assert "L-900" in signed_in(shop.manager).get(addresses["notice"]).content.decode()


def test_a_token_opens_no_page(shop: Shop, addresses: dict[str, str]) -> None:
    _token, secret = record.make_device_token(
        by=shop.manager, site=shop.site, name="Reader", scopes=["shots", "readings", "read"], now=NOW
    )
    client = Client(headers={"Authorization": f"Bearer {secret}"})
    for name, address in addresses.items():
        for ask in (client.get, client.post):
            assert ask(address)["Location"].startswith("/sign-in/?next="), name


def test_a_part_of_one_bow_does_not_open_under_another(
    shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    """A picture and a notice's match are asked for together with their bow."""
    client = signed_in(shop.owner)
    personas.fitted_bow(shop, tag="L-902")
    picture, match = CheckPhoto.objects.get().pk, NoticeMatch.objects.get(bow__tag="L-900").pk
    assert client.get(f"/turnaround/L-902/pictures/{picture}/").status_code == 404
    assert client.get("/turnaround/L-902/answers/check-1/").status_code == 404
    assert client.post(f"/bows/L-902/notices/{match}/answer/", {"answer": "fine"}).status_code == 404
    assert Person.objects.filter(pk=shop.owner.pk).exists()
