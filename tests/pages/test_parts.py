"""The parts pages: movements and supplier orders entered, refused, received and cancelled; the list to order."""

from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client

from fleet import lookups
from fleet.models import CordSpec, StockMovement, SupplierOrder
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import Shop

MOVED = {"movement-cord_spec": "QW-string", "movement-kind": "received", "movement-quantity": "4",
         "movement-at": "2026-06-30T10:00", "movement-order_number": "D-1", "movement-key": "k1"}  # fmt: skip
ORDERED = {"order-reference": "PO-9", "order-cord_spec": "QW-string", "order-quantity": "6",
           "order-ordered_on": "2026-07-01", "order-expected_on": "2026-07-11"}  # fmt: skip


@pytest.fixture
def client(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    """The manager, with a worn bow in the shop."""
    orders.worn_bow(shop)
    return signed_in(shop.manager)


def post(client: Client, address: str, data: dict[str, str], **changes: str) -> HttpResponse:
    return client.post(address, {**data, **changes}, follow=True)


def test_a_movement_is_entered_once_however_often_it_is_sent(client: Client, shop: Shop) -> None:
    for _ in range(2):
        assert "the movement is in the book" in Page(post(client, "/parts/movements/", MOVED)).text
    assert lookups.on_hand(shop.site, CordSpec.objects.get(code="QW-string")) == 4
    moved = StockMovement.objects.get()
    # 10:00 in Denver in summer.
    assert (moved.by, moved.order_number, moved.at.isoformat()) == (shop.manager, "D-1", "2026-06-30T16:00:00+00:00")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"movement-kind": "used"}, "4 used on 2026-06-30, but only 0 are on the shelf"),
        ({"movement-quantity": "0"}, "quantity 0 cords is outside 1 to 100000 cords"),
        ({"movement-quantity": "-2"}, "greater than or equal to 0"),
        ({"movement-at": "2026-07-09T10:00"}, "lies in the future"),
        ({"movement-cord_spec": "none"}, "Select a valid choice"),
    ],
)
def test_a_movement_that_cannot_be_is_said_on_the_page(client: Client, changes: dict[str, str], said: str) -> None:
    response = post(client, "/parts/movements/", MOVED, **changes)
    assert response.status_code == 422
    assert said in Page(response).text
    assert Page(response).value("movement-order_number") == "D-1"
    assert not StockMovement.objects.exists()


def test_an_order_is_noted_received_and_then_on_the_shelf(client: Client, shop: Shop) -> None:
    post(client, "/parts/orders/", ORDERED)
    order = SupplierOrder.objects.get()
    assert "PO-9" in Page(client.get("/parts/")).text
    assert "PO-9 is on the shelf" in Page(client.post(f"/parts/orders/{order.pk}/receive/", follow=True)).text
    assert "already received" in Page(client.post(f"/parts/orders/{order.pk}/receive/", follow=True)).text
    assert lookups.on_hand(shop.site, order.cord_spec) == 6


def test_an_order_is_cancelled_with_a_reason_alone(client: Client) -> None:
    post(client, "/parts/orders/", ORDERED)
    order = SupplierOrder.objects.get()
    assert "Say in a few words why" in Page(client.post(f"/parts/orders/{order.pk}/cancel/", follow=True)).text
    client.post(f"/parts/orders/{order.pk}/cancel/", {"why": "out of make"})
    order.refresh_from_db()
    assert order.cancelled_at is not None


def test_another_sites_order_is_neither_changed_nor_received(
    client: Client, shop: Shop, camp: Shop, signed_in: Callable[..., Client]
) -> None:
    post(client, "/parts/orders/", ORDERED)
    order = SupplierOrder.objects.get()
    other = signed_in(camp.manager)
    assert other.post(f"/parts/orders/{order.pk}/receive/").status_code == 404
    assert other.post(f"/parts/orders/{order.pk}/cancel/", {"why": "x"}).status_code == 404
    assert "another site's order" in Page(post(other, "/parts/orders/", ORDERED, **{"order-quantity": "1"})).text
    order.refresh_from_db()
    assert (order.quantity, order.site) == (6, shop.site)


def test_expected_before_ordered_is_refused_on_the_page(client: Client) -> None:
    response = post(client, "/parts/orders/", ORDERED, **{"order-expected_on": "2026-06-01"})
    assert response.status_code == 422
    assert "swap the days" in Page(response).text


def test_what_is_to_be_ordered_as_page_csv_and_pdf(client: Client) -> None:
    page = Page(client.get("/parts/reorder/")).text
    assert "QW-string" in page and "order today: late" in page
    table = client.get("/parts/reorder.csv")
    assert table["Content-Disposition"] == 'attachment; filename="reorder-larkspur-2026-07-01.csv"'
    assert "QW-string" in table.content.decode()
    assert client.get("/parts/reorder.pdf").content.startswith(b"%PDF")


def test_one_cord_shows_its_days_and_movements(client: Client) -> None:
    post(client, "/parts/movements/", MOVED)
    page = Page(client.get("/parts/of/QW-string/")).text
    assert "received" in page and "+ 4" in page.replace("+4", "+ 4")
    assert client.get("/parts/of/none/").status_code == 404


def test_a_technician_cannot_order(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.fitted_bow(shop)
    technician = signed_in(shop.technician)
    assert "Note a supplier order" not in Page(technician.get("/parts/")).text
    assert post(technician, "/parts/orders/", ORDERED).status_code == 403


def test_the_list_is_kept_narrowed_and_taken_away_as_it_stands(client: Client) -> None:
    client.post("/views/save/", {"list": "parts", "name": "Low", "query": "show=low"})
    page = Page(client.get("/parts/?show=low")).text
    assert "Low" in page and "Hold every bow" not in page
    whole = client.get("/parts/file.csv").content.decode()
    assert whole.startswith("cord_spec,maker,position,on_the_shelf")
    low = client.get("/parts/file.csv?show=low").content.decode()
    codes = {line.spec.code for line in client.get("/parts/?show=low").context["lines"]}
    assert {row.split(",")[0] for row in low.splitlines()[1:]} == codes
    assert len(whole.splitlines()) - 1 == len(client.get("/parts/").context["lines"])
    assert client.get("/parts/file.xlsx")["Content-Type"].startswith("application/vnd.openxml")
    assert client.get("/parts/file.doc").status_code == 404
