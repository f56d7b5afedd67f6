"""The day's queue: planned, issued, printed; days that are none."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from io import BytesIO

import pypdf
import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client

from fleet.models import Bow
from service import decide
from service.models import NeedKind, Plan, WorkOrder
from service.orders.issue import issue_now
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop

TODAY = date(2026, 7, 1)


@pytest.fixture
def overdue(shop: Shop) -> Bow:
    """A bow whose inspection is past."""
    bow = personas.fitted_bow(shop, "single", "L-930")
    decide.rebuild(personas.NOW)
    return bow


def test_the_day_shows_what_is_planned_and_issues_it(
    overdue: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    planned = client.get("/queue/").context["bench"]
    assert [job.bow.tag for job in planned.planned] == ["L-930"]
    assert planned.orders == []
    issued = client.post("/queue/issue/", {"day": "2026-07-01"}, follow=True)
    assert "1 order is issued for this day." in Page(issued).text
    assert [order.bow.tag for order in issued.context["bench"].orders] == ["L-930"]
    assert issued.context["bench"].planned == []


def test_needs_without_a_day_are_named_up_to_a_number_and_the_rest_counted(
    overdue: Bow, shop: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.orders.day.UNPLACED_SHOWN", 2)
    client = signed_in(shop.owner)
    client.get("/queue/")
    plan = Plan.objects.get()
    for ahead in (9, 3, 5):
        due = TODAY + timedelta(days=ahead)
        plan.unplaced.create(bow=overdue, kind=NeedKind.INSPECTION, due_on=due, limit=f"in {ahead} days")
    page = Page(client.get("/queue/"))
    assert "in 3 days" in page.text and "in 5 days" in page.text and "in 9 days" not in page.text
    assert "And 1 more, due later" in page.text


def test_issuing_twice_makes_no_second_order(overdue: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.technician)
    for _ in range(2):
        client.post("/queue/issue/", {"day": "2026-07-01"})
    assert WorkOrder.objects.count() == 1


def test_the_queue_prints_in_order_on_the_sites_paper(
    overdue: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    client.post("/queue/issue/", {"day": "2026-07-01"})
    response = client.get("/queue/paper.pdf", {"day": "2026-07-01"})
    assert response["Content-Type"] == "application/pdf"
    pdf = pypdf.PdfReader(BytesIO(response.content))
    assert [float(side) for side in pdf.pages[0].mediabox[2:]] == [612, 792]  # US Letter, ANSI Y14.1, in points
    assert "L-930" in pdf.pages[0].extract_text()
    a4 = pypdf.PdfReader(BytesIO(client.get("/queue/paper.pdf", {"day": "2026-07-01", "paper": "a4"}).content))
    assert [round(float(side)) for side in a4.pages[0].mediabox[2:]] == [595, 842]  # A4, ISO 216, in points


def test_an_empty_day_prints_nothing_and_says_so(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.technician)
    assert "Nothing is planned or issued" in Page(client.get("/queue/")).text
    assert "Nothing to print" in Page(client.get("/queue/paper.pdf", follow=True)).text


def test_today_is_the_sites_today(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    """At 23:30 UTC on 1 July it is already 2 July in Zurich and still 1 July in Denver."""
    with time_machine.travel(personas.NOW.replace(hour=23, minute=30)):
        assert "July 1, 2026" in Page(signed_in(shop.technician).get("/queue/")).text
        assert "July 2, 2026" in Page(signed_in(camp.technician).get("/queue/")).text


@pytest.mark.parametrize(
    ("day", "said"), [("tomorrow", "YYYY-MM-DD"), ("2026-02-30", "YYYY-MM-DD"), ("1999-01-01", "year away")]
)
def test_a_day_that_is_none_is_named(day: str, said: str, shop: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(shop.technician).get("/queue/", {"day": day})
    assert response.status_code == 404
    assert said in Page(response).text
    assert day in Page(response).text


def test_a_day_gone_by_shows_its_orders_and_plans_nothing(
    overdue: Bow, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    bench = signed_in(shop.technician).get("/queue/", {"day": "2026-06-24"}).context["bench"]
    assert (bench.orders, bench.planned, bench.unplaced) == ([], [], [])


@pytest.fixture
def three_orders(shop: Shop) -> list[WorkOrder]:
    """Orders of one day: two of the shop's technician, one of a colleague whose name comes first."""
    other = personas.person(shop.owner, shop.site, "technician", "anselm")
    orders = []
    for tag, who in (("L-931", shop.technician), ("L-932", other), ("L-933", shop.technician)):
        bow = personas.fitted_bow(shop, "single", tag)
        orders.append(issue_now(bow, day=TODAY, by=shop.manager, now=personas.NOW, technician=who))
    return orders


def sheets_of(response: HttpResponse) -> list[str]:
    """The tags on the sheets of a printed queue, in the order of its pages."""
    assert response["Content-Type"] == "application/pdf"
    pages = [page.extract_text() for page in pypdf.PdfReader(BytesIO(response.content)).pages]
    found = [re.search(r"L-93\d", text) for text in pages[1:]]
    return list(dict.fromkeys(match[0] for match in found if match))


def test_all_or_the_ticked_or_one_technicians_orders_are_printed_in_the_order_of_work(
    three_orders: list[WorkOrder], shop: Shop, signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.technician)
    first, _second, third = (order.number for order in three_orders)
    assert sheets_of(client.get("/queue/paper.pdf")) == ["L-932", "L-931", "L-933"]
    ticked = client.get("/queue/paper.pdf", {"chosen": "1", "order": [third, first]})
    assert sheets_of(ticked) == ["L-931", "L-933"]
    cover = pypdf.PdfReader(BytesIO(ticked.content)).pages[0].extract_text()
    assert "L-931" in cover and "L-932" not in cover
    assert sheets_of(client.get("/queue/paper.pdf", {"technician": "anselm"})) == ["L-932"]
    for nothing in ({"chosen": "1"}, {"chosen": "1", "order": "X-1"}, {"technician": "nobody"}):
        assert "tick the orders" in Page(client.get("/queue/paper.pdf", nothing, follow=True)).text
    page = client.get("/queue/").content.decode()
    assert "Print those of Anselm" in page and f'value="{third}"' in page


def test_another_sites_orders_are_never_on_the_paper(
    three_orders: list[WorkOrder], camp: Shop, signed_in: Callable[..., Client]
) -> None:
    numbers = [order.number for order in three_orders]
    response = signed_in(camp.technician).get("/queue/paper.pdf", {"chosen": "1", "order": numbers}, follow=True)
    assert "Nothing to print" in Page(response).text


def test_one_button_issues_and_prints(overdue: Bow, shop: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(shop.technician).post("/queue/issue/", {"day": "2026-07-01", "print": "1"}, follow=True)
    assert response["Content-Type"] == "application/pdf"
    assert WorkOrder.objects.get().bow == overdue
