"""Arms measured on a bow: who, when, with what; a later one supersedes, a wrong one is taken back, a slip refused."""

import pytest

from fleet import record
from fleet.models import AuditEntry, Bow, BowArm, MeasuringTool
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, Shop, before


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def bow(shop: Shop) -> Bow:
    return personas.fitted_bow(shop, "binary", "L-ARM")


def measure(shop: Shop, bow: Bow, value_m: float | None, arm: str = "take_up", **changes: object) -> BowArm | None:
    given = {"end": "upper", "at": before(1), "now": NOW}
    return record.measure_arm(by=shop.technician, bow=bow, arm=arm, value_m=value_m, **{**given, **changes})


def test_it_says_who_when_and_with_which_tool(shop: Shop, bow: Bow) -> None:
    rule = MeasuringTool.objects.get(code=shop.tool_codes["rule"])
    arm = measure(shop, bow, 0.031, tool=rule)
    assert arm is not None
    assert (arm.measured_by, arm.measured_at, arm.tool, arm.value_m) == (shop.technician, before(1), rule, 0.031)
    assert AuditEntry.objects.get(verb="measure_arm").detail["changed"] == {"value_m": [None, 0.031]}


def test_a_later_measurement_supersedes_and_the_earlier_stays(shop: Shop, bow: Bow) -> None:
    measure(shop, bow, 0.031)
    measure(shop, bow, 0.032)
    assert list(bow.arms.order_by("pk").values_list("value_m", "superseded_at")) == [(0.031, NOW), (0.032, None)]
    measure(shop, bow, 0.032)
    assert bow.arms.count() == 2


def test_a_wrong_one_is_taken_back(shop: Shop, bow: Bow) -> None:
    measure(shop, bow, 0.031)
    assert measure(shop, bow, None) is None
    assert not bow.arms.filter(superseded_at=None).exists()
    assert measure(shop, bow, None) is None
    assert AuditEntry.objects.filter(verb="measure_arm").count() == 2


@pytest.mark.parametrize(
    ("arm", "value_m", "said"),
    [
        ("take_up", 0.31, r"take-up arm 0.31 m is outside 0.003 to 0.1 m: measure from the axle"),
        ("hole_travel", 0.0005, "smaller than 0.002 m per rad"),
        ("wing", 0.03, "upper wing is no arm of a binary cam bow: its arms are upper string"),
    ],
)
def test_a_slip_is_refused_with_the_range_and_the_next_step(
    shop: Shop, bow: Bow, arm: str, value_m: float, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        measure(shop, bow, value_m, arm)


def test_a_binary_let_out_arm_is_shorter_than_the_take_up_arm(shop: Shop, bow: Bow) -> None:
    measure(shop, bow, 0.031)
    with pytest.raises(Refused, match=r"upper let-out arm 0.033 m must be shorter than the take-up arm 0.031 m"):
        measure(shop, bow, 0.033, "let_out")


def test_a_bow_without_cams_has_none(shop: Shop) -> None:
    with pytest.raises(Refused, match="it has no cams"):
        measure(shop, personas.fitted_bow(shop, kind="recurve"), 0.03)


def test_a_single_cam_has_arms_at_the_lower_end_only(shop: Shop) -> None:
    with pytest.raises(Refused, match="upper string is no arm of a single cam bow"):
        measure(shop, personas.fitted_bow(shop, "single"), 0.045, "string")
