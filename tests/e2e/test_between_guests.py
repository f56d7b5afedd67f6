"""Between two guests on a phone: scan, check, one answer; and that with the line cut, lost, doubled or signed out."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect
from pytest_django.live_server_helper import LiveServer

from fleet import lookups, record
from fleet.models import Bow, Hire, Hold, Incident, Shots, TurnaroundCheck
from tests import personas
from tests.e2e.walking import complaints, sign_out
from tests.personas import Shop

PHONE_SIZE = {"width": 390, "height": 844}
COMPOUND = ("limbs", "cams", "cords", "servings", "nocking_point", "rest", "timing_marks")
MOST_BYTES = 100_000


@pytest.fixture
def bow(shop: Shop, computed: Callable[[], int]) -> Bow:
    """A bow that is out with a guest, with nothing due."""
    bow = personas.fitted_bow(shop, "twin", "L-014", days_ago=20.0, in_service_on=personas.before(20).date())
    personas.shoot(shop, bow, 150, days_ago=15.0)
    for fitting in lookups.fitted(bow):
        record.reset_cord(by=shop.technician, fitting=fitting, at=personas.before(10))
    computed()
    return bow


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """A phone of its own, with touch."""
    context = browser.new_context(viewport=PHONE_SIZE, has_touch=True, is_mobile=True, device_scale_factor=2)
    yield context
    context.close()


def scan(phone: BrowserContext, live_server: LiveServer, shop: Shop, bow: Bow) -> Page:
    """Open the label's address, sign in, and wait until the phone is ready for a lost line."""
    page = sign_in_at(phone, live_server, shop, bow)
    page.evaluate("navigator.serviceWorker.ready")
    page.wait_for_function("caches.match('/no-line/').then(Boolean)")
    page.reload(wait_until="networkidle")
    for path in (f"/turnaround/{bow.tag}/", "/no-line/"):
        page.wait_for_function("path => caches.match(path).then(Boolean)", arg=path)
    return page


def sign_in_at(phone: BrowserContext, live_server: LiveServer, shop: Shop, bow: Bow) -> Page:
    """Open the label's address on a phone on which nobody is signed in, sign in, and be there."""
    page = phone.new_page()
    address = f"{live_server.url}/turnaround/{bow.tag}/"
    page.goto(address)
    page.get_by_label("User name").fill(shop.counter.username)
    page.get_by_label("Password").fill(personas.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(address)
    return page


def tap(page: Page, name: str, value: str) -> None:
    page.locator(f"label:has([name='{name}'][value='{value}'])").tap()


def all_fine(page: Page) -> None:
    """Every answer as on a good day."""
    tap(page, "use", "1")
    for name in ("vehicle", "dropped", "dry_fired"):
        tap(page, name, "no")
    for topic in COMPOUND:
        tap(page, f"topic-{topic}", "fine")


def answer(page: Page) -> None:
    page.get_by_role("button", name="Get the answer").tap()


def kept(page: Page) -> Any:
    return page.get_by_text("Kept on this phone, not sent yet")


def test_scan_check_and_hand_on(phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer) -> None:
    page = scan(phone, live_server, shop, bow)
    heard = complaints(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text("L-014")
    all_fine(page)
    answer(page)
    page.wait_for_url("**/answers/**")
    expect(page.locator("#answer")).to_contain_text("Ready")
    page.get_by_label("Walk-in's reference").fill("W-7")
    page.get_by_role("button", name="Hand out L-014").tap()
    expect(page.get_by_role("status").filter(has_text="L-014 is out as W-7")).to_be_visible()
    check, hire = TurnaroundCheck.objects.get(), Hire.objects.get()
    assert (check.verdict, check.answers["cams"]) == ("ready", "fine")
    assert hire.known_at_hand_out["last_check"]["key"] == check.key
    assert Shots.objects.get(key=f"{check.key}-shots").count == 45
    assert heard == []


def test_a_finding_holds_at_once_and_its_picture_is_only_seen_signed_in(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer, tmp_path: Any, settings: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path / "photos"
    from tests.turnaround.pictures import with_place

    page = scan(phone, live_server, shop, bow)
    all_fine(page)
    tap(page, "topic-servings", "not_fine")
    page.locator("#what-servings").select_option("serving_separated")
    page.locator("#photo-servings").set_input_files(
        {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": with_place(2400, 1800)}
    )
    expect(page.locator("#ask-topic-servings .kept-picture")).to_be_visible()
    answer(page)
    page.wait_for_url("**/answers/**")
    expect(page.locator("#answer")).to_contain_text("Hold")
    expect(page.locator("#answer")).to_contain_text("serving separated")
    picture = page.locator("img.finding")
    expect(picture).to_be_visible()
    assert picture.evaluate("one => one.complete && one.naturalWidth") == 1600
    assert lookups.state_of(bow) == "held"
    assert Hold.objects.get().reason == "condemned"
    address = live_server.url + str(picture.get_attribute("src"))
    phone.clear_cookies()
    assert "/sign-in/" in page.request.get(address).url


def test_without_a_line_the_check_is_kept_through_a_reload_and_sent_once(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    page = scan(phone, live_server, shop, bow)
    phone.set_offline(True)
    page.reload()
    expect(page.get_by_text("This page is as it was on")).to_be_visible()
    expect(page.get_by_text("Ready: it may go out")).to_be_hidden()
    tap(page, "use", "2")
    tap(page, "topic-limbs", "fine")
    page.wait_for_timeout(400)
    page.reload()
    expect(page.locator("[name='use'][value='2']")).to_be_checked()
    expect(page.locator("[name='topic-limbs'][value='fine']")).to_be_checked()
    all_fine(page)
    answer(page)
    expect(kept(page)).to_be_visible()
    expect(page.get_by_text("treat as held until answered")).to_be_visible()
    expect(page.get_by_text("Ready", exact=True)).to_be_hidden()
    page.reload()
    expect(kept(page)).to_be_visible()
    assert not TurnaroundCheck.objects.exists()
    phone.set_offline(False)
    expect(page.locator("#waiting .state.ready")).to_be_visible(timeout=30_000)
    expect(kept(page)).to_be_hidden()
    assert TurnaroundCheck.objects.get().verdict == "ready"
    assert Shots.objects.filter(key__endswith="-shots").count() == 1
    page.get_by_role("button", name="Seen").tap()
    expect(page.locator("#waiting")).to_be_hidden()


def test_a_lost_answer_is_asked_for_again_and_is_the_first_one(
    browser: Browser, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    """On a phone that allows no service worker: the sending does not hang on one."""
    phone = browser.new_context(viewport=PHONE_SIZE, has_touch=True, service_workers="block")
    page = sign_in_at(phone, live_server, shop, bow)
    lost: list[int] = []

    def lose(route: Route) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/turnaround/L-014/", lose)
    all_fine(page)
    answer(page)
    expect(page.get_by_role("button", name="Send now")).to_be_visible()
    page.wait_for_timeout(1500)
    expect(kept(page)).to_be_visible()
    assert lost == [200], "the book took it and the phone did not hear"
    expect(page.get_by_text("A check of it waits on this phone: treat it as held")).to_be_visible()
    expect(page.locator(".by-the-book")).to_be_hidden()
    expect(page.get_by_text("Ready: it may go out")).to_be_hidden()
    first = TurnaroundCheck.objects.get()
    page.get_by_role("button", name="Send now").tap()
    page.wait_for_url("**/answers/**")
    assert str(first.key) in page.url
    assert TurnaroundCheck.objects.count() == Shots.objects.filter(key__endswith="-shots").count() == 1
    phone.close()


def test_two_tabs_and_two_taps_make_one_check(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    one = scan(phone, live_server, shop, bow)
    all_fine(one)
    one.wait_for_timeout(400)
    two = phone.new_page()
    two.goto(f"{live_server.url}/turnaround/{bow.tag}/")
    expect(two.locator("[name='dropped'][value='no']")).to_be_checked()
    phone.set_offline(True)
    one.get_by_role("button", name="Get the answer").dblclick()
    expect(kept(one)).to_be_visible()
    answer(two)
    expect(two.get_by_text("already sent from another tab")).to_be_visible()
    phone.set_offline(False)
    expect(one.locator("#waiting .state.ready").or_(one.locator("#answer"))).to_be_visible(timeout=30_000)
    assert TurnaroundCheck.objects.count() == 1


def test_signed_out_when_the_line_is_back_keeps_the_check_for_its_own_person(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    page = scan(phone, live_server, shop, bow)
    phone.set_offline(True)
    tap(page, "dry_fired", "yes")
    for name in ("vehicle", "dropped"):
        tap(page, name, "no")
    tap(page, "use", "none")
    answer(page)
    expect(kept(page)).to_be_visible()
    phone.clear_cookies()
    phone.set_offline(False)
    expect(page.get_by_text("You are signed out")).to_be_visible(timeout=30_000)
    assert not TurnaroundCheck.objects.exists()
    page.goto(f"{live_server.url}/sign-in/?next=/turnaround/")
    _sign_in_here(page, shop.technician.username)
    expect(page.get_by_text("typed by somebody else wait on this phone")).to_be_visible()
    assert not TurnaroundCheck.objects.exists()
    sign_out(page)
    page.goto(f"{live_server.url}/sign-in/?next=/turnaround/")
    _sign_in_here(page, shop.counter.username)
    expect(page.locator("#waiting .state.held")).to_be_visible(timeout=30_000)
    assert (TurnaroundCheck.objects.get().by, Incident.objects.get().kind) == (shop.counter, "dry_fire")


def _sign_in_here(page: Page, username: str) -> None:
    page.get_by_label("User name").fill(username)
    page.get_by_label("Password").fill(personas.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/turnaround/")


def test_after_signing_out_no_page_is_left_on_the_phone(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    page = scan(phone, live_server, shop, bow)
    assert page.evaluate("caches.keys()") == ["bracebook-turnaround"]
    sign_out(page)
    page.wait_for_url("**/sign-in/**")
    page.wait_for_function("caches.keys().then(names => names.length === 0)")
    phone.set_offline(True)
    with pytest.raises(Exception, match="ERR_"):
        page.goto(f"{live_server.url}/turnaround/{bow.tag}/")


def test_a_bow_never_seen_here_is_treated_as_held_without_a_line(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    page = scan(phone, live_server, shop, bow)
    phone.set_offline(True)
    page.goto(f"{live_server.url}/turnaround/L-999/")
    expect(page.get_by_text("Treat it as held", exact=True)).to_be_visible()


def test_the_phone_page_is_under_a_hundred_kilobytes(
    phone: BrowserContext, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    """Measured by the browser's own count of bytes on the wire, nothing in its cache."""
    page = scan(phone, live_server, shop, bow)
    fresh = phone.new_page()
    client = phone.new_cdp_session(fresh)
    client.send("Network.enable")
    client.send("Network.setCacheDisabled", {"cacheDisabled": True})
    client.send("Network.setBypassServiceWorker", {"bypass": True})
    sizes: list[float] = []
    client.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    fresh.goto(page.url, wait_until="networkidle")
    assert len(sizes) >= 6
    print(f"phone page: {sum(sizes):.0f} bytes in {len(sizes)} answers")
    assert sum(sizes) < MOST_BYTES


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_state_of_the_phone_page_is_readable_for_everybody(
    scheme: Any, browser: Browser, shop: Shop, bow: Bow, live_server: LiveServer
) -> None:
    context = browser.new_context(viewport=PHONE_SIZE, has_touch=True, color_scheme=scheme)
    page = scan(context, live_server, shop, bow)
    tap(page, "vehicle", "yes")
    tap(page, "topic-cams", "not_fine")
    tap(page, "topic-timing_marks", "not_fine")
    page.evaluate("document.querySelectorAll('main details').forEach(one => { one.open = true; })")
    assert wrong(page) == []
    page.get_by_role("button", name="Get the answer").tap()
    expect(page.locator("#missing")).to_be_visible()
    assert wrong(page) == []
    tap(page, "parked", "60")
    tap(page, "outside", "90")
    for name in ("dropped", "dry_fired"):
        tap(page, name, "no")
    tap(page, "use", "shots")
    page.get_by_label("Shots counted").fill("30")
    context.set_offline(True)
    answer(page)
    expect(kept(page)).to_be_visible()
    assert wrong(page) == []
    context.set_offline(False)
    page.get_by_role("button", name="Send now").tap()
    page.wait_for_url("**/answers/**", timeout=30_000)
    expect(page.locator("#answer")).to_contain_text("Hold")
    assert wrong(page) == []
    page.goto(f"{live_server.url}/turnaround/")
    assert wrong(page) == []
    context.close()


def wrong(page: Page) -> list[str]:
    found = [f"{one['id']}: {one['nodes'][0]['target']}" for one in Axe().run(page).response["violations"]]
    width = page.evaluate("document.documentElement.scrollWidth")
    return [*found, f"{width} px wide"] if width > PHONE_SIZE["width"] else found
