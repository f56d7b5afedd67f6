"""Which arm counts: measured on the bow before the spec sheet's before the assumed one, and what rests on which."""

import pytest

from fleet import record
from fleet.models import Bow
from service import decide
from service.bow_geometry import arms_in_use, geometry_of, geometry_of_bow
from service.timing.geometry import DEFAULT_ARMS_M, ArmName, BowGeometry, Provenance
from tests import personas
from tests.personas import NOW, Shop


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


def measure(shop: Shop, bow: Bow, end: str, arm: str, value_m: float) -> None:
    record.measure_arm(by=shop.technician, bow=bow, end=end, arm=arm, value_m=value_m, at=NOW, now=NOW)


def test_own_before_sheet_before_assumed(shop: Shop) -> None:
    bow = personas.fitted_bow(shop, "twin")
    record.put_spec_sheet(by=shop.owner, code=bow.spec_sheet.code, string_arm_upper_m=0.047, string_arm_lower_m=0.047)
    bow.spec_sheet.refresh_from_db()
    measure(shop, bow, "upper", "string", 0.044)
    geometry = geometry_of_bow(bow)
    assert isinstance(geometry, BowGeometry) and geometry.upper is not None
    assert (geometry.upper.string.value, geometry.upper.string.provenance) == (0.044, Provenance.MEASURED)
    assert geometry.lower.string.value == 0.047
    assert geometry.lower.take_up.value == DEFAULT_ARMS_M[ArmName.TAKE_UP]
    assert "lower.take_up" in geometry.assumed_names() and "upper.string" not in geometry.assumed_names()
    assert geometry_of(bow.spec_sheet) != geometry

    told = {(one.end, one.arm): one for one in arms_in_use(bow)}
    assert told["upper", "string"].own is not None
    assert (told["lower", "string"].own, told["lower", "string"].assumed) == (None, False)
    assert told["lower", "take_up"].assumed


def test_the_predicted_drift_follows_the_measured_arm(shop: Shop) -> None:
    """A longer take-up arm turns less for the same stretch, so the hole moves less."""
    near, far = (personas.fitted_bow(shop, "twin", tag) for tag in ("L-A1", "L-A2"))
    for arm in ("take_up", "string"):
        for end in ("upper", "lower"):
            measure(shop, far, end, arm, 0.09)
    for bow in (near, far):
        personas.shoot(shop, bow, 500, days_ago=20)
    decide.rebuild(NOW)
    moved = {bow.tag: abs(bow.drifts.get(kind="hole_distance_upper").change_m) for bow in (near, far)}
    assert 0 < moved["L-A2"] < moved["L-A1"]


@pytest.mark.parametrize(("arm", "value_m"), [("take_up", 0.012), ("let_out", 0.04)])
def test_a_measured_arm_of_a_binary_cam_never_contradicts_an_assumed_one(shop: Shop, arm: str, value_m: float) -> None:
    bow = personas.fitted_bow(shop, "binary")
    measure(shop, bow, "upper", arm, value_m)
    geometry = geometry_of_bow(bow)
    assert isinstance(geometry, BowGeometry) and geometry.upper is not None
    assert geometry.upper.let_out.value == pytest.approx(geometry.upper.take_up.value / 2)
