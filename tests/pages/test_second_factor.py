"""The second factor: taken on a page, asked for at sign-in, slowed, ended, reset by an owner, required by the house."""

import base64
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client

from fleet import record
from fleet.models import AuditEntry, Person
from fleet.record.second_factor import accepts, has_second_factor
from service.checks import second_factor_is_required_of_roles
from tests import personas
from tests.fleet.acts import code_now, take_second_factor
from tests.pages.reading import Page
from tests.personas import NOW, Shop

PAGE, SIGN_IN, CODE = "/account/second-factor/", "/sign-in/", "/sign-in/code/"


@pytest.fixture
def clock(_at_now: None) -> Iterator[Any]:
    """A clock that stands still until it is put on."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def password_of(person: Person, **more: str) -> dict[str, str]:
    return {"username": person.username, "password": personas.PASSWORD, **more}


def key_on(page: Page) -> str:
    """The key (hex) from the letters that the page shows."""
    found = re.search(r"(?:[A-Z2-7]{4} ){7}[A-Z2-7]{4}", page.text)
    assert found is not None
    return base64.b32decode(found[0].replace(" ", "")).hex()


def test_is_taken_on_a_page_and_the_recovery_codes_are_shown_once(
    shop: Shop, signed_in: Callable[..., Client], clock: Any
) -> None:
    client = signed_in(shop.technician)
    shown = client.get(PAGE)
    assert "no-store" in shown["Cache-Control"]
    key = key_on(Page(shown))
    assert key_on(Page(client.get(PAGE))) == key
    wrong = client.post(PAGE, {"code": "000000"})
    assert (wrong.status_code, has_second_factor(shop.technician)) == (422, False)
    assert "not the one for now" in Page(wrong).text
    taken = client.post(PAGE, {"code": code_now(key)})
    codes = re.findall(r"\b(?:[a-z2-7]{4}-){3}[a-z2-7]{4}\b", Page(taken).text)
    assert len(set(codes)) == 10
    assert "no-store" in taken["Cache-Control"]
    later = Page(client.get(PAGE)).text
    assert "10 recovery codes are left" in later
    assert not any(code in later for code in codes)
    assert AuditEntry.objects.filter(verb="take_second_factor", person=shop.technician).count() == 1
    told = repr(list(AuditEntry.objects.values()))
    assert key not in told and not any(code in told for code in codes)


def test_the_password_alone_opens_nothing_any_more(shop: Shop, clock: Any) -> None:
    take_second_factor(shop.manager)
    clock.shift(30)
    client = Client()
    assert client.post(SIGN_IN, password_of(shop.manager, next="/bows/"))["Location"] == CODE
    assert client.get("/bows/")["Location"] == "/sign-in/?next=/bows/"
    assert client.get(CODE).status_code == 200
    assert client.post(CODE, {"code": code_now()})["Location"] == "/bows/"
    assert client.get("/bows/").status_code == 200


def test_who_has_none_signs_in_as_before(shop: Shop) -> None:
    take_second_factor(shop.manager)
    assert Client().post(SIGN_IN, password_of(shop.counter))["Location"] == "/"


def test_a_code_opens_once(shop: Shop, clock: Any) -> None:
    take_second_factor(shop.manager)
    clock.shift(30)
    code = code_now()
    for expected in (302, 422):
        client = Client()
        client.post(SIGN_IN, password_of(shop.manager))
        assert client.post(CODE, {"code": code}).status_code == expected


def test_a_recovery_code_opens_once_and_leaves_a_row(shop: Shop, clock: Any) -> None:
    code = take_second_factor(shop.manager)[0]
    for expected in (302, 422):
        client = Client()
        client.post(SIGN_IN, password_of(shop.manager))
        assert client.post(CODE, {"code": code.upper()}).status_code == expected
    assert AuditEntry.objects.get(verb="use_recovery_code").detail == {"left": 9}


def test_guessing_is_slowed_even_for_the_right_code(shop: Shop, clock: Any) -> None:
    take_second_factor(shop.manager)
    clock.shift(30)
    client = Client()
    client.post(SIGN_IN, password_of(shop.manager))
    for _ in range(2):
        assert client.post(CODE, {"code": "000000"}).status_code == 422
        clock.shift(1)
    # The second wrong one asks for two seconds of rest, and one has passed.
    assert client.post(CODE, {"code": code_now()}).status_code == 422
    clock.shift(2)
    assert client.post(CODE, {"code": code_now()}).status_code == 302


@pytest.mark.parametrize(
    ("seconds", "opens"), [(-31, False), (-30, True), (0, True), (59, True), (60, False), (86_400, False)]
)
def test_a_code_of_another_step_is_refused(shop: Shop, clock: Any, seconds: int, opens: bool) -> None:
    """RFC 6238, 5.2: one step (30 s) of delay is allowed, and one for a phone whose clock is ahead; no more."""
    take_second_factor(shop.manager)
    clock.shift(300)
    code = code_now()
    clock.shift(seconds)
    assert accepts(shop.manager, code) is opens


def test_an_older_code_does_not_open_after_a_newer_one(shop: Shop, clock: Any) -> None:
    """Whoever looked over the shoulder half a minute ago holds a code that its step alone would still allow."""
    take_second_factor(shop.manager)
    clock.shift(300)
    seen = code_now()
    clock.shift(30)
    assert accepts(shop.manager, code_now())
    assert not accepts(shop.manager, seen)


def test_no_clock_put_back_makes_a_used_code_new(shop: Shop, clock: Any) -> None:
    take_second_factor(shop.manager)
    clock.shift(300)
    used = code_now()
    assert accepts(shop.manager, used)
    clock.shift(-30)
    assert not accepts(shop.manager, used)
    clock.shift(90)
    assert accepts(shop.manager, code_now())


def test_each_wrong_code_doubles_the_rest_and_its_end_opens(shop: Shop, clock: Any) -> None:
    """What is sent during the rest is not looked at and does not lengthen it."""
    take_second_factor(shop.manager)
    clock.shift(300)
    for rest_s in (1, 2, 4, 8, 16, 32):
        assert not accepts(shop.manager, "000000")
        clock.shift(rest_s - 0.01)
        assert not accepts(shop.manager, code_now()), rest_s
        clock.shift(0.02)
    assert accepts(shop.manager, code_now())
    clock.shift(60)
    assert not accepts(shop.manager, "000000")
    clock.shift(1.01)
    assert accepts(shop.manager, code_now()), "the right one ended the counting"


def test_guessing_recovery_codes_rests_as_well(shop: Shop, clock: Any) -> None:
    code = take_second_factor(shop.manager)[0]
    clock.shift(300)
    assert not accepts(shop.manager, "aaaa-bbbb-cccc-dddd")
    assert not accepts(shop.manager, code)
    clock.shift(1.01)
    assert accepts(shop.manager, code)


def test_the_password_is_not_remembered_for_long(shop: Shop, clock: Any) -> None:
    take_second_factor(shop.manager)
    client = Client()
    client.post(SIGN_IN, password_of(shop.manager))
    clock.shift(301)
    assert client.post(CODE, {"code": code_now()})["Location"] == SIGN_IN


def test_a_password_changed_meanwhile_ends_the_half_sign_in(shop: Shop, clock: Any) -> None:
    take_second_factor(shop.manager)
    clock.shift(30)
    client = Client()
    client.post(SIGN_IN, password_of(shop.manager))
    shop.manager.set_password("another long one")
    shop.manager.save()
    assert client.post(CODE, {"code": code_now()})["Location"] == SIGN_IN


def test_the_code_page_without_a_password_leads_to_the_sign_in(db: None) -> None:
    assert Client().get(CODE)["Location"] == SIGN_IN
    assert Client().post(CODE, {"code": "123456"})["Location"] == SIGN_IN


def test_is_ended_with_a_code_alone(shop: Shop, signed_in: Callable[..., Client], clock: Any) -> None:
    take_second_factor(shop.counter)
    client = signed_in(shop.counter)
    assert client.post(PAGE, {"code": "000000"}).status_code == 422
    assert has_second_factor(shop.counter)
    clock.shift(30)
    assert client.post(PAGE, {"code": code_now()})["Location"] == PAGE
    assert not has_second_factor(shop.counter)


def test_an_owner_resets_somebodys(shop: Shop, signed_in: Callable[..., Client], clock: Any) -> None:
    codes = take_second_factor(shop.counter)
    address = f"/house/people/{shop.counter.username}/second-factor/"
    client = signed_in(shop.owner)
    assert client.get(address).status_code == 200
    assert has_second_factor(shop.counter)
    assert client.post(address)["Location"] == "/house/"
    entry = AuditEntry.objects.get(verb="drop_second_factor")
    assert (entry.person, entry.subject_id) == (shop.owner, shop.counter.pk)
    assert Client().post(SIGN_IN, password_of(shop.counter))["Location"] == "/"
    assert not record.second_factor.accepts(shop.counter, codes[0])


class TestWhereTheHouseRequiresIt:
    @pytest.fixture(autouse=True)
    def _required(self, settings: Any) -> None:
        settings.SECOND_FACTOR_REQUIRED_OF = ["owner", "manager"]

    def test_nothing_else_opens_until_it_is_taken(
        self, shop: Shop, signed_in: Callable[..., Client], clock: Any
    ) -> None:
        client = signed_in(shop.manager)
        for address in ("/", "/bows/", "/house/", "/due/file.csv"):
            assert client.get(address)["Location"] == PAGE, address
        assert client.post("/views/save/")["Location"] == PAGE
        page = Page(client.get(PAGE))
        assert "This house requires it" in page.text
        client.post(PAGE, {"code": code_now(key_on(page))})
        assert client.get("/bows/").status_code == 200

    def test_of_those_roles_alone(self, shop: Shop, signed_in: Callable[..., Client]) -> None:
        assert signed_in(shop.counter).get("/bows/").status_code == 200
        assert signed_in(shop.technician).get("/queue/").status_code == 200

    def test_a_role_that_is_none_is_named_at_start(self, settings: Any) -> None:
        assert second_factor_is_required_of_roles() == []
        settings.SECOND_FACTOR_REQUIRED_OF = ["owner", "manger"]
        (found,) = second_factor_is_required_of_roles()
        assert "'manger', which is no role" in found.msg

    def test_one_can_sign_out_without(self, shop: Shop, signed_in: Callable[..., Client]) -> None:
        assert signed_in(shop.owner).post("/sign-out/")["Location"] == SIGN_IN
