"""Make the README's pictures from the demo shop:  python -m tests.e2e.pictures

Loads the demo into a book of its own, serves it, and takes the due page in Chromium and one bench sheet from its PDF.
Both become small PNGs in templates/pictures, each under LARGEST_BYTES.
"""

import io
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pypdfium2
from PIL import Image
from playwright.sync_api import sync_playwright

REPOSITORY = Path(__file__).resolve().parent.parent.parent
PICTURES = REPOSITORY / "templates" / "pictures"
LARGEST_BYTES = 80_000
SHEET_DPI = 84
POINTS_PER_INCH = 72
PATIENCE_S = 60
MANAGER, TECHNICIAN = "marta", "teodor"


def main() -> None:
    """Make both pictures anew."""
    with tempfile.TemporaryDirectory(prefix="bracebook-pictures-") as folder:
        os.environ.update(
            BRACEBOOK_DATA_DIR=folder, BRACEBOOK_BROKER_URL="memory://", DJANGO_SETTINGS_MODULE="service.settings"
        )
        number, password = _demo_book()
        port = _free_port()
        server = subprocess.Popen(
            [sys.executable, "manage.py", "runserver", "--noreload", "--skip-checks", f"127.0.0.1:{port}"],
            cwd=REPOSITORY,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            _wait_for(f"http://127.0.0.1:{port}/sign-in/")
            _save(_due_page(f"http://127.0.0.1:{port}", password), "due.png", colours=128)
        finally:
            server.terminate()
            server.wait()
        _save(_sheet(number), "sheet.png", colours=12)


def _demo_book() -> tuple[str, str]:
    """A book with the demo shop and one order issued for its most worn bow: the order's number, a password."""
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    call_command("demo")
    from fleet.models import Person
    from service import decide, schedule
    from service.demo.signins import SIGN_INS
    from service.due_list import wears_in_order
    from service.orders.issue import issue_now

    now = datetime.now(UTC)
    decide.rebuild(now)
    technician = Person.objects.get(username=TECHNICIAN)
    worn = wears_in_order(technician.site).order_by("-life_used").first()
    assert technician.site is not None and worn is not None
    day = schedule.today_at(technician.site, now)
    order = issue_now(worn.fitting.bow, day=day, by=technician, now=now, technician=technician)
    return order.number, next(password for name, password, _ in SIGN_INS if name == MANAGER)


def _due_page(base: str, password: str) -> Image.Image:
    as_root = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--disable-gpu", *as_root])
        page = browser.new_page(viewport={"width": 1200, "height": 720}, color_scheme="light")
        page.goto(f"{base}/sign-in/")
        page.get_by_label("User name").fill(MANAGER)
        page.get_by_label("Password").fill(password)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_selector("#list table")
        picture = page.screenshot()
        browser.close()
    return Image.open(io.BytesIO(picture))


def _sheet(number: str) -> Image.Image:
    """The first page of an order's sheet."""
    from service.models import WorkOrder
    from service.orders.paper import sheet_of
    from service.printing.pdf import render_order

    order = WorkOrder.objects.get(number=number)
    pdf = pypdfium2.PdfDocument(
        render_order(sheet_of(order), datetime.now(ZoneInfo(order.site.time_zone)), order.site.paper)
    )
    return pdf[0].render(scale=SHEET_DPI / POINTS_PER_INCH).to_pil()


def _save(picture: Image.Image, name: str, *, colours: int) -> None:
    """A picture as a PNG of few colours; an error if it is too large for the README."""
    path = PICTURES / name
    PICTURES.mkdir(exist_ok=True)
    picture.convert("RGB").quantize(colours, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    if size > LARGEST_BYTES:
        raise ValueError(f"{name} has {size} bytes, and at most {LARGEST_BYTES} are wanted: fewer colours or pixels.")
    sys.stdout.write(f"{path.relative_to(REPOSITORY)}: {size} bytes\n")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(address: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=2):
                return
        except OSError:
            time.sleep(0.2)
    raise TimeoutError(f"{address} did not answer within {PATIENCE_S} s")


if __name__ == "__main__":
    main()
