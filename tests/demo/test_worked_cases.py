"""One order in the demo's work per cam system and for a recurve: the cord of its story is found, and printed."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import transaction

from fleet import lookups
from fleet.vocabulary import BowState
from service import decide
from service.demo.worked_cases import WORKED_CASES, WorkedCase, put_worked_cases
from service.models import NeedKind, OrderStatus, WorkOrder
from service.orders.bench_timing import bench_timing
from service.orders.paper import sheet_of
from service.printing.pdf import render_order
from service.timing.diagnosis import Verdict
from tests.demo.loaded import loaded
from tests.printing.reading import texts, without_spaces

NOW = datetime(2026, 7, 1, 15, tzinfo=UTC)
pytestmark = pytest.mark.django_db
BY_TAG = pytest.mark.parametrize("case", WORKED_CASES, ids=lambda case: case.tag)


@pytest.fixture(scope="module")
def worked(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, WorkOrder]]:
    """The demo with its worked cases, by the bow's tag; rolled back after the module."""
    with django_db_blocker.unblock(), transaction.atomic():
        loaded(NOW)
        decide.rebuild(NOW)
        yield {order.bow.tag: order for order in put_worked_cases(NOW)}
        transaction.set_rollback(True)


def test_there_is_one_for_each_cam_system_and_a_recurve(worked: dict[str, WorkOrder]) -> None:
    sheets = [order.bow.spec_sheet for order in worked.values()]
    assert sorted(sheet.cam_system or sheet.bow_kind for sheet in sheets) == [
        "binary",
        "hybrid",
        "recurve",
        "single",
        "twin",
    ]
    assert {order.status for order in worked.values()} == {OrderStatus.IN_WORK}
    assert {lookups.state_of(order.bow) for order in worked.values()} == {BowState.ON_BENCH}


@BY_TAG
def test_the_cord_of_the_story_is_named_and_no_other(worked: dict[str, WorkOrder], case: WorkedCase) -> None:
    timing = bench_timing(worked[case.tag])
    assert timing is not None and timing.verdict is Verdict.MOVED
    assert [cord.name.replace(" ", "_") for cord in timing.cords if cord.moved] == [case.position]
    assert len(timing.twists) == 1 and "add" in timing.twists[0]
    assert timing.expected


@BY_TAG
def test_the_turns_of_a_new_cord_do_not_read_as_an_order_for_the_one_that_stays(
    worked: dict[str, WorkOrder], case: WorkedCase
) -> None:
    """The reference may have fewer turns than the cord: beside "add 21 half turns" that would say the opposite."""
    assert all(cord.start_from.startswith("if replaced: ") for cord in sheet_of(worked[case.tag]).cords)


@BY_TAG
def test_the_shares_of_a_life_add_up_as_printed(worked: dict[str, WorkOrder], case: WorkedCase) -> None:
    for cord in sheet_of(worked[case.tag]).cords:
        assert cord.life is not None
        shares = [f"{share:.2f}" for share in (cord.life.shots, cord.life.time, cord.life.heat)]
        assert f"{sum(map(float, shares)):.2f}" == f"{cord.life.total:.2f}" and "-0.00" not in shares


@BY_TAG
def test_the_twists_bring_the_readings_back(worked: dict[str, WorkOrder], case: WorkedCase) -> None:
    """What each measurement should read then is nearer to its reference than what was found, where it was off."""
    order = worked[case.tag]
    references = {row["kind"]: row["value"] for row in order.frozen["measurements"]}
    timing = bench_timing(order)
    assert timing is not None
    for line in timing.expected:
        if line.found != line.reference and not line.expected.startswith(("should", "check")):
            assert line.expected.startswith(line.reference) or "1/32" in line.expected or "1/16" in line.expected
    assert references


@BY_TAG
def test_the_sheet_prints_diagnosis_twists_and_its_own_steps(worked: dict[str, WorkOrder], case: WorkedCase) -> None:
    order = worked[case.tag]
    timing = bench_timing(order)
    assert timing is not None
    paper = without_spaces("".join(texts(render_order(sheet_of(order), NOW, order.site.paper))))
    for words in ("What the as-found readings say", *timing.says, *timing.twists, "As left", *order.frozen["steps"]):
        assert without_spaces(words) in paper, words
    assert NeedKind.TURNAROUND in {need.kind for need in order.needs.all()}
    relaxed = "stringer" if not order.bow.spec_sheet.cam_system else "press that fits"
    assert relaxed in " ".join(order.frozen["steps"])
