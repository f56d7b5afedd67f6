"""What a phone transfers for the pages between two guests, from the program that `start` runs, with nothing kept."""

import http.client
from collections.abc import Callable

from playwright.sync_api import Browser, Page

from service.demo.signins import SIGN_INS
from tests.embedded.conftest import start
from tests.embedded.running import Start

__all__ = ["start"]

MOST_BYTES = 100_000
PHONE = {"width": 390, "height": 844}
STYLES = "/static/bracebook.css"


def test_the_phone_pages_as_they_are_served_are_under_a_hundred_kilobytes(
    browser: Browser, start: Callable[..., Start]
) -> None:
    """The browser's own count of bytes on the wire: the page, its styles, scripts and pictures, with their heads."""
    served = start(demo=True, BRACEBOOK_WEB_PROCESSES="1")
    served.wait_for_words("Bracebook is open at", seconds=240)
    _static_files_go_out_compressed_and_once(served)
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, service_workers="block")
    page = context.new_page()
    base = f"http://127.0.0.1:{served.port}"
    page.goto(f"{base}/turnaround/")
    _sign_in(page)
    page.goto(f"{base}/turnaround/")
    address = page.locator("main a[href^='/turnaround/']").first.get_attribute("href")
    sizes = {one: _transferred(page, f"{base}{one}") for one in ("/turnaround/", str(address), "/next-guest/")}
    print(f"\ntransferred, bytes: {sizes}")
    context.close()
    assert {one: size for one, size in sizes.items() if size >= MOST_BYTES} == {}
    assert min(sizes.values()) > 5_000, "nothing was counted"


def _static_files_go_out_compressed_and_once(served: Start) -> None:
    first = _asked(served, {"Accept-Encoding": "gzip"})
    assert first.status == 200
    assert first.getheader("Content-Encoding") == "gzip"
    tag = {"If-None-Match": str(first.getheader("ETag")), "Accept-Encoding": "gzip"}
    assert _asked(served, tag).status == 304
    assert _asked(served, {}).getheader("Content-Encoding") is None


def _asked(served: Start, headers: dict[str, str]) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=20)
    connection.request("GET", STYLES, headers=headers)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer


def _transferred(page: Page, address: str) -> int:
    client = page.context.new_cdp_session(page)
    client.send("Network.enable")
    client.send("Network.clearBrowserCache")
    client.send("Network.setCacheDisabled", {"cacheDisabled": True})
    sizes: list[float] = []
    client.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    page.goto(address, wait_until="networkidle")
    client.detach()
    return round(sum(sizes))


def _sign_in(page: Page) -> None:
    """As whoever stands at the demo's counter."""
    name, password = next((name, password) for name, password, work in SIGN_INS if work.startswith("counter"))
    page.get_by_label("User name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state("networkidle")
