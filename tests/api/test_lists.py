"""Lists out: what they hold, page by page, and that they say what the pages say."""

from collections.abc import Callable

import pytest

from service import decide
from service.models import CordWear, WorkOrder
from service.verdicts import verdict_of
from tests import personas
from tests.api.conftest import Device
from tests.pages import orders
from tests.personas import NOW, Shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(shop: Shop) -> WorkOrder:
    """A worn bow with its order, and a fresh one."""
    bow = orders.worn_bow(shop)
    personas.fitted_bow(shop, "single", "L-1")
    decide.rebuild(NOW)
    return orders.issued(shop, bow)


def test_due_list_has_every_cord_the_soonest_first(order: WorkOrder, device: Callable[..., Device]) -> None:
    found = device("read").get("/api/due").json()
    assert found["total"] == CordWear.objects.count() == len(found["items"])
    dates = [one["replace_on"] for one in found["items"]]
    assert dates == sorted(dates)
    for one in found["items"]:
        assert one["life_used"] == pytest.approx(one["shots"] + one["time"] + one["heat"])
    assert found["items"][0]["tag"] == order.bow.tag


def test_pages_of_a_list_make_the_whole(order: WorkOrder, device: Callable[..., Device]) -> None:
    made = device("read")
    whole = made.get("/api/due").json()["items"]
    parts = [made.get("/api/due", limit=2, offset=offset).json()["items"] for offset in range(0, len(whole), 2)]
    assert [one for part in parts for one in part] == whole


@pytest.mark.parametrize("query", [{"limit": 0}, {"limit": 201}, {"offset": -1}, {"limit": "many"}, {"colour": "red"}])
def test_a_page_that_cannot_be(shop: Shop, device: Callable[..., Device], query: dict[str, object]) -> None:
    response = device("read").get("/api/due", **query)
    assert (response.status_code, response["Content-Type"]) == (422, "application/problem+json")
    assert next(iter(query)) in response.json()["detail"]


def test_bows_carry_the_answer_of_the_page(order: WorkOrder, device: Callable[..., Device]) -> None:
    found = {one["tag"]: one for one in device("read").get("/api/bows").json()["items"]}
    for bow in (order.bow, personas.Bow.objects.get(tag="L-1")):
        verdict = verdict_of(bow, NOW)
        assert found[bow.tag]["may_go_out"] is verdict.may_go
        assert found[bow.tag]["because"] == [str(one) for one in verdict.because]
    assert found[order.bow.tag]["may_go_out"] is False


def test_one_bow_with_its_needs_and_cords(order: WorkOrder, device: Callable[..., Device]) -> None:
    found = device("read").get(f"/api/bows/{order.bow.tag}").json()
    assert {need["kind"] for need in found["needs"]} == set(order.bow.needs.values_list("kind", flat=True)) != set()
    assert len(found["cords"]) == 3


@pytest.mark.parametrize("tag", ["none", "%00", "%F0%9F%8F%B9", "L-1%27--"])
def test_a_bow_that_is_not_there(order: WorkOrder, device: Callable[..., Device], tag: str) -> None:
    response = device("read").get(f"/api/bows/{tag}")
    assert (response.status_code, response["Content-Type"]) == (404, "application/problem+json")


def test_orders_of_a_day(order: WorkOrder, device: Callable[..., Device]) -> None:
    made = device("read")
    (found,) = made.get("/api/orders", day=order.day.isoformat()).json()["items"]
    assert (found["number"], found["bow"], found["status"]) == (order.number, order.bow.tag, "issued")
    assert made.get("/api/orders", day="2020-01-01").json() == {"total": 0, "items": []}
    assert made.get("/api/orders", day="soon").status_code == 422


def test_plan_with_and_without_one(shop: Shop, device: Callable[..., Device]) -> None:
    from service import schedule

    made = device("read")
    assert made.get("/api/plan").json()["jobs"] == []
    bow = orders.worn_bow(shop)
    schedule.draft(shop.site, NOW.date(), 14, NOW)
    found = made.get("/api/plan").json()
    told = found["jobs"] or found["unplaced"]
    assert {one["bow"] for one in told} == {bow.tag}
    assert found["first_day"] == NOW.date().isoformat()
