"""One cord's page: what it is, its life on this and on former bows, its dates, and why it has them."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils.formats import date_format

from fleet import record
from fleet.models import Bow
from service import decide
from service.cord_card import cord_card
from service.explain import account_of
from service.models import CordWear
from service.wear.coefficients import DEFAULTS
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


@pytest.fixture
def bow(shop: Shop, computed: Callable[[], int]) -> Bow:
    """A bow whose string was on another bow before."""
    former = personas.fitted_bow(shop, "single", "L-980", days_ago=100)
    personas.shoot(shop, former, 1_200, days_ago=60)
    fitting = former.fittings.get(position="string")
    record.remove_cord(by=shop.technician, fitting=fitting, at=personas.before(50), why="planned", now=personas.NOW)
    bow = personas.fitted_bow(shop, "single", "L-981", days_ago=90)
    record.remove_cord(
        by=shop.technician,
        fitting=bow.fittings.get(position="string"),
        at=personas.before(41),
        why="planned",
        now=personas.NOW,
    )
    personas.fit(shop, bow, fitting.cord, days_ago=40)
    personas.shoot(shop, bow, 700, days_ago=20)
    computed()
    return bow


def wear_of(bow: Bow) -> CordWear:
    return CordWear.objects.get(fitting__bow=bow, fitting__position="string")


def test_the_page_tells_what_it_is_and_its_dates(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    wear, page = wear_of(bow), Page(signed_in(shop.counter).get(f"/bows/{bow.tag}/cords/string/"))
    cord = wear.fitting.cord
    for word in (cord.serial, cord.lot, cord.spec.code, f"{wear.life_used:.2f}", "5,000 shots, 12 months"):
        assert word in page.text, word
    for day in (wear.replace_from, wear.replace_on, wear.replace_until):
        assert date_format(day, "DATE_FORMAT") in page.text


def test_its_life_is_told_bow_by_bow_and_adds_up(bow: Bow) -> None:
    card = cord_card(bow, "string", personas.NOW)
    assert card is not None
    assert [(one.fitting.bow.tag, one.weighted_shots) for one in card.lives] == [("L-981", 700.0), ("L-980", 1_200.0)]
    assert sum(one.life.total for one in card.lives) == pytest.approx(wear_of(bow).life_used, abs=1e-12)


def test_the_account_has_the_numbers_of_the_wear_and_the_sources(
    bow: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    wear, page = wear_of(bow), Page(signed_in(shop.counter).get(f"/bows/{bow.tag}/cords/string/"))
    for paragraph in account_of(wear):
        for line in paragraph.lines:
            assert " ".join(line.split()) in page.text, line
    assert f"shots 1900.0 / 5000 = {wear.life_shots:.4f}" in page.text
    assert f"together {wear.life_used:.4f}" in page.text
    assert "Palmgren 1924, Miner 1945" in page.text
    assert f"load exponent 8 [assumed]: {DEFAULTS['load_exponent'].source}" in page.text


def test_a_stay_that_began_before_the_cord_was_fitted_counts_as_where_it_was(bow: Bow) -> None:
    """The bow came to its rack 90 days ago and the string to the bow 40 days ago."""
    told = " ".join(line for paragraph in account_of(wear_of(bow)) for line in paragraph.lines)
    assert "stays at places 1, times in a parked vehicle 0" in told


def test_the_bow_and_the_due_list_lead_to_it(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    client, link = signed_in(shop.counter), f'href="/bows/{bow.tag}/cords/string/"'
    assert link in client.get(f"/bows/{bow.tag}/").content.decode()
    assert link in client.get("/due/").content.decode()


def test_a_cord_past_its_point_shows_no_dates_to_come(shop: Shop, signed_in: Callable[..., Client]) -> None:
    worn = personas.fitted_bow(shop, "single", "L-982")
    for part in range(3):
        personas.shoot(shop, worn, 1_900, days_ago=30 - part)
    decide.rebuild(personas.NOW)
    wear = wear_of(worn)
    assert wear.life_used > wear.replacement_point
    text = Page(signed_in(shop.counter).get(f"/bows/{worn.tag}/cords/string/")).text
    assert "replace now" in text
    assert "most likely between" not in Page(signed_in(shop.counter).get(f"/bows/{worn.tag}/")).text
    assert "10 %:" not in text


def test_unknown_use_and_facts_not_computed_yet_are_said_first(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"), "L-983")
    personas.fit(shop, bow, personas.cord(shop, personas.cord_spec(shop.owner), prior_use="unknown"), days_ago=9)
    client = signed_in(shop.counter)
    text = Page(client.get("/bows/L-983/cords/string/")).text
    assert "Its wear is not computed yet" in text
    assert "unknown: it is inspected before hire" in text
    decide.rebuild(personas.NOW)
    personas.shoot(shop, bow, 12)
    assert "Facts came in since this was computed" in Page(client.get("/bows/L-983/cords/string/")).text


def test_a_position_without_a_cord_has_no_page(bow: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.counter)
    for position in ("upper_cable", "nonsense"):
        assert client.get(f"/bows/{bow.tag}/cords/{position}/").status_code == 404
