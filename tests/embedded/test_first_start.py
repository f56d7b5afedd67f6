"""The very first start, as README's first command makes it: the demo shop, and sign-ins that work."""

import http.cookiejar
import re
import time
import urllib.request
from urllib.parse import urlencode

import pytest

from service.demo.signins import SIGN_INS
from tests.machinery import wait_for

pytestmark = pytest.mark.broker


def browser_at(port: int):
    """Opens addresses of the site and keeps its cookies."""
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))

    def visit(path: str, form: dict[str, str] | None = None) -> tuple[str, str]:
        url = f"http://127.0.0.1:{port}{path}"
        body = urlencode(form).encode() if form else None
        with opener.open(urllib.request.Request(url, body, {"Referer": url}), timeout=60) as answer:
            return answer.geturl(), answer.read().decode()

    return visit


def test_demo_is_loaded_whole_even_if_killed_once_and_its_sign_ins_work(start):
    killed = start(demo=True)
    wait_for("the demo", lambda: killed.process.said("loading the demo shop"))
    time.sleep(3)
    assert "is in the book" not in killed.output, "it was over too soon: this test no longer tests"
    killed.process.popen.kill()
    killed.process.popen.wait()

    started = start(demo=True)
    started.wait_for_words("Bracebook is open at", seconds=240)
    assert "loading the demo shop" in started.output, "half a shop was taken for a book"
    assert "60 bows" in started.output
    for username, password, purpose in SIGN_INS:
        assert re.search(rf"^  {username} +{password} +{re.escape(purpose)}$", started.output, re.MULTILINE)
        visit = browser_at(started.port)
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', visit("/sign-in/")[1])
        assert token is not None
        form = {"username": username, "password": password, "csrfmiddlewaretoken": token.group(1)}
        landed, page = visit("/sign-in/", form)
        assert "/sign-in/" not in landed and "<h1" in page, username
    assert started.stop() == 0

    again = start(demo=True).wait_until_open()
    assert "loading the demo shop" not in again.output
    assert all(password in again.output for _, password, _ in SIGN_INS)
    assert again.stop() == 0
