"""The list of orders: of many days, narrowed by each of its filters, by pages, of one's own sites alone, as a file."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from openpyxl import load_workbook

from fleet import record
from fleet.models import Bow
from service.models import OrderStatus, WorkOrder
from service.order_list import ORDER_COLUMNS
from service.pages import order_list
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import NOW, Shop

TODAY = NOW.date()


def order_of(shop: Shop, bow: Bow, days_ago: int, status: str = OrderStatus.RELEASED) -> WorkOrder:
    """An order of a day; those that are over stand beside the bow's open one."""
    return WorkOrder.objects.create(
        number=f"{shop.site.code}-{bow.tag}-{days_ago}",
        site=shop.site,
        bow=bow,
        day=TODAY - timedelta(days=days_ago),
        technician=shop.technician,
        minutes=35,
        status=status,
        issued_at=NOW - timedelta(days=days_ago),
        issued_by=shop.manager,
        closed_at=NOW - timedelta(days=days_ago) if status == OrderStatus.RELEASED else None,
    )


@pytest.fixture
def made(shop: Shop, camp: Shop) -> dict[str, WorkOrder]:
    """Three orders at Larkspur Range on three days, one at the other site."""
    bow, other = (personas.bare_bow(shop, personas.spec_sheet(shop.owner), tag) for tag in ("L-1", "L-22"))
    theirs = personas.bare_bow(camp, personas.spec_sheet(shop.owner), "R-1")
    return {
        "new": order_of(shop, bow, 0, OrderStatus.ISSUED),
        "week": order_of(shop, other, 7),
        "month": order_of(shop, bow, 30, OrderStatus.CANCELLED),
        "theirs": order_of(camp, theirs, 1),
    }


def shown(client: Client, **query: str) -> list[str]:
    """The numbers on the page, in its order."""
    return [order.number for order in client.get("/orders/", query).context["orders"]]


def numbers(made: dict[str, WorkOrder], *names: str) -> list[str]:
    return [made[name].number for name in names]


def test_the_latest_day_is_first_and_other_sites_are_not_there(
    shop: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    assert shown(client) == numbers(made, "new", "week", "month")
    page = Page(client.get("/orders/"))
    assert "L-22" in page.text and "Larkspur Technician" in page.text and "R-1" not in page.text


def test_each_filter_narrows_and_they_narrow_together(
    shop: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    week = (TODAY - timedelta(days=7)).isoformat()
    assert shown(client, find="l-1") == numbers(made, "new", "month")
    assert shown(client, find=made["week"].number) == numbers(made, "week")
    assert shown(client, status="cancelled") == numbers(made, "month")
    assert shown(client, technician=shop.technician.username) == numbers(made, "new", "week", "month")
    assert shown(client, technician=shop.manager.username) == []
    assert shown(client, **{"from": week}) == numbers(made, "new", "week")
    assert shown(client, until=week) == numbers(made, "week", "month")
    assert shown(client, **{"from": week, "until": week, "find": "L-2", "status": "released"}) == numbers(made, "week")
    told = Page(client.get("/orders/", {"find": "no such bow"})).text
    assert "No order matches" in told


def test_a_filter_that_cannot_be_read_says_so_and_narrows_nothing(
    shop: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    assert "This is not a day" in Page(client.get("/orders/", {"from": "soon"})).text
    assert shown(client, **{"from": "soon"}, status="lost") == numbers(made, "new", "week", "month")


def test_of_all_of_ones_sites_and_of_no_others(
    shop: Shop, camp: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client]
) -> None:
    owner, technician = signed_in(shop.owner), signed_in(shop.technician)
    code = camp.site.code
    assert shown(owner, sites="all") == numbers(made, "new", "theirs", "week", "month")
    assert shown(owner, sites=code) == numbers(made, "theirs")
    for asked in ("all", code):
        assert shown(technician, sites=asked) == numbers(made, "new", "week", "month")
    # At the other site a counter sees no orders, nor does a list of all of one's sites bring them.
    record.put_person(
        by=shop.owner, username=shop.technician.username, display_name="T", site=camp.site, role="counter"
    )
    assert shown(technician, sites="all") == numbers(made, "new", "week", "month")


def test_somebody_who_left_is_still_found_by_their_name(
    shop: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client]
) -> None:
    record.let_go(by=shop.owner, person=shop.technician, now=NOW)
    assert shown(signed_in(shop.manager), technician=shop.technician.username) == numbers(made, "new", "week", "month")


def test_it_comes_by_pages(
    shop: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(order_list, "PER_PAGE", 2)
    client = signed_in(shop.technician)
    assert shown(client) == numbers(made, "new", "week")
    assert shown(client, page="2") == shown(client, page="99") == numbers(made, "month")
    assert "Page 1 of 2: rows 1 to 2 of 3" in Page(client.get("/orders/")).text


def test_it_is_taken_away_as_it_is_narrowed(
    shop: Shop, made: dict[str, WorkOrder], signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    text = client.get("/orders/file.csv", {"status": "released"}).content.decode()
    (row,) = csv.DictReader(io.StringIO(text))
    assert tuple(row) == ORDER_COLUMNS
    assert (row["order"], row["day"], row["bow"]) == (made["week"].number, "2026-06-24", "L-22")
    assert (row["status"], row["technician"], row["minutes"]) == ("released", "Larkspur Technician", "35")
    assert (row["issued_at"], row["started_at"]) == ("2026-06-24T09:00:00-06:00", "")
    sheet = load_workbook(io.BytesIO(client.get("/orders/file.xlsx").content)).active
    assert [line[1].value for line in sheet.iter_rows(min_row=2)] == numbers(made, "new", "week", "month")
    assert client.get("/orders/file.pdf").status_code == 404


def test_an_issued_order_is_listed_with_its_work(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    bow = orders.worn_bow(shop, "single")
    order = orders.issued(shop, bow)
    client = signed_in(shop.technician)
    assert shown(client) == [order.number]
    kinds = [need.get_kind_display() for need in order.needs.all()]
    assert kinds and all(kind in Page(client.get("/orders/")).text for kind in kinds)
