"""`manage.py queue`: a day's orders issued and on paper, once; and what is wrong with a wrong call."""

from pathlib import Path

import pytest
from pypdf import PdfReader

from service.models import WorkOrder
from tests import personas
from tests.orders.bench import worn_bow
from tests.service.commands import refused, run

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("standing_clock")]
LETTER, A4 = (612, 792), (595, 842)


@pytest.fixture
def shop(db: None) -> personas.Shop:
    shop = personas.shop()
    worn_bow(shop, "L-1")
    worn_bow(shop, "L-2")
    return shop


def queue(out: Path, *words: str) -> str:
    return run("queue", "--site", "larkspur", "--date", "2026-07-01", "--out", str(out), *words)


def text_of(out: Path) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(out).pages)


def test_the_days_orders_are_issued_and_printed(shop: personas.Shop, tmp_path: Path) -> None:
    out = tmp_path / "day.pdf"
    told = queue(out)
    orders = list(WorkOrder.objects.order_by("number"))
    assert len(orders) == 2
    assert told.startswith(f"2 orders on 2026-07-01 at Larkspur Range: {out} (")
    text = text_of(out)
    for order in orders:
        assert f"Order {order.number}" in text
        assert order.bow.tag in text
        assert (order.issued_by, order.technician) == (shop.owner, shop.technician)
    assert text.index("L-1") < text.index("L-2")


def test_printing_again_issues_nothing_and_is_the_same_paper(shop: personas.Shop, tmp_path: Path) -> None:
    first, second = tmp_path / "one.pdf", tmp_path / "two.pdf"
    queue(first)
    queue(second)
    assert WorkOrder.objects.count() == 2
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize(("words", "size"), [((), LETTER), (("--paper", "a4"), A4), (("--paper", "letter"), LETTER)])
def test_the_paper_is_the_sites_or_the_one_asked_for(
    shop: personas.Shop, tmp_path: Path, words: tuple[str, ...], size: tuple[int, int]
) -> None:
    queue(tmp_path / "day.pdf", *words)
    for page in PdfReader(tmp_path / "day.pdf").pages:
        assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_who_issues_is_named(shop: personas.Shop, tmp_path: Path) -> None:
    queue(tmp_path / "day.pdf", "--by", "larkspur-manager")
    assert {order.issued_by for order in WorkOrder.objects.all()} == {shop.manager}


def test_a_day_with_nothing_is_a_cover_that_says_so(shop: personas.Shop, tmp_path: Path) -> None:
    out = tmp_path / "sunday.pdf"
    told = run("queue", "--site", "larkspur", "--date", "2026-07-05", "--out", str(out))
    assert told.startswith("0 orders on 2026-07-05")
    assert len(PdfReader(out).pages) == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"--site": "nowhere"}, "There is no site 'nowhere'; the book has: larkspur."),
        ({"--date": "01/07/2026"}, "'01/07/2026' is not a day: give it as YYYY-MM-DD"),
        ({"--date": "2027-07-01"}, "2027-07-01 is too far ahead: the bench is planned up to 2026-09-22"),
        ({"--by": "nobody"}, "There is no person 'nobody'"),
        ({"--out": "/no/such/folder/day.pdf"}, "There is no folder /no/such/folder: make it first"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_a_wrong_call_says_what_is_right_and_issues_nothing(
    shop: personas.Shop, tmp_path: Path, words: dict[str, str], said: str
) -> None:
    given = {"--site": "larkspur", "--date": "2026-07-01", "--out": str(tmp_path / "day.pdf"), **words}
    assert said in refused("queue", *(word for pair in given.items() for word in pair))
    assert not WorkOrder.objects.exists()
