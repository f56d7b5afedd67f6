"""The day's queue: planned, issued, printed; days that are none."""

from collections.abc import Callable
from io import BytesIO

import pypdf
import pytest
import time_machine
from django.test import Client

from fleet.models import Bow
from service import decide
from service.models import WorkOrder
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


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
