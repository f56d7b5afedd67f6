"""Reading the form: what is missing or unreadable is named beside its field; what holds anyway asks no more."""

from typing import Any

import pytest

from fleet.models import ReferenceMeasurement
from service.turnaround.answers import Answers, read_answers
from service.turnaround.short_list import SHORT_LISTS
from service.units import Units
from tests.turnaround.typed import fine, sent

REFERENCE = ReferenceMeasurement(kind="hole_distance_lower", position="", value=0.012, tolerance=0.0016)


def read(units: Units = Units.IMPERIAL, **changes: Any) -> tuple[Answers | None, dict[str, str]]:
    return read_answers(sent(fine(**changes)), SHORT_LISTS["compound"], [REFERENCE], units)


def test_a_good_day_is_read() -> None:
    answers, problems = read()
    assert problems == {}
    assert answers is not None and (answers.hours, answers.shots, answers.parked_minutes) == (1.0, None, 0)


@pytest.mark.parametrize("name", ["use", "vehicle", "dropped", "dry_fired", "topic_cams", "topic_timing_marks"])
def test_what_is_not_answered_is_asked_for_by_name(name: str) -> None:
    answers, problems = read(**{name: None})
    assert answers is None
    assert list(problems) == [name.replace("topic_", "topic-")]
    assert "not answered yet" in next(iter(problems.values()))


def test_once_the_bow_is_held_anyway_the_rest_may_be_left_out() -> None:
    answers, problems = read(dry_fired="yes", topic_cams=None, topic_limbs=None)
    assert problems == {}
    assert answers is not None and answers.topics["cams"] == "not_looked_at"


@pytest.mark.parametrize(
    ("use", "typed", "why"),
    [
        ("shots", {"shots": "0"}, "Shots: '0' is not 1 to 5000 shots"),
        ("shots", {"shots": "4,5"}, "4.5 is not a whole number"),
        ("shots", {"shots": "many"}, "'many' is not 1 to 5000"),
        ("hours", {"hours": "900"}, "'900' is not 0.1 to 200 hours"),
        ("nan", {}, "not answered yet"),
    ],
)
def test_use_that_cannot_be_is_refused_with_its_range(use: str, typed: dict[str, str], why: str) -> None:
    answers, problems = read(use=use, **typed)
    assert answers is None
    assert why in " ".join(problems.values())


@pytest.mark.parametrize(
    ("units", "typed", "celsius"), [(Units.IMPERIAL, "95", 35.0), (Units.METRIC, "35", 35.0), (Units.METRIC, "0", 0.0)]
)
def test_the_temperature_outside_is_read_on_the_sites_scale(units: Units, typed: str, celsius: float) -> None:
    answers, problems = read(units, vehicle="yes", parked="60", outside=typed, boot="on")
    assert problems == {}
    assert answers is not None
    assert answers.outside_c == pytest.approx(celsius)
    assert (answers.parked_minutes, answers.boot, answers.shade) == (60, True, False)


def test_nobody_knows_how_hot_is_an_answer_and_an_impossible_heat_is_none() -> None:
    answers, problems = read(vehicle="yes", parked="60", outside="unknown")
    assert answers is not None and answers.outside_c is None
    answers, problems = read(vehicle="yes", parked="60", outside="300")
    assert "'300' is not -58 to 140 °F" in problems["outside"]


def test_a_quick_measurement_is_read_in_the_sites_units_beside_its_reference() -> None:
    answers, _problems = read(**{"measure-hole_distance_lower": "1/2"})
    assert answers is not None and answers.measured[0].value == pytest.approx(0.0127)
    answers, problems = read(**{"measure-hole_distance_lower": "a bit"})
    assert answers is None
    assert "Type" in problems["measure-hole_distance_lower"]
