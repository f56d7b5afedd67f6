"""Spec sheets, cord specs and coefficients: what the shop types is checked against the range of its quantity."""

import pytest
from django.db import IntegrityError, transaction

from fleet import ranges, record
from fleet.models import AuditEntry, CoefficientSetting, CordSpec, SpecSheet
from fleet.record import ReferenceValue, Refused
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, Fibre, MeasurementKind, Position
from service.timing import geometry
from service.timing import vocabulary as timing
from service.wear.coefficients import DEFAULTS
from service.wear.coefficients import Fibre as WearFibre
from tests import personas
from tests.personas import NOW, Shop


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"length_m": 60.0}, r"cord length 60 m is outside 0\.2 to 3\.5 m: check the unit and the digits"),
        ({"diameter_m": 2.5}, r"cord diameter 2\.5 m is outside 0\.001 to 0\.006 m"),
        ({"strands": 3}, r"strands 3 strands is outside 4 to 60 strands"),
        ({"strands": 18.5}, r"strands 18\.5 strands is not a whole number"),
        ({"rated_shots": 10}, r"rated shots 10 shots is outside 100 to 200000 shots"),
        ({"rated_months": 0}, r"rated months 0 months is outside 1 to 120 months"),
        ({"price": -1}, r"price -1 in the site's currency is outside 0 to 10000"),
        ({"lead_days": 400}, r"lead time 400 days is outside 0 to 365 days"),
        ({"hard_limit_life": 5.0}, r"hard limit 5 of rated life is outside 0\.1 to 3 of rated life"),
        ({"position": "sling"}, r"position 'sling' is not one of string, buss_cable"),
        ({"fibre": "cotton"}, r"fibre 'cotton' is not one of hmpe"),
        ({"twists_per_m_min": 30.0, "twists_per_m_max": 20.0}, r"twists per m run from 30 to 20: the smaller"),
        ({"maker": "x" * 61}, r"maker 'x+' of the cord spec: .*at most 60 characters \(it has 61\)"),
    ],
)
def test_cord_specs_that_cannot_be_are_refused(shop: Shop, changes: dict[str, object], text: str) -> None:
    with pytest.raises(Refused, match=text):
        personas.cord_spec(shop.owner, code="X", **{"position": "string", **changes})  # type: ignore[arg-type]
    assert not CordSpec.objects.exists()


def test_a_price_typed_and_read_back_is_the_same_price(shop: Shop) -> None:
    personas.cord_spec(shop.owner, price=12.1)
    personas.cord_spec(shop.owner, price=12.1)

    assert AuditEntry.objects.filter(verb="put_cord_spec").count() == 1


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"draw_length_min_m": 0.8, "draw_length_max_m": 0.7}, r"draw_length_min_m 0\.8 is above draw_length_max_m"),
        ({"peak_weight_max_n": 100.0}, r"peak_weight_min_n 133\.\d+ is above peak_weight_max_n 100: swap them"),
        ({"string_arm_upper_m": 45.0}, r"string arm 45 m is outside 0\.005 to 0\.15 m"),
        ({"hole_travel_lower_m": 0.5}, r"hole travel 0\.5 m per rad is outside -0\.1 to 0\.1 m per rad"),
        ({"hands": "either"}, r"hands 'either' of the spec sheet: .*not a valid choice"),
    ],
)
def test_spec_sheets_that_cannot_be_are_refused(shop: Shop, changes: dict[str, object], text: str) -> None:
    with pytest.raises(Refused, match=text):
        personas.spec_sheet(shop.owner, "twin", **changes)  # type: ignore[arg-type]
    assert not SpecSheet.objects.exists()


def test_only_compounds_have_cams(shop: Shop) -> None:
    with pytest.raises(Refused, match=r"X: bow kind 'crossbow' is not one of compound, recurve, longbow"):
        record.put_spec_sheet(by=shop.owner, code="X", bow_kind="crossbow")
    with pytest.raises(Refused, match=r"X: a compound needs its cam system, one of single, hybrid, twin, binary"):
        record.put_spec_sheet(by=shop.owner, code="X", bow_kind="compound")
    recurve = personas.spec_sheet(shop.owner, kind="recurve")
    with pytest.raises(Refused, match=r"a recurve has no cams: leave the cam system empty"):
        record.put_spec_sheet(by=shop.owner, code=recurve.code, cam_system="twin")
    with pytest.raises(IntegrityError), transaction.atomic():
        SpecSheet.objects.filter(pk=recurve.pk).update(cam_system="twin")


def test_a_sheet_takes_only_cords_of_its_own_positions(shop: Shop) -> None:
    sheet = personas.spec_sheet(shop.owner, "single")
    control = personas.cord_spec(shop.owner, "control_cable")
    with pytest.raises(Refused, match=r"a single has no control_cable: its positions are string, buss_cable"):
        record.put_spec_sheet(by=shop.owner, code=sheet.code, cords={"control_cable": control})
    with pytest.raises(Refused, match=r"cord spec QW-control_cable is a control_cable, not a buss_cable"):
        record.put_spec_sheet(by=shop.owner, code=sheet.code, cords={"buss_cable": control})


def test_a_binary_cams_let_out_is_shorter_than_its_take_up(shop: Shop) -> None:
    sheet = personas.spec_sheet(shop.owner, "binary", take_up_arm_upper_m=0.03, let_out_arm_upper_m=0.015)

    with pytest.raises(Refused, match=r"the upper let-out arm 0\.031 m must be shorter than the take-up arm 0\.03 m"):
        record.put_spec_sheet(by=shop.owner, code=sheet.code, let_out_arm_upper_m=0.031)


def test_a_factory_reference_is_changed_not_doubled(shop: Shop) -> None:
    sheet = personas.spec_sheet(shop.owner, "twin")
    rows = sheet.factory_references.count()

    record.put_spec_sheet(by=shop.owner, code=sheet.code, references=[ReferenceValue("axle_to_axle", 0.85, 0.003)])

    assert sheet.factory_references.count() == rows
    assert sheet.factory_references.get(kind="axle_to_axle").value == 0.85
    with pytest.raises(Refused, match=r"axle to axle 33 m is outside 0\.4 to 1\.9 m"):
        record.put_spec_sheet(by=shop.owner, code=sheet.code, references=[ReferenceValue("axle_to_axle", 33.0, 0.0)])


def set_exponent(shop: Shop, value: float, cord_spec: CordSpec | None = None) -> CoefficientSetting:
    return record.set_coefficient(
        by=shop.owner,
        name="load_exponent",
        value=value,
        unit="1",
        label="assumed",
        source="our own trial",
        why="the bows shot in the trial",
        at=NOW,
        cord_spec=cord_spec,
    )


def test_a_coefficient_keeps_its_history(shop: Shop) -> None:
    first = set_exponent(shop, 9.0)
    assert set_exponent(shop, 9.0) == first

    second = set_exponent(shop, 10.0)

    first.refresh_from_db()
    assert (first.superseded_at, second.superseded_at) == (NOW, None)


def test_house_and_cord_spec_have_one_current_value_each(shop: Shop) -> None:
    string = personas.cord_spec(shop.owner)
    set_exponent(shop, 9.0)
    own = set_exponent(shop, 7.0, string)

    assert CoefficientSetting.objects.filter(superseded_at=None).count() == 2
    for twin in (own, CoefficientSetting.objects.get(cord_spec=None)):
        twin.pk = None
        with pytest.raises(IntegrityError), transaction.atomic():
            twin.save(force_insert=True)


def test_a_setting_taken_back_leaves_who_did_it_and_why(shop: Shop) -> None:
    setting = set_exponent(shop, 9.0, personas.cord_spec(shop.owner))
    with pytest.raises(Refused, match="taken back without a reason"):
        record.withdraw_coefficient(by=shop.manager, setting=setting, why=" ", at=NOW)

    record.withdraw_coefficient(by=shop.manager, setting=setting, why="the scale was off", at=NOW)

    setting.refresh_from_db()
    assert (setting.superseded_at, setting.withdrawn_by, setting.withdrawn_why) == (
        NOW,
        shop.manager,
        "the scale was off",
    )
    with pytest.raises(Refused, match="not in force since"):
        record.withdraw_coefficient(by=shop.manager, setting=setting, why="again", at=NOW)


def test_a_coefficient_is_not_set_without_a_reason(shop: Shop) -> None:
    with pytest.raises(Refused, match="without a reason"):
        record.set_coefficient(
            by=shop.owner, name="creep_rate", value=0.0004, unit="m/m", label="assumed", source="x", why="", at=NOW
        )
    assert not CoefficientSetting.objects.exists()


def test_every_coefficient_of_the_model_fits_into_the_register(shop: Shop) -> None:
    for name, one in DEFAULTS.items():
        record.set_coefficient(
            by=shop.owner,
            name=name,
            value=one.value,
            unit=one.unit,
            label=str(one.label),
            source=one.source,
            why="as the model has it",
            at=NOW,
        )
    assert CoefficientSetting.objects.count() == len(DEFAULTS)


def test_the_register_speaks_the_calculations_words() -> None:
    assert {str(one) for one in Position} == {str(one) for one in timing.Position}
    assert {str(one) for one in MeasurementKind} >= {str(one) for one in timing.MeasurementKind}
    assert {str(one) for one in Fibre} == {str(one) for one in WearFibre}
    for system, positions in timing.POSITIONS_BY_CAM_SYSTEM.items():
        assert [str(one) for one in POSITIONS_BY_CAM_SYSTEM[str(system)]] == [str(one) for one in positions]


def test_every_arm_that_the_register_takes_can_be_calculated_with() -> None:
    arms = {
        geometry.ArmName.STRING: ranges.STRING_ARM,
        geometry.ArmName.TAKE_UP: ranges.TAKE_UP_ARM,
        geometry.ArmName.LET_OUT: ranges.LET_OUT_ARM,
        geometry.ArmName.MARK_RADIUS: ranges.MARK_RADIUS,
    }
    for name, allowed in arms.items():
        assert (allowed.low, allowed.high) == pytest.approx(geometry.ARM_RANGES_M[name])
    assert geometry.ARM_RANGES_M[geometry.ArmName.HOLE_TRAVEL][1] == pytest.approx(ranges.HOLE_TRAVEL.high)


def test_every_measurement_kind_has_its_range() -> None:
    assert set(ranges.MEASUREMENTS) == set(MeasurementKind)
