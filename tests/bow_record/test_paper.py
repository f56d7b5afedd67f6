"""The whole record on paper: what stands on it, and that nothing runs off the page."""

import io

import pypdf
import pypdfium2
import pytest

from fleet import record
from fleet.models import Bow
from service import decide
from service.bow_record.contents import contents_of
from service.printing.pdf_record import render_record
from tests import personas
from tests.personas import NOW, Shop, before

RIGHT_MARGIN_PT = 28.0


@pytest.fixture
def bow(db: None) -> Bow:
    """A bow with signed work by one person, released by another, an incident and shots in two months."""
    shop: Shop = personas.shop()
    bow = personas.fitted_bow(shop, "hybrid", tag="L-1")
    personas.shoot(shop, bow, 120, days_ago=40)
    personas.shoot(shop, bow, 80, days_ago=2)
    result = record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number="LARK-0001",
        reference_set=bow.reference_sets.get(),
        work=[{"kind": "timing_check", "reason": "upper hole distance near its tolerance"}],
        readings=[record.Reading("axle_to_axle", as_found=0.80, as_left=0.79)],
        cords_changed=[],
        steps_done=[1, 2],
        at=before(hours=5),
        note="cams marked",
    )
    record.sign_release(by=shop.manager, result=result, at=before(hours=4))
    record.report_incident(
        by=shop.counter, bow=bow, kind="drop", happened_at=before(hours=1), key="d-1", now=NOW, note="off the stand"
    )
    decide.rebuild(NOW)
    return bow


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_record_tells_who_did_what_and_who_released_it(bow: Bow, paper: str) -> None:
    """The fields of 14 CFR 43.9 (a): the work, its day, who performed it, who approved the return to service."""
    content = render_record(contents_of(bow, NOW), paper)
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages).split())
    for told in (
        "L-1",
        "Order LARK-0001",
        "performed by Larkspur Technician, 2026-07-01 04:00",
        "released by Larkspur Manager, 2026-07-01 05:00",
        "upper hole distance near its tolerance",
        "31 1/2 in",
        "off the stand",
        "Shots on record: 200",
        "of rated life (estimate)",
        "may it go out: held",
    ):
        assert told in text, told


def test_nothing_runs_into_the_margin(bow: Bow) -> None:
    document = pypdfium2.PdfDocument(render_record(contents_of(bow, NOW), "letter"))
    for page in document:
        width, _height = page.get_size()
        texts = page.get_textpage()
        rightmost = max(texts.get_charbox(i)[2] for i in range(texts.count_chars()))
        assert rightmost <= width - RIGHT_MARGIN_PT + 1
    document.close()


def test_the_same_record_prints_the_same_bytes(bow: Bow) -> None:
    assert render_record(contents_of(bow, NOW)) == render_record(contents_of(bow, NOW))
