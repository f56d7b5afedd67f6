"""One answer from a check, by the house's table "May it go out?" (the house's own; common practice, no source)."""

from datetime import date
from typing import Any

import pytest

from fleet.vocabulary import BowKind, HoldReason, IncidentKind, Verdict
from service.turnaround.answers import Answers, Measured
from service.turnaround.judge import CabinHeat, Judgement, judge
from service.turnaround.short_list import SHORT_LISTS, ends_to_settle
from service.units import Units
from service.verdict import DueNeed, may_go_out
from service.verdict import Verdict as TableVerdict
from service.wear.cautions import HeatCaution

INCH_M = 0.0254
FINE = TableVerdict(True)
DAY = date(2026, 7, 1)


def answers(kind: str = "compound", **changes: Any) -> Answers:
    topics = {topic.key: "fine" for topic in SHORT_LISTS[kind]} | changes.pop("topics", {})
    given = {"shots": 40, "hours": None, "parked_minutes": 0, "outside_c": None, "shade": False, "boot": False}
    return Answers(**{**given, "dropped": False, "dry_fired": False, "found": {}, **changes}, topics=topics)


def judged(
    given: Answers,
    kind: str = "compound",
    cams: str = "twin",
    table: TableVerdict = FINE,
    heat: CabinHeat | None = None,
) -> Judgement:
    settle = ends_to_settle(kind, cams if kind == "compound" else "")
    return judge(given, SHORT_LISTS[kind], settle, heat, table, Units.IMPERIAL)


def hole(end: str, off_in: float) -> Measured:
    return Measured(f"hole_distance_{end}", "", 0.012 + off_in * INCH_M, 0.012, INCH_M / 16)


@pytest.mark.parametrize("kind", BowKind.values)
def test_everything_fine_is_ready(kind: str) -> None:
    found = judged(answers(kind), kind)
    assert (found.verdict, found.because) == (Verdict.READY, [])


@pytest.mark.parametrize(("field", "incident"), [("dropped", IncidentKind.DROP), ("dry_fired", IncidentKind.DRY_FIRE)])
def test_dropped_or_dry_fired_is_an_incident_and_a_hold(field: str, incident: IncidentKind) -> None:
    found = judged(answers(**{field: True}))
    assert (found.verdict, found.incidents) == (Verdict.HOLD, [incident])


@pytest.mark.parametrize("kind", BowKind.values)
def test_every_finding_of_the_short_list_holds(kind: str) -> None:
    for topic in SHORT_LISTS[kind]:
        if topic.timing:
            continue
        for value in [*dict(topic.found), "something_else"]:
            found = judged(answers(kind, topics={topic.key: "not_fine"}, found={topic.key: value}), kind)
            assert found.verdict == Verdict.HOLD, (topic.key, value)
            assert bool(found.incidents) != bool(found.holds)


def test_a_finding_that_condemns_a_cord_says_so() -> None:
    found = judged(answers(topics={"servings": "not_fine"}, found={"servings": "serving_separated"}))
    assert found.holds == [(HoldReason.CONDEMNED, "servings: serving separated or cut through")]


def test_a_derailed_cam_is_an_incident() -> None:
    found = judged(answers(topics={"cams": "not_fine"}, found={"cams": "derailed"}))
    assert (found.incidents, found.holds) == ([IncidentKind.DERAILED], [])


@pytest.mark.parametrize("mark", ["not_fine", "no_marks"])
def test_a_doubt_about_timing_is_settled_by_every_cam_measured_inside_and_by_nothing_less(mark: str) -> None:
    def verdict(*measured: Measured, cams: str = "twin") -> Verdict:
        return judged(answers(topics={"timing_marks": mark}, measured=measured), cams=cams).verdict

    assert verdict() == Verdict.CHECK_TIMING
    assert verdict(hole("lower", 0.01)) == Verdict.CHECK_TIMING
    assert verdict(hole("lower", 0.01), cams="single") == Verdict.READY
    assert verdict(hole("lower", 1 / 16), hole("upper", -1 / 16)) == Verdict.READY, "on the limit is inside"
    assert verdict(hole("lower", 0.01), hole("upper", 0.07)) == Verdict.CHECK_TIMING


def test_a_reading_outside_tolerance_is_told_in_numbers_although_the_marks_look_right() -> None:
    found = judged(answers(measured=(hole("upper", -0.09375),)))
    assert found.verdict == Verdict.CHECK_TIMING
    assert found.because == [
        "reference hole distance, upper cam reads 3/8 in, -3/32 in from 15/32 in, outside ±1/16 in"
    ]


def test_a_recurves_brace_height_stands_for_its_timing() -> None:
    off = {"brace_height": "not_fine"}
    inside = Measured("brace_height", "", 8.3 * INCH_M, 8.25 * INCH_M, INCH_M / 8)
    assert judged(answers("recurve", topics=off), "recurve").verdict == Verdict.CHECK_TIMING
    assert judged(answers("recurve", topics=off, measured=(inside,)), "recurve").verdict == Verdict.READY


@pytest.mark.parametrize(
    ("caution", "verdict"),
    [
        (HeatCaution.NONE, Verdict.READY),
        (HeatCaution.NOTICE, Verdict.READY),
        (HeatCaution.INSPECT, Verdict.HOLD),
        (HeatCaution.HOLD, Verdict.HOLD),
    ],
)
def test_heat_that_wants_an_inspection_before_the_next_hire_holds(caution: HeatCaution, verdict: Verdict) -> None:
    given = answers(parked_minutes=120, outside_c=45.0)
    assert judged(given, heat=CabinHeat(caution, "hot")).verdict == verdict


def test_a_hot_vehicle_of_which_nobody_knows_how_hot_holds() -> None:
    found = judged(answers(parked_minutes=30))
    assert found.verdict == Verdict.HOLD
    assert found.holds[0][0] == HoldReason.HEAT


@pytest.mark.parametrize("state", ["held", "on_bench", "retired"])
def test_what_the_book_holds_stays_held_however_well_the_check_went(state: str) -> None:
    found = judged(answers(), table=may_go_out(state, [], DAY, 7, False))
    assert found.verdict == Verdict.HOLD
    assert (found.holds, found.incidents, found.off_time) == ([], [], []), "nothing new holds it"


def test_a_replacement_past_its_date_holds_and_a_timing_check_in_its_grace_warns() -> None:
    past = DueNeed("replacement", date(2026, 6, 1), date(2026, 6, 1), "string at 1.02 of rated life")
    assert judged(answers(), table=may_go_out("out", [past], DAY, 7, False)).verdict == Verdict.HOLD
    grace = DueNeed("timing_check", date(2026, 6, 28), None, "axle to axle leaves 1/8 in")
    found = judged(answers(), table=may_go_out("out", [grace], DAY, 7, False))
    assert found.verdict == Verdict.READY
    assert "timing check was due on 2026-06-28" in found.because[0]


def test_what_was_not_looked_at_is_told() -> None:
    found = judged(answers(dry_fired=True, topics={"cams": "not_looked_at"}))
    assert found.because == ["dry fire", "cams: not looked at"]
