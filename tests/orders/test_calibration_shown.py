"""Until when each tool is calibrated stands beside its measurement, on paper and on the order's page."""

from dataclasses import replace
from datetime import date

import pytest
from django.test import Client

from fleet import record
from service.orders.paper import sheet_of
from service.printing.pdf import render_order
from tests import personas
from tests.orders.bench import NOW, fresh_bow, issued
from tests.printing.reading import texts

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("due", "told"),
    [
        (date(2027, 3, 1), "larkspur-rule, calibrated until 2027-03-01"),
        (date(2026, 6, 1), "larkspur-rule is overdue for calibration since 2026-06-01"),
    ],
)
def test_beside_each_measurement(shop: personas.Shop, due: date, told: str) -> None:
    bow = fresh_bow(shop)
    given = personas.reference_values("compound", "twin", shop.tool_codes["rule"])
    values = [replace(one, tolerance=one.tolerance * 1.1) for one in given]
    record.record_reference_set(
        by=shop.technician, bow=bow, origin="draw_board", taken_at=personas.before(1), values=values, now=NOW
    )
    record.put_tool(by=shop.owner, code=shop.tool_codes["rule"], site=shop.site, kind="rule", calibration_due_on=due)
    order = issued(shop, bow)
    assert told in " ".join(" ".join(texts(render_order(sheet_of(order), NOW))).split())
    client = Client()
    client.force_login(shop.technician, backend="django.contrib.auth.backends.ModelBackend")
    page = client.get(f"/orders/{order.number}/").content.decode()
    assert told.split("larkspur-rule")[1].lstrip(", ").removeprefix("is ") in page
