"""Each case of the technician's order of work, from the need or incident to the printed sheet.

Common practice, no source. The sheet prints only the steps that its job needs, with that bow's numbers.
"""

import re
from typing import Any

import pytest

from fleet import record
from fleet.models import Bow
from service import decide
from service.models import WorkOrder
from service.orders.paper import sheet_of
from service.printing.pdf import render_order
from tests import personas
from tests.orders.bench import issued, worn_bow
from tests.personas import INCH_M, NOW, Shop
from tests.printing.reading import texts, without_spaces

SIXTEENTH = INCH_M / 16
MARKS = {"timing_mark_upper": 0.0032, "timing_mark_lower": 0.0048}
HOLES = {"hole_distance_upper": 0.0120, "hole_distance_lower": 0.0127}
COMMON = {"axle_to_axle": 33 * INCH_M, "draw_length": 28 * INCH_M, "stop_sync": 0.0, "peep_height": 5.5 * INCH_M}


def bow_with(shop: Shop, values: dict[str, float], cam_system: str = "twin") -> Bow:
    bow = personas.fitted_bow(shop, cam_system)
    references(shop, bow, values)
    return bow


def references(shop: Shop, bow: Bow, values: dict[str, float]) -> None:
    record.record_reference_set(
        by=shop.technician,
        bow=bow,
        origin="draw_board",
        taken_at=personas.before(60),
        values=[record.ReferenceValue(kind, value, SIXTEENTH) for kind, value in values.items()],
        now=NOW,
    )


def order_for(shop: Shop, bow: Bow, *, verdict: str = "check_timing", **incident: Any) -> WorkOrder:
    if incident:
        record.report_incident(
            by=shop.counter, bow=bow, happened_at=personas.before(hours=3), key=f"i-{bow.tag}", now=NOW, **incident
        )
    else:
        record.record_turnaround(
            by=shop.counter, bow=bow, at=personas.before(hours=3), answers={}, measurements=[], verdict=verdict, key="t"
        )
    return issued(shop, bow)


def steps(order: WorkOrder) -> str:
    """The order's steps as one text, once they are known to be on its paper word for word."""
    paper = without_spaces("".join(texts(render_order(sheet_of(order), NOW, order.site.paper))))
    for step in order.frozen["steps"]:
        assert without_spaces(step) in paper, step
    return "\n".join(order.frozen["steps"])


def places(text: str, *words: str) -> list[int]:
    for word in words:
        assert word in text, word
    return [text.index(word) for word in words]


def test_by_the_marks(shop: Shop) -> None:
    text = steps(order_for(shop, bow_with(shop, {**COMMON, **MARKS, **HOLES})))
    at = places(text, "before anything is loosened".capitalize(), "Relax the bow in a press", "Twist the cord",
                "Bring back the upper timing mark: 1/8 in, within ±1/32 in", "make both stops touch together",
                "Check draw length: 28 in", "Measure everything and write down as left")  # fmt: skip
    assert at == sorted(at)
    assert "hole distance: " not in text and "replace the set" not in text.lower() and "module setting" not in text
    assert "settle-in" not in text


def test_with_no_marks_by_the_hole_distances(shop: Shop) -> None:
    text = steps(order_for(shop, bow_with(shop, {**COMMON, **HOLES})))
    assert "Set the upper hole distance: 15/32 in, within ±1/32 in" in text
    assert "timing mark" not in text


def test_with_neither_by_draw_length_named_once(shop: Shop) -> None:
    text = steps(order_for(shop, bow_with(shop, COMMON)))
    assert "No marks and no hole distances: go by draw length: 28 in" in text
    assert text.count("draw length: 28 in") == 1


def test_a_bent_stop_is_first_set_from_the_module_setting(shop: Shop) -> None:
    text = steps(order_for(shop, bow_with(shop, {**COMMON, **MARKS}), kind="bent_stop", note="on the post"))
    at = places(text, "set the changed draw stop from the module setting for the draw length", "make both stops touch")
    assert at == sorted(at)


def test_a_bent_stop_is_not_lost_behind_a_later_incident(shop: Shop) -> None:
    bow = bow_with(shop, {**COMMON, **MARKS})
    record.report_incident(
        by=shop.counter, bow=bow, kind="bent_stop", happened_at=personas.before(hours=5), key="first", now=NOW
    )
    text = steps(order_for(shop, bow, kind="drop", note="off the rack"))
    assert "module setting" in text


def test_a_full_set_is_replaced_twisted_to_its_reference_shot_in_and_marked(shop: Shop) -> None:
    bow = worn_bow(shop)
    twists = [
        record.ReferenceValue("twists", turns, 3.0, position)
        for position, turns in {"string": 20.0, "upper_cable": 24.5, "lower_cable": 24.0}.items()
    ]
    values = [record.ReferenceValue(kind, value, SIXTEENTH) for kind, value in {**COMMON, **MARKS}.items()]
    record.record_reference_set(
        by=shop.technician,
        bow=bow,
        origin="draw_board",
        taken_at=personas.before(60),
        values=[*values, *twists],
        now=NOW,
    )
    record.put_cord_spec(by=shop.owner, code="QW-upper_cable", yoke_legs=2)
    text = steps(issued(shop, bow))
    at = places(text, "Replace the set, one cord after another", "Upper cable: put in 24 1/2 turns before it goes on",
                "the same turns in both yoke legs", "Bring back the upper timing mark",
                "Fit peep, nocking point and loop",
                "Set peep height: 5 1/2 in", "Shoot in the settle-in shots: 100 shots", "Measure everything again",
                "Mark the cams", "Measure everything and write down as left")  # fmt: skip
    assert at == sorted(at)
    assert "as the order's page finds it" not in text


def test_after_settle_in_nothing_is_taken_apart_unless_a_reading_asks_for_it(shop: Shop) -> None:
    bow = personas.fitted_bow(shop, "twin", days_ago=6.0)
    references(shop, bow, {**COMMON, **MARKS})
    personas.shoot(shop, bow, 130, days_ago=2.0)
    decide.rebuild(NOW)
    assert "settle_in" in {need.kind for need in bow.needs.all()}
    text = steps(issued(shop, bow))
    assert "Only if a reading is outside: in a press that fits the bow" in text
    assert "Mark the cams" in text
    for words in ("Relax the bow", "Replace the set", "Shoot in", "Fit "):
        assert words not in text


@pytest.mark.parametrize("kind", ["recurve", "longbow"])
def test_a_string_bow_goes_by_brace_height_under_a_stringer(shop: Shop, kind: str) -> None:
    bow = personas.fitted_bow(shop, kind=kind)
    order = order_for(shop, bow)
    text = steps(order)
    at = places(text, "Unstring the bow with a stringer", "Twist the cord", "String it with the stringer",
                "Bring back the brace height: 8 1/4 in, within ±1/16 in", "it runs over the middle of both limbs",
                "Check, at the archer's or the catalogue draw length, the peak weight: 40.0 lb, within ±1 lb",
                "as left")  # fmt: skip
    assert at == sorted(at)
    paper = " ".join(texts(render_order(sheet_of(order), NOW, "letter")))
    assert "press" not in paper.lower() and "cam" not in re.findall(r"\bcams?\b", paper.lower())


def test_a_single_cam_has_one_stop(shop: Shop) -> None:
    values = {**COMMON, "timing_mark_lower": 0.0032}
    del values["stop_sync"]
    text = steps(order_for(shop, bow_with(shop, values, "single")))
    assert "draw to the stop: it must come up firm" in text and "both stops" not in text


def test_steps_and_table_round_a_tolerance_alike_in_millimetres(db: None) -> None:
    """1/16 in in service is 1.5875 mm, half of it 0.79 mm on the bench: never shown wider than it is."""
    camp = personas.shop("ridgecamp", units="metric", paper="a4")
    order = order_for(camp, bow_with(camp, {**COMMON, **MARKS}))
    text = steps(order)
    assert "Bring back the upper timing mark: 3.2 mm, within ±0.7 mm" in text
    assert "±0.7 mm" in " ".join(texts(render_order(sheet_of(order), NOW, "a4")))
    assert "0.8 mm" not in text


def test_few_turns_say_until_the_mark_returns_and_a_full_cord_says_replace(shop: Shop) -> None:
    bow = bow_with(shop, {**COMMON, **MARKS})
    for position, half_twists in {"string": 8, "upper_cable": 40}.items():
        fitting = bow.fittings.get(position=position)
        record.reset_cord(by=shop.technician, fitting=fitting, at=NOW, half_twists=half_twists)
    record.put_cord_spec(by=shop.owner, code="QW-upper_cable", twists_per_m_min=5.0, twists_per_m_max=21.1)
    text = steps(order_for(shop, bow))
    assert "string: only 4 turns in it, twist until the mark returns" in text
    assert "upper cable: no room for more within the cord spec's range: replace, do not twist" in text
