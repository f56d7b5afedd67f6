"""The desk's other pages: search, fleet, costs, one bow's whole life, the screen's theme."""

import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from django.http import QueryDict
from django.test import Client

from fleet import record
from fleet.models import Bow
from service.orders import close, work
from service.pages.order_form import form_of
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import Shop

CSS = Path("templates/static/bracebook.css")


@pytest.fixture
def done(shop: Shop) -> Bow:
    """A bow whose worn set was replaced and signed under an order of today."""
    bow = orders.worn_bow(shop, "single")
    order = orders.issued(shop, bow)
    data = QueryDict(mutable=True)
    data.update({**orders.on_reference(order), **orders.new_set(order)})
    form = form_of(order, data)
    assert form.slips == []
    work.enter(
        order,
        by=shop.technician,
        now=personas.NOW,
        readings=form.readings,
        cords=form.typed_cords,
        steps_done=form.steps_done,
        note="",
    )
    close.sign(order, by=shop.technician, now=personas.NOW)
    return bow


def test_a_tag_opens_its_bow_at_once(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.fitted_bow(shop, "single", "L-921")
    response = signed_in(shop.counter).get("/find/", {"find": "l-921"})
    assert (response.status_code, response["Location"]) == (302, "/bows/L-921/")


def test_everything_with_the_name_is_found(done: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    client, order = signed_in(shop.manager), done.orders.get()
    removed = done.fittings.exclude(removed_at=None).first()
    assert removed is not None
    record.put_booking(
        by=shop.manager, site=shop.site, reference="B-77", start=personas.NOW, end=personas.before(-1), hand="right"
    )
    gone = client.get("/find/", {"find": removed.cord.serial}).context["found"]
    assert [(one.cord, one.fitting.bow) for one in gone.cords] == [(removed.cord, done)]
    assert "until" in Page(client.get("/find/", {"find": removed.cord.serial})).text
    assert list(client.get("/find/", {"find": order.number}).context["found"].orders) == [order]
    assert [one.reference for one in client.get("/find/", {"find": "b-7"}).context["found"].bookings] == ["B-77"]
    lot = client.get("/find/", {"find": "lot-b"}).context["found"]
    assert (lot.lot, len(lot.cords)) == ("LOT-B", 2)
    assert "Hold every bow with a cord of it" in Page(client.get("/find/", {"find": "LOT-B"})).text


def test_another_sites_things_are_not_found(done: Bow, camp: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(camp.manager)
    for text in (done.tag, done.serial, done.orders.get().number, "C-0", "LOT-B"):
        response = client.get("/find/", {"find": text})
        assert response.status_code == 200
        assert response.context["found"].nothing, text


def test_one_letter_finds_nothing_and_says_so(shop: Shop, signed_in: Callable[..., Client]) -> None:
    assert "at least 2 characters" in Page(signed_in(shop.counter).get("/find/", {"find": "L"})).text
    assert "Nothing at your sites" in Page(signed_in(shop.counter).get("/find/", {"find": "zebra"})).text


def test_the_fleet_adds_up_in_every_way(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    for system in ("single", "twin", "twin"):
        personas.fitted_bow(shop, system)
    personas.fitted_bow(shop, kind="recurve", in_service_on=personas.before(900).date())
    retired = personas.fitted_bow(shop, "hybrid")
    record.retire(by=shop.manager, bow=retired, at=personas.NOW, why="sold")
    computed()
    fleet = signed_in(shop.manager).get("/fleet/").context["fleet"]
    assert fleet.bows == 4
    counts = {one.title: {part.name: part.count for part in one.parts} for one in fleet.divisions}
    assert counts["Kind"] == {"compound": 3, "recurve": 1}
    assert counts["Cam system"] == {"single cam": 1, "twin cam": 2, "none (recurve, longbow)": 1}
    assert counts["Age in service"] == {"under 1 year": 3, "2 to 4 years": 1}
    assert all(sum(parts.values()) == 4 for parts in counts.values())
    assert all(sum(part.share for part in one.parts) == pytest.approx(1.0) for one in fleet.divisions)


def test_a_bow_costs_its_parts_its_labour_and_so_much_a_shot(
    done: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    record.put_site(by=shop.owner, code=shop.site.code, labour_rate_per_hour=60)
    (line,) = signed_in(shop.manager).get("/costs/").context["lines"]
    minutes = done.orders.get().minutes
    # A string at 48 and a buss cable at 36 took the places of the worn ones; 5,900 shots were shot.
    assert (line.cost.parts, line.cost.minutes, line.shots) == (Decimal(84), minutes, 5_900)
    assert line.cost.labour == Decimal(minutes)
    assert line.per_shots == (Decimal(84 + minutes) * 1_000 / 5_900).quantize(Decimal("0.01"))
    whole = signed_in(shop.manager).get("/costs/", {"whole": "1"}).context
    assert (whole["shots"], whole["whole_per_shots"]) == (5_900, line.per_shots)


def test_a_first_set_and_a_cord_from_another_bow_cost_nothing(shop: Shop, signed_in: Callable[..., Client]) -> None:
    giver, taker = personas.fitted_bow(shop, "single"), personas.fitted_bow(shop, "single")
    for bow in (giver, taker):
        record.remove_cord(
            by=shop.technician,
            fitting=bow.fittings.get(position="string"),
            at=personas.before(2),
            why="planned",
            now=personas.NOW,
        )
    personas.fit(shop, taker, giver.fittings.get(position="string").cord, days_ago=1)
    assert signed_in(shop.manager).get("/costs/").context["lines"] == []


def test_costs_go_out_as_a_file(done: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    content = signed_in(shop.manager).get("/costs/file.csv", {"days": "90"}).content.decode()
    assert content.splitlines()[0].startswith("tag,orders,bench_minutes,parts")
    assert content.splitlines()[1].startswith(f"{done.tag},1,")


def test_a_whole_life_tells_every_fact_the_latest_first(
    done: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    record.report_incident(
        by=shop.counter, bow=done, kind="drop", happened_at=personas.NOW, key="d", note="off the rack", now=personas.NOW
    )
    client = signed_in(shop.counter)
    facts = client.get(f"/bows/{done.tag}/life/").context["facts"]
    instants = [fact.at for fact in facts]
    assert instants == sorted(instants, reverse=True)
    told = " | ".join(fact.told for fact in facts)
    for words in (
        "drop: off the rack",
        "held, incident",
        "5000 shots",
        "fitted",
        "taken off, planned",
        "set up to 28 in",
    ):
        assert words in told
    assert {fact.kind for fact in client.get(f"/bows/{done.tag}/life/", {"kind": "shots"}).context["facts"]} == {
        "shots"
    }
    assert len(client.get(f"/bows/{done.tag}/life/", {"kind": "orders"}).context["facts"]) == 2


def test_an_order_without_a_page_is_named_and_not_linked(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.fitted_bow(shop, "single")
    record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number="PAPER-9",
        reference_set=bow.reference_sets.get(current=True),
        readings=[],
        work=[],
        cords_changed=[],
        steps_done=[],
        at=personas.NOW,
    )
    html = signed_in(shop.technician).get(f"/bows/{bow.tag}/life/").content.decode()
    assert "PAPER-9" in html
    assert "/orders/PAPER-9/" not in html


def test_a_chosen_theme_stands_on_every_page_of_its_person(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.counter)
    assert "data-theme" not in client.get("/due/").content.decode()
    assert client.post("/theme/", {"theme": "dark", "back": "/bows/"})["Location"] == "/bows/"
    assert 'data-theme="dark"' in client.get("/due/").content.decode()
    assert "data-theme" not in signed_in(shop.manager).get("/due/").content.decode()
    assert client.post("/theme/", {"theme": "light", "back": "https://elsewhere.example/"})["Location"] == "/"
    client.post("/theme/", {"theme": "neon"})
    assert 'data-theme="light"' in client.get("/due/").content.decode()


def test_the_chosen_dark_is_the_devices_dark() -> None:
    """The dark values stand twice, for want of a way to say "or" across a media query; they must not drift apart."""
    css = CSS.read_text()
    device = re.search(r':root:not\(\[data-theme="light"\]\) \{(.*?)\}', css, re.S)
    chosen = re.search(r':root\[data-theme="dark"\] \{(.*?)\}', css, re.S)
    assert device and chosen
    assert device[1].split() == chosen[1].split()
