"""The due list: order, narrowing, numbers, empty states, and as many queries for 30 bows as for 3."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet import record
from fleet.models import Bow
from service import decide
from service.due_list import due_when, wears_in_order
from service.models import CordWear
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


def tags(response: object) -> list[str]:
    """The tags of the rows, in order."""
    return [wear.fitting.bow.tag for wear in response.context["wears"]]  # type: ignore[attr-defined]


@pytest.fixture
def three(shop: Shop, computed: Callable[[], int]) -> Shop:
    """L-901 is past rated life, L-902 due within days, L-903 fresh."""
    for tag, shots in (("L-901", 5_400), ("L-902", 3_000), ("L-903", 60)):
        bow = personas.fitted_bow(shop, "single", tag)
        for part in range(0, shots, 1_800):
            personas.shoot(shop, bow, min(1_800, shots - part), days_ago=20 - part / 600)
    computed()
    return shop


def test_the_soonest_replacement_comes_first(three: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(three.counter).get("/due/")
    assert tags(response) == ["L-901", "L-901", "L-902", "L-902", "L-903", "L-903"]
    days = [wear.replace_on for wear in response.context["wears"]]
    assert days == sorted(days)


def test_the_page_shows_life_used_and_its_three_shares(three: Shop, signed_in: Callable[..., Client]) -> None:
    wear = CordWear.objects.get(fitting__bow__tag="L-902", fitting__position="string")
    page = Page(signed_in(three.counter).get("/due/", {"find": "L-902", "cord": "string"}))
    assert f"{wear.life_used:.2f}" in page.words
    printed = wear.printed
    for name, share in (("shots", wear.life_shots), ("time", wear.life_time), ("heat", wear.life_heat)):
        # Rounded so that they add up: never a whole hundredth from the share itself.
        assert abs(printed[name] - share) < 0.01
        assert f"{printed[name]:.2f}" in page.words
    assert round(printed["shots"] + printed["time"] + printed["heat"], 2) == round(wear.life_used, 2)


def test_what_is_past_its_point_says_so_in_words(three: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(three.counter).get("/due/", {"when": "past"})
    assert set(tags(response)) == {"L-901"}
    assert "replace now" in Page(response).words


def test_the_views_count_what_they_show(three: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(three.counter)
    counts = client.get("/due/").context["counts"]
    for when, count in (("", counts.all), ("past", counts.past), ("soon", counts.soon)):
        assert len(tags(client.get("/due/", {"when": when}))) == count
    assert (counts.all, counts.past) == (6, 2)


@pytest.mark.parametrize("sought", ["l-903", "{serial}", "{lot}"])
def test_a_cord_is_found_by_tag_serial_or_lot(sought: str, three: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.fitted_bow(three, "single", "L-904")
    spec = bow.fittings.get(position="string").cord.spec
    record.remove_cord(
        by=three.technician,
        fitting=bow.fittings.get(position="string", removed_at=None),
        at=personas.before(2),
        why="planned",
        now=personas.NOW,
    )
    cord = personas.cord(three, spec, lot="LOT-Z")
    personas.fit(three, bow, cord, days_ago=1)
    decide.rebuild(personas.NOW)
    found = tags(signed_in(three.counter).get("/due/", {"find": sought.format(serial=cord.serial, lot="LOT-Z")}))
    assert set(found) == ({"L-903"} if sought == "l-903" else {"L-904"})


def test_a_kind_of_cord_is_picked_out(three: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(three.counter).get("/due/", {"cord": "buss_cable"})
    assert {wear.fitting.position for wear in response.context["wears"]} == {"buss_cable"}


def test_no_match_and_an_empty_book_say_what_to_do(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.manager)
    assert "Take in specs, bows and cords" in Page(client.get("/due/")).text
    assert "Show all" in Page(client.get("/due/", {"find": "nothing"})).text


def test_a_retired_bow_and_another_sites_are_left_out(
    three: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    camp = personas.shop("ridgecamp")
    personas.fitted_bow(camp, "single", "R-001")
    record.retire(by=three.manager, bow=Bow.objects.get(tag="L-901"), at=personas.NOW, why="limb cracked")
    computed()
    assert set(tags(signed_in(three.manager).get("/due/"))) == {"L-902", "L-903"}


def test_thirty_bows_take_as_many_queries_as_three(
    three: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    client = signed_in(three.counter)
    client.get("/due/")
    with CaptureQueriesContext(connection) as few:
        client.get("/due/")
    for _ in range(27):
        personas.fitted_bow(three, "single")
    computed()
    with CaptureQueriesContext(connection) as many:
        response = client.get("/due/")
    assert response.context["counts"].all == 60
    assert len(many) == len(few)


def test_a_long_list_is_paged_and_keeps_what_was_asked(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    for number in range(13):
        personas.fitted_bow(shop, "single", f"P-{number:03d}")
    computed()
    client = signed_in(shop.counter)
    first = client.get("/due/", {"find": "P-"})
    assert len(tags(first)) == 25
    assert "find=P-&amp;page=2" in first.content.decode()
    second = client.get("/due/", {"find": "P-", "page": "2"})
    assert len(tags(second)) == 1
    assert len(tags(client.get("/due/", {"find": "P-", "page": "no number"}))) == 25


@pytest.mark.parametrize("near", [1, 3, 1_000])
@pytest.mark.parametrize("per_page", [1, 4])
def test_the_pages_together_are_the_whole_list_in_order(
    per_page: int, near: int, three: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether a page is walked to or sorted, from the beginning or, in the second half, from the end."""
    monkeypatch.setattr("service.pages.due.PER_PAGE", per_page)
    monkeypatch.setattr("service.pages.due.NEAR", near)
    CordWear.objects.filter(fitting__bow__tag="L-903").update(replace_on=None, life_used=0.1)
    CordWear.objects.filter(fitting__bow__tag="L-902").update(replace_on=personas.NOW.date(), life_used=0.4)
    client = signed_in(three.counter)
    for when in ("", "past", "soon"):
        whole = list(due_when(wears_in_order(three.site), when, personas.NOW.date()))
        found = []
        for number in range(1, max(1, -(-len(whole) // per_page)) + 1):
            found += list(client.get("/due/", {"page": number, "when": when}).context["wears"])
        assert found == whole
    assert len(whole) == 2


def test_an_empty_list_has_one_empty_page(three: Shop, signed_in: Callable[..., Client]) -> None:
    assert tags(signed_in(three.counter).get("/due/", {"find": "nothing like it", "page": "9"})) == []
