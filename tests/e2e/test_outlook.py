"""The manager's outlook in a browser: a job dragged, priced before it moves, and the same by keyboard alone."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from fleet import record
from fleet.models import AuditEntry
from service import schedule
from service.models import PlannedJob
from tests import personas
from tests.e2e.test_every_page import look
from tests.e2e.walking import complaints, sign_in, tab_to
from tests.personas import Shop


@pytest.fixture
def planned(shop: Shop, computed: Callable[[], int]) -> PlannedJob:
    """A bow with work that can wait some days, and a bench that is there every day."""
    record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday=dict.fromkeys(range(7), 240))
    record.put_site(
        by=shop.owner,
        code=shop.site.code,
        name=shop.site.name,
        opening_weekdays=list(range(7)),
        labour_rate_per_hour=Decimal(30),
        rental_value_per_day=Decimal(40),
    )
    shop.site.refresh_from_db()
    bow = personas.fitted_bow(
        shop, tag="L-983", kind="recurve", days_ago=20.0, in_service_on=personas.before(20).date()
    )
    personas.shoot(shop, bow, 150, days_ago=19.0)
    computed()
    schedule.draft(shop.site, schedule.today_at(shop.site, personas.NOW), 28, personas.NOW)
    return PlannedJob.objects.get(needs__0__kind="inspection")


def test_a_job_is_dragged_and_its_price_confirmed(
    page: Page, shop: Shop, planned: PlannedJob, live_server: LiveServer
) -> None:
    heard = complaints(page)
    sign_in(page, live_server.url, shop.manager)
    page.goto(f"{live_server.url}/outlook/")
    card = page.locator(f".job[data-bow='L-983'][data-from='{planned.day}']")
    target = planned.day - timedelta(days=1)
    card.drag_to(page.locator(f"#day-{target} h4"))
    box = page.locator("#move-box")
    expect(box).to_be_visible()
    expect(box.get_by_text("more than where it stands")).to_be_visible()
    assert PlannedJob.objects.filter(day=planned.day).exists(), "nothing moves before it is confirmed"
    assert look(page, "move box") == []
    box.get_by_role("button", name="Move it there").click()
    expect(page.locator(f"#day-{target} .job[data-bow='L-983']")).to_be_visible()
    assert AuditEntry.objects.get(verb="note_job_moved").person == shop.manager
    assert heard == []


def test_the_same_by_keyboard(page: Page, shop: Shop, planned: PlannedJob, live_server: LiveServer) -> None:
    sign_in(page, live_server.url, shop.manager)
    page.goto(f"{live_server.url}/outlook/#day-{planned.day}")
    card = f".job[data-bow='L-983'][data-from='{planned.day}']"
    tab_to(page, f"{card} details > summary")
    page.keyboard.press("Enter")
    tab_to(page, f"{card} .move-link")
    page.keyboard.press("Enter")
    expect(page.locator("#move-box")).to_be_visible()
    target = planned.day - timedelta(days=1)
    page.locator("#move-day").fill(target.isoformat())
    page.locator("#move-day").press("Enter")
    button = page.locator("#move-box").get_by_role("button", name="Move it there")
    expect(button).to_be_visible()
    button.focus()
    page.keyboard.press("Enter")
    expect(page.locator(f"#day-{target} .job[data-bow='L-983']")).to_be_visible()


@pytest.mark.parametrize("size", ["page", "phone_page"])
def test_without_scripts_a_plain_form_does_it(
    size: str, request: pytest.FixtureRequest, shop: Shop, planned: PlannedJob, live_server: LiveServer
) -> None:
    page: Page = request.getfixturevalue(size)
    page.route("**/*.js", lambda route: route.abort())
    sign_in(page, live_server.url, shop.manager)
    page.goto(f"{live_server.url}/outlook/")
    card = page.locator(f".job[data-bow='L-983'][data-from='{planned.day}']")
    card.locator("summary").click()
    card.get_by_role("link", name="Move").click()
    target = planned.day - timedelta(days=2)
    page.get_by_label("To day").fill(target.isoformat())
    page.get_by_role("button", name="What would it cost?").click()
    page.get_by_role("button", name="Move it there").click()
    expect(page.locator(f"#day-{target} .job[data-bow='L-983']")).to_be_visible()
