"""Every page against every kind of person: who gets it, who signs in first, who is refused, who finds nothing there."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, get_resolver

from fleet import record
from fleet.models import Booking, Bow, CheckPhoto, CordSpec, HoldAction, Person, SupplierOrder
from service.pages import uploads
from tests import personas
from tests.pages import orders
from tests.personas import Shop

# 422: opened, and what was typed (here nothing) is refused on the page.
OPEN, NOT_THERE, NOT_OPEN, SIGN_IN = {200, 302, 422}, {404}, {403}, {302}
SITE_PAGES = {
    "home": ("", "counter"),
    "due": ("due/", "counter"),
    "due-file": ("due/file.csv", "counter"),
    "view-save": ("views/save/", "counter"),
    "find": ("find/", "counter"),
    "theme": ("theme/", "counter"),
    "language": ("language/", "counter"),
    "composition": ("fleet/", "manager"),
    "costs": ("costs/", "manager"),
    "costs-file": ("costs/file.xlsx", "manager"),
    "hold-many": ("hold/", "manager"),
    "held-before": ("held/", "manager"),
    "house": ("house/", "manager"),
    "record-new": ("house/places/new/", "manager"),
    "record-change": ("house/places/Rack/change/", "manager"),
    "password": ("house/people/larkspur-counter/password/", "owner"),
    "second-factor-reset": ("house/people/larkspur-counter/second-factor/", "owner"),
    "leaving": ("house/people/larkspur-counter/leaving/", "owner"),
    "second-factor": ("account/second-factor/", "counter"),
    "first-steps": ("first-steps/", "manager"),
    "timing-due": ("due/timing/", "counter"),
    "places": ("places/", "technician"),
    "place": ("places/{place}/", "technician"),
    "calibration": ("calibration/", "manager"),
    "bows": ("bows/", "counter"),
    "turnaround-fleet": ("turnaround/", "counter"),
    "next-guest": ("next-guest/", "counter"),
    "labels": ("labels/", "technician"),
    "labels-pdf": ("labels/paper.pdf", "technician"),
    "line": ("line/", "counter"),
    "no-line": ("no-line/", "counter"),
    "queue": ("queue/", "technician"),
    "order-list": ("orders/", "technician"),
    "order-list-file": ("orders/file.csv", "technician"),
    "queue-pdf": ("queue/paper.pdf", "technician"),
    "issue-day": ("queue/issue/", "technician"),
    "notices": ("notices/", "technician"),
    "notice-new": ("notices/new/", "manager"),
    "notice": ("notices/{notice}/", "technician"),
    "trace": ("notices/trace/", "technician"),
    "house-coefficients": ("coefficients/", "manager"),
    "house-coefficient": ("coefficients/cabin_cap/", "manager"),
    "cord-specs": ("cord-specs/", "manager"),
    "cord-spec": ("cord-specs/QW-string/", "manager"),
    "coefficient": ("cord-specs/QW-string/coefficients/load_exponent/", "manager"),
    "spec-history": ("cord-specs/QW-string/history/", "manager"),
    "feeds": ("calendars/", "technician"),
    "make-feed": ("calendars/make/", "technician"),
    "revoke-feed": ("calendars/{feed}/revoke/", "technician"),
    "bench-opens": ("calendars/opening/", "manager"),
    "morning-mail": ("account/morning/", "technician"),
    "stop-morning-mail": ("account/morning/stop/", "technician"),
    "nights": ("nights/", "manager"),
    "guests": ("guests/", "counter"),
    "walk-in": ("guests/walk-in/", "counter"),
    "book": ("guests/book/", "counter"),
    "wear-choice": ("guests/wear-choice/", "manager"),
    "booking": ("guests/{booking}/", "counter"),
    "change-booking": ("guests/{booking}/change/", "counter"),
    "promise-bow": ("guests/{booking}/promise/", "counter"),
    "erase-guest": ("guests/{booking}/erase/", "manager"),
    "cancel-booking": ("guests/{booking}/cancel/", "counter"),
    "parts": ("parts/", "technician"),
    "part": ("parts/of/QW-string/", "technician"),
    "parts-file": ("parts/file.csv", "technician"),
    "move-stock": ("parts/movements/", "technician"),
    "put-supplier-order": ("parts/orders/", "manager"),
    "receive-order": ("parts/orders/{supplier}/receive/", "technician"),
    "cancel-order": ("parts/orders/{supplier}/cancel/", "manager"),
    "reorder": ("parts/reorder/", "manager"),
    "reorder-csv": ("parts/reorder.csv", "manager"),
    "reorder-pdf": ("parts/reorder.pdf", "manager"),
    "how-to-measure": ("how-to-measure/", "counter"),
    "devices": ("devices/", "manager"),
    "device-revoke": ("devices/{device}/revoke/", "manager"),
    "status": ("status/", "owner"),
    "take-in": ("take-in/", "manager"),
    "take-in-sample": ("take-in/sample/shots.csv", "manager"),
    "outlook": ("outlook/", "manager"),
    "outlook-plan": ("outlook/plan/", "manager"),
    "outlook-publish": ("outlook/publish/", "manager"),
    "outlook-move": ("outlook/move/", "manager"),
    "outlook-what-if": ("outlook/what-if/", "manager"),
    "outlook-enter": ("outlook/what-if/enter/", "manager"),
}
BOW_PAGES = {
    "bow": ("bows/L-900/", "counter"),
    "turnaround": ("turnaround/L-900/", "counter"),
    "turnaround-answer": ("turnaround/L-900/answers/check-1/", "counter"),
    "turnaround-photo": ("turnaround/L-900/pictures/{picture}/", "counter"),
    "turnaround-hand-over": ("turnaround/L-900/hand-over/", "counter"),
    "cord": ("bows/L-900/cords/string/", "counter"),
    "bow-life": ("bows/L-900/life/", "counter"),
    "bow-move": ("bows/L-900/move/", "manager"),
    "bow-retire": ("bows/L-900/retire/", "manager"),
    "held-together": ("held/{action}/", "manager"),
    "held-undo": ("held/{action}/undo/", "manager"),
    "issue-order": ("bows/L-900/issue/", "technician"),
    "order": ("orders/{order}/", "technician"),
    "order-pdf": ("orders/{order}/sheet.pdf", "technician"),
    "order-live": ("orders/{order}/live/", "technician"),
    "draw-board": ("orders/{order}/draw-board/", "technician"),
    "arms": ("bows/L-900/arms/", "technician"),
    "references": ("bows/L-900/references/", "technician"),
    "measured-history": ("bows/L-900/measurements/", "counter"),
    "bow-record-pdf": ("bows/L-900/record.pdf", "technician"),
    "bow-record-json": ("bows/L-900/record.json", "manager"),
    "bow-record-zip": ("bows/L-900/record.zip", "manager"),
    "defer": ("bows/L-900/defer/", "manager"),
    "notice-answer": ("bows/L-900/notices/{match}/answer/", "technician"),
}
FILE_PAGES = {
    "take-in-preview": ("take-in/{token}/", "manager"),
    "take-in-problems": ("take-in/{token}/bad-cells.csv", "manager"),
    "take-in-apply": ("take-in/{token}/apply/", "manager"),
    "take-in-drop": ("take-in/{token}/drop/", "manager"),
}
# One person's own, and the one page of a book without a site.
OWN_PAGES = {
    "view-forget": ("views/{view}/forget/", "counter"),
    "first-site": ("first-site/", "owner"),
}
POSTED = {
    "defer",
    "held-undo",
    "issue-day",
    "issue-order",
    "notice-answer",
    "take-in-apply",
    "turnaround-hand-over",
    "labels-pdf",
    "device-revoke",
    "take-in-drop",
    "theme",
    "language",
    "view-forget",
    "view-save",
    "outlook-plan",
    "outlook-publish",
    "outlook-enter",
}
POSTED |= {"make-feed", "revoke-feed", "bench-opens"}
POSTED |= {"stop-morning-mail"}
POSTED |= {"book", "wear-choice", "promise-bow", "cancel-booking", "erase-guest"}
POSTED |= {"move-stock", "put-supplier-order", "receive-order", "cancel-order"}
POSTED |= {"order-live"}
WITHOUT_SIGN_IN = {"feed-ics", "feed-csv", "live", "metrics", "ready", "sign-in", "sign-out", "turnaround-worker"}
WITHOUT_SIGN_IN |= {"sign-in-code"}
ROLES = ("counter", "technician", "manager", "owner")


@pytest.fixture
def addresses(shop: Shop, computed: Callable[[], int], tmp_path: Path, settings: object) -> dict[str, str]:
    """The address of every page, with a bow, an order and a kept file behind it."""
    settings.DATA_DIR, settings.MEDIA_ROOT = tmp_path, tmp_path / "photos"  # type: ignore[attr-defined]
    bow = personas.fitted_bow(shop, tag="L-900")
    computed()
    order = orders.issued(shop, bow)
    notice = record.issue_notice(
        by=shop.manager, title="Limbs", issued_on=personas.NOW.date(), at=personas.NOW, spec_sheet=bow.spec_sheet
    )
    file = SimpleUploadedFile("tools.csv", b"code,kind,site\nx-rule,rule,larkspur\n")
    kept = uploads.keep(file, owner=shop.manager, site=shop.site, kind="tools")
    made = {
        "order": order.number,
        "token": kept.token,
        "notice": notice.pk,
        "match": notice.matches.get().pk,
        "place": shop.rack.pk,
        "supplier": _supplier_order(shop).pk,
        "action": _held_together(shop).pk,
        "picture": _picture(shop, bow).pk,
        "view": record.save_view(by=shop.manager, page="due", name="Past", query="when=past").pk,
        "booking": _booking(shop).pk,
        "device": record.make_device_token(
            by=shop.manager, site=shop.site, name="Lane 3", scopes=["shots"], now=personas.NOW
        )[0].pk,
        "feed": record.make_feed(by=shop.technician, site=shop.site, technician=shop.technician, now=personas.NOW)[
            0
        ].pk,
    }
    return {
        name: "/" + address.format(**made)
        for name, (address, _) in {**SITE_PAGES, **BOW_PAGES, **FILE_PAGES, **OWN_PAGES}.items()
    }


def _picture(shop: Shop, bow: Bow) -> CheckPhoto:
    check = record.record_turnaround(
        by=shop.counter, bow=bow, at=personas.NOW, answers={}, measurements=[], verdict="ready", key="check-1"
    )
    return record.keep_check_photo(by=shop.counter, check=check, topic="limbs", image=ContentFile(b"pixels", "a.jpg"))


def _held_together(shop: Shop) -> HoldAction:
    bow = personas.fitted_bow(shop, tag="L-901")
    return record.hold_many(
        by=shop.manager, site=shop.site, bows=[bow], detail="frays", picked="by hand", at=personas.NOW
    )


def _booking(shop: Shop) -> Booking:
    start, end = personas.before(-1), personas.before(-2)
    return record.put_booking(by=shop.owner, site=shop.site, reference="B-1", start=start, end=end, hand="right")


def _supplier_order(shop: Shop) -> SupplierOrder:
    day, spec = personas.NOW.date(), CordSpec.objects.get(code="QW-string")
    return record.put_supplier_order(
        by=shop.owner, site=shop.site, cord_spec=spec, reference="PO", quantity=2, ordered_on=day, expected_on=day
    )


def call(client: Client, name: str, address: str) -> int:
    return (client.post if name in POSTED else client.get)(address).status_code


def test_every_address_is_held_here() -> None:
    # Calls with a token are held in tests/api/test_who_may_call.py.
    named = {pattern.name for pattern in get_resolver().url_patterns if isinstance(pattern, URLPattern)}
    assert named == {*SITE_PAGES, *BOW_PAGES, *FILE_PAGES, *OWN_PAGES} | WITHOUT_SIGN_IN


@pytest.mark.parametrize("role", ROLES)
def test_a_role_opens_its_pages_and_no_others(
    role: str, shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(getattr(shop, role))
    for name, (_, least) in {**SITE_PAGES, **BOW_PAGES}.items():
        expected = OPEN if ROLES.index(role) >= ROLES.index(least) else NOT_OPEN
        assert call(client, name, addresses[name]) in expected, f"{name} as {role}"


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", FILE_PAGES)
def test_a_kept_file_is_its_senders_alone(
    role: str, name: str, shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    expected = {"manager": OPEN, "owner": NOT_THERE}.get(role, NOT_OPEN)
    assert call(signed_in(getattr(shop, role)), name, addresses[name]) in expected


@pytest.mark.parametrize("role", ROLES)
def test_a_view_is_its_owners_alone(
    role: str, shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    expected = OPEN if role == "manager" else NOT_THERE
    assert call(signed_in(getattr(shop, role)), "view-forget", addresses["view-forget"]) in expected


@pytest.mark.parametrize("role", ROLES)
def test_the_first_sites_page_is_gone_once_there_is_one(
    role: str, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    expected = NOT_THERE if role == "owner" else NOT_OPEN
    assert signed_in(getattr(shop, role)).get("/first-site/").status_code in expected


def test_what_reaches_every_site_is_not_open_to_an_owner_of_one(
    shop: Shop, camp: Shop, signed_in: Callable[..., Client]
) -> None:
    one = personas.person(shop.owner, camp.site, "owner", "camp-owner")
    client = signed_in(one)
    for address in ("people/ridgecamp-counter/password/", "people/new/", "sites/new/", "sites/ridgecamp/change/"):
        assert client.get(f"/house/{address}").status_code == 403, address
    assert client.get("/house/presses/new/").status_code == 200


def test_another_sites_people_find_neither_bow_nor_order_nor_file(
    shop: Shop, camp: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    for role in ("counter", "technician", "manager"):
        client = signed_in(getattr(camp, role))
        for name in BOW_PAGES:
            assert call(client, name, addresses[name]) == 404, f"{name} as {role} of another site"
    for name in FILE_PAGES:
        assert call(signed_in(camp.manager), name, addresses[name]) == 404, name


def test_a_site_that_is_not_theirs_is_not_there(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    for address in ("/due/", "/bows/", "/"):
        assert signed_in(camp.manager).get(address, {"site": "larkspur"}).status_code == 404


def test_a_lesser_role_elsewhere_counts_there(
    shop: Shop, camp: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    """Manager at the camp, counter at the range: the range's order stays shut, whatever site was looked at last."""
    personas.person(shop.owner, shop.site, "counter", "ridgecamp-manager")
    # The new role came with the password set anew, which ends sessions made under the old one.
    camp.manager.refresh_from_db()
    client = signed_in(camp.manager)
    assert client.get("/queue/", {"site": "ridgecamp"}).status_code == 200
    assert client.get(addresses["bow"]).status_code == 200
    assert client.get(addresses["order"]).status_code == 403
    assert client.post(addresses["issue-order"]).status_code == 403


def test_a_person_without_a_role_is_told_so(
    shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    nobody = Person.objects.create_user("nobody", password=personas.PASSWORD, display_name="Nobody Yet")
    for name, address in addresses.items():
        assert call(signed_in(nobody), name, address) == 403, name
    assert "ask a manager" in signed_in(nobody).get("/due/").content.decode()


def test_anybody_else_signs_in_first_and_comes_back(addresses: dict[str, str]) -> None:
    for name, address in addresses.items():
        response = (Client().post if name in POSTED else Client().get)(address)
        assert response.status_code == 302, name
        assert response["Location"] == f"/sign-in/?next={address}", name


@pytest.mark.parametrize("name", [*sorted(POSTED), "order", "take-in", "coefficient"])
def test_a_form_without_its_token_changes_nothing(
    name: str, shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.owner, enforce_csrf_checks=True)
    response = client.post(addresses[name], {"action": "sign"})
    assert response.status_code == 403
    assert "out of date" in response.content.decode()


@pytest.mark.parametrize("name", sorted(POSTED))
def test_what_changes_something_is_never_got(
    name: str, shop: Shop, addresses: dict[str, str], signed_in: Callable[..., Client]
) -> None:
    assert signed_in(shop.owner).get(addresses[name]).status_code == 405
