"""Arms of a bow, its measurements over time, and how to measure."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

from fleet import record
from fleet.models import Bow, BowArm
from fleet.vocabulary import Arm, MeasurementKind
from service.how_to_measure import ARMS, MEASUREMENTS
from service.measured_history import history_of
from service.orders import close, work
from service.orders.work import TypedCord, TypedReading
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import INCH_M, Shop

FIGURES = Path(__file__).resolve().parents[2] / "templates" / "measure" / "figures"


@pytest.fixture
def bow(shop: Shop) -> Bow:
    return personas.fitted_bow(shop, "hybrid", "L-ARMS")


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.technician)


def test_an_arm_is_recorded_with_who_and_tool_and_no_longer_assumed(client: Client, bow: Bow, shop: Shop) -> None:
    page = Page(client.get("/bows/L-ARMS/arms/"))
    assert page.words.count("assumed") == 9  # a hybrid's cams: five arms at the lower, four at the upper
    rule = shop.tool_codes["rule"]
    response = client.post("/bows/L-ARMS/arms/", {"upper-string": "1 3/4", "lower-let_out": "14 mm", "tool": rule})
    assert response.status_code == 302
    arm = BowArm.objects.get(end="upper")
    assert (arm.value_m, arm.measured_by, arm.tool.code) == (pytest.approx(1.75 * INCH_M), shop.technician, rule)
    page = Page(client.get("/bows/L-ARMS/arms/"))
    assert page.words.count("assumed") == 7
    assert "Larkspur Technician" in page.text
    assert page.value("upper-string") == "1 3/4 in"


def test_saving_again_changes_nothing_and_emptying_takes_it_back(client: Client, bow: Bow) -> None:
    client.post("/bows/L-ARMS/arms/", {"upper-string": "44.7 mm"})
    shown = Page(client.get("/bows/L-ARMS/arms/")).value("upper-string")
    client.post("/bows/L-ARMS/arms/", {"upper-string": shown})
    assert BowArm.objects.get().value_m == pytest.approx(0.0447)
    client.post("/bows/L-ARMS/arms/", {"upper-string": ""})
    assert not BowArm.objects.filter(superseded_at=None).exists()


def test_a_slip_records_nothing(client: Client, bow: Bow) -> None:
    response = client.post("/bows/L-ARMS/arms/", {"upper-string": "1 3/4", "lower-string": "90"})
    assert response.status_code == 422
    assert "out of range" in Page(response).text
    assert Page(response).value("lower-string") == "90"
    assert not BowArm.objects.exists()


def test_a_recurve_has_no_arms(client: Client, shop: Shop) -> None:
    personas.fitted_bow(shop, tag="L-REC", kind="recurve")
    assert "no cams and no arms" in Page(client.get("/bows/L-REC/arms/")).text


def worked(shop: Shop, bow: Bow) -> None:
    """A closed order: axle to axle found 3/16 in too long, half turns put in, left on the reference."""
    order = orders.issued(shop, bow)
    assert order.reference_set is not None
    off = {"axle_to_axle": 3 * INCH_M / 16, "hole_distance_lower": -0.002}
    readings = [
        TypedReading(one.kind, one.value + off.get(one.kind, 0.0), one.value)
        for one in order.reference_set.measurements.all()
    ]
    cords = [TypedCord("buss_cable", half_twists=46)]
    at = personas.NOW
    work.enter(order, by=shop.technician, now=at, readings=readings, cords=cords, steps_done=[], note="")
    close.sign(order, by=shop.technician, now=at)
    order.refresh_from_db()
    close.release(order, by=shop.technician, now=at)


def test_learned_values_stand_beside_the_models(client: Client, bow: Bow, shop: Shop) -> None:
    page = Page(client.get("/bows/L-ARMS/arms/"))
    assert "Nothing is learned yet" in page.text
    worked(shop, bow)
    for address in ("/bows/L-ARMS/arms/", "/bows/L-ARMS/"):
        page = Page(client.get(address))
        assert "Closed orders: 1 of this bow, 0 of its mates" in page.text, address
        assert "Shortening by twists against the formula, buss cable" in page.words, address
        assert "1.00 ± 0.30" in page.words and "1 + 0" in page.words, address
    order = orders.issued(shop, bow)
    assert "Closed orders: 1 of this bow" in Page(client.get(f"/orders/{order.number}/")).text


def test_each_reading_has_its_place_its_shape_and_its_row(client: Client, bow: Bow, shop: Shop) -> None:
    worked(shop, bow)
    history = history_of(bow, personas.NOW)
    assert history is not None
    picture = next(one for one in history.pictures if one.kind == "axle_to_axle")
    found, left = picture.readings
    assert (found.found, found.off, found.inside) == (True, "+3/16 in", False)
    assert (left.found, left.off, left.inside) == (False, "0", True)
    band = picture.bands[-1]
    assert found.y < band.y < left.y == band.middle < band.y + band.height  # further up is more
    assert band.height / 2 == pytest.approx(left.y - band.y, abs=0.11)
    response = client.get("/bows/L-ARMS/measurements/")
    html = response.content.decode()
    assert html.count('<circle class="found"') - 1 == sum(one.found for p in history.pictures for one in p.readings)
    assert "3/16 in" in Page(response).text and "outside" in Page(response).words
    assert 'class="reset"' in html and "timing set" in Page(response).text


def test_a_new_reference_moves_the_band(bow: Bow, shop: Shop) -> None:
    values = [record.ReferenceValue("axle_to_axle", 33.25 * INCH_M, INCH_M / 8)]
    record.record_reference_set(
        by=shop.technician, bow=bow, origin="draw_board", taken_at=personas.before(10), values=values, now=personas.NOW
    )
    history = history_of(bow, personas.NOW)
    assert history is not None
    before, after = history.pictures[0].bands
    assert after.middle < before.middle and after.x == pytest.approx(before.x + before.width, abs=0.11)


def test_a_bow_without_references_says_so(client: Client, shop: Shop) -> None:
    personas.bare_bow(shop, personas.spec_sheet(shop.owner, "twin"), "L-BARE")
    assert "nothing can be drawn" in Page(client.get("/bows/L-BARE/measurements/")).text


def test_every_measurement_and_arm_has_its_entry_and_its_drawing(client: Client, shop: Shop) -> None:
    assert [how.name for how in MEASUREMENTS] == MeasurementKind.values
    assert [how.name for how in ARMS] == Arm.values
    assert {path.stem for path in FIGURES.glob("*.html")} == {how.name for how in (*MEASUREMENTS, *ARMS)}
    html = client.get("/how-to-measure/").content.decode()
    for how in (*MEASUREMENTS, *ARMS):
        assert f'id="{how.name}"' in html
    assert html.count('<svg class="figure"') == len(MEASUREMENTS) + len(ARMS)
    for used in set(re.findall(r'href="#(\w+)"', html)):
        assert f'id="{used}"' in html, used


def test_order_entry_leads_to_each_entry(client: Client, bow: Bow, shop: Shop) -> None:
    order = orders.issued(shop, bow)
    html = client.get(f"/orders/{order.number}/").content.decode()
    for row in order.frozen["measurements"]:
        assert f'href="/how-to-measure/#{row["kind"]}"' in html
