"""What the demo's invented makers make: spec sheets and cord specs. No maker, model or number here is a real one's.

The plausible sizes are common practice, no source. Arms are given where the shop "measured" them; where they are left
out the timing model's assumed defaults stand in, and every sheet says so.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fleet import record
from fleet.models import CordSpec, Person, SpecSheet
from fleet.record import ReferenceValue
from fleet.vocabulary import MeasurementKind as Kind
from fleet.vocabulary import Position
from service.units import to_si

OSTREVANE, KELLMARROW, PINDLEWICK, THISTLEMERE = "Ostrevane", "Kellmarrow", "Pindlewick", "Thistlemere"
CORD_MAKER = "Wexlow Cordage"


def inch(value: float) -> float:
    """Inches as m."""
    return to_si(value, "in")


def pound(value: float) -> float:
    """Pounds-force as N."""
    return to_si(value, "lb")


# The house's tolerances: common practice, no source.
TOLERANCES: dict[Kind, float] = {
    Kind.AXLE_TO_AXLE: inch(1 / 8),
    Kind.BRACE_HEIGHT: inch(1 / 8),
    Kind.DRAW_LENGTH: inch(1 / 4),
    Kind.PEAK_WEIGHT: pound(2),
    Kind.HOLDING_WEIGHT: pound(2),
    Kind.LET_OFF: 0.03,
    Kind.TILLER: inch(1 / 16),
    Kind.NOCKING_HEIGHT: inch(1 / 16),
    Kind.PEEP_HEIGHT: inch(1 / 16),
    Kind.HOLE_DISTANCE_UPPER: inch(1 / 16),
    Kind.HOLE_DISTANCE_LOWER: inch(1 / 16),
    Kind.TIMING_MARK_UPPER: inch(1 / 16),
    Kind.TIMING_MARK_LOWER: inch(1 / 16),
    Kind.STOP_SYNC: inch(1 / 16),
    Kind.TWISTS: 3.0,
}


@dataclass(frozen=True)
class CordMake:
    """One cord of a make of bow; lengths in inches, twists in turns per inch, as its maker's list gives them."""

    position: Position
    length_in: float
    strands: int
    fibre: str
    price: str
    rated_shots: int = 5_000
    rated_months: float = 12.0
    lead_days: int = 14
    reorder_point: int = 2
    diameter_in: float = 0.1
    yoke_legs: int = 0
    rated_peak_weight_lb: float | None = None
    hard_limit_life: float | None = None

    def code(self, sheet_code: str) -> str:
        """The cord's code, after the make of bow that it is cut for."""
        return f"WX-{sheet_code.split('-')[1]}-{''.join(word[0] for word in self.position.split('_')).upper()}"


@dataclass(frozen=True)
class BowMake:
    """One make of bow; lengths in inches, weights in pounds, arms in mm."""

    code: str
    maker: str
    model: str
    bow_kind: str
    cam_system: str
    draw_in: tuple[float, float]
    weight_lb: tuple[float, float]
    axle_to_axle_in: float  # tip to tip along the string's nominal length for a bow without cams: not recorded
    brace_height_in: float
    cords: tuple[CordMake, ...]
    arms_mm: Mapping[str, float] = field(default_factory=dict)
    hands: str = "both"
    stop_kind: str = ""
    let_off: float = 0.0


S, BUSS, CONTROL = Position.STRING, Position.BUSS_CABLE, Position.CONTROL_CABLE
UPPER, LOWER = Position.UPPER_CABLE, Position.LOWER_CABLE

MAKES: tuple[BowMake, ...] = (
    BowMake(
        "OV-MEDLAR-31", OSTREVANE, "Medlar 31", "compound", "binary", (24, 30), (30, 55), 31.0, 6.75,
        (
            CordMake(S, 57.25, 24, "hmpe_lcp_blend", "54.00"),
            CordMake(UPPER, 35.5, 24, "hmpe_lcp_blend", "41.00"),
            CordMake(LOWER, 35.5, 24, "hmpe_lcp_blend", "41.00"),
        ),
        {
            "string_arm_upper": 47, "string_arm_lower": 47, "take_up_arm_upper": 31, "take_up_arm_lower": 31,
            "let_out_arm_upper": 14, "let_out_arm_lower": 14, "hole_travel_upper": 21, "hole_travel_lower": 21,
            "mark_radius_upper": 41, "mark_radius_lower": 41,
        },
        stop_kind="cable", let_off=0.80,
    ),
    BowMake(
        "KM-QUINCE-33", KELLMARROW, "Quince 33", "compound", "hybrid", (25, 31), (35, 60), 33.0, 7.0,
        (
            CordMake(S, 59.5, 24, "hmpe", "46.00", lead_days=10),
            CordMake(BUSS, 36.75, 26, "hmpe", "38.00", lead_days=10, yoke_legs=2),
            CordMake(CONTROL, 38.25, 26, "hmpe", "36.00", lead_days=10),
        ),
        {
            "string_arm_upper": 44, "string_arm_lower": 46, "take_up_arm_upper": 29, "take_up_arm_lower": 32,
            "let_out_arm_lower": 15, "hole_travel_upper": 19, "hole_travel_lower": 22,
        },
        stop_kind="limb", let_off=0.75,
    ),
    BowMake(
        "PW-TEASEL-32", PINDLEWICK, "Teasel 32", "compound", "single", (23, 30), (25, 50), 32.0, 7.25,
        (
            CordMake(S, 93.5, 24, "hmpe", "58.00", lead_days=21, hard_limit_life=1.1),
            CordMake(BUSS, 34.25, 26, "hmpe", "35.00", lead_days=21, yoke_legs=2, hard_limit_life=1.1),
        ),
        let_off=0.75,
    ),
    BowMake(
        "TM-YARROW-34", THISTLEMERE, "Yarrow 34", "compound", "twin", (25, 30.5), (35, 60), 34.0, 7.0,
        (
            CordMake(S, 60.25, 24, "hmpe_lcp_blend", "52.00", lead_days=18),
            CordMake(UPPER, 37.0, 24, "hmpe_lcp_blend", "40.00", lead_days=18, yoke_legs=2),
            CordMake(LOWER, 37.0, 24, "hmpe_lcp_blend", "40.00", lead_days=18, yoke_legs=2),
        ),
        {"string_arm_upper": 45, "string_arm_lower": 45, "take_up_arm_upper": 30, "take_up_arm_lower": 30},
        stop_kind="limb", let_off=0.75,
    ),
    BowMake(
        "OV-SORREL-35", OSTREVANE, "Sorrel 35", "compound", "twin", (26, 31), (45, 65), 35.0, 7.125,
        (
            CordMake(S, 61.5, 22, "lcp", "69.00", 5_000, 24.0, 21, 1, 0.09, rated_peak_weight_lb=55),
            CordMake(UPPER, 38.0, 24, "lcp", "49.00", 5_000, 24.0, 21, 1, 0.095, rated_peak_weight_lb=55),
            CordMake(LOWER, 38.0, 24, "lcp", "49.00", 5_000, 24.0, 21, 1, 0.095, rated_peak_weight_lb=55),
        ),
        stop_kind="limb", let_off=0.70,
    ),
    BowMake(
        "PW-BURDOCK-66", PINDLEWICK, "Burdock 66", "recurve", "", (22, 30), (14, 34), 66.0, 8.25,
        (CordMake(S, 63.0, 14, "polyester", "11.00", 10_000, 24.0, 7, 4, 0.09),),
    ),
    BowMake(
        "KM-COMFREY-68", KELLMARROW, "Comfrey 68", "recurve", "", (24, 31), (18, 40), 68.0, 8.5,
        (CordMake(S, 65.0, 16, "hmpe", "19.00", 8_000, 18.0, 7, 2, 0.085),),
    ),
    BowMake(
        "TM-TANSY-64", THISTLEMERE, "Tansy 64", "longbow", "", (24, 29), (25, 45), 64.0, 7.0,
        (CordMake(S, 61.0, 12, "polyester", "14.00", 10_000, 24.0, 10, 1, 0.09),),
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Make:
    """A make of bow as the book has it now."""

    plan: BowMake
    sheet: SpecSheet
    cord_specs: dict[str, CordSpec]


def put_makes(by: Person) -> dict[str, Make]:
    """Every cord spec and spec sheet into the book; by the sheet's code."""
    return {plan.code: _put_make(by, plan) for plan in MAKES}


def _put_make(by: Person, plan: BowMake) -> Make:
    cords = {str(cord.position): _put_cord_spec(by, plan, cord) for cord in plan.cords}
    arms: dict[str, Any] = {f"{name}_m": value / 1_000.0 for name, value in plan.arms_mm.items()}
    sheet = record.put_spec_sheet(
        by=by,
        code=plan.code,
        maker=plan.maker,
        model=plan.model,
        bow_kind=plan.bow_kind,
        cam_system=plan.cam_system,
        hands=plan.hands,
        draw_length_min_m=inch(plan.draw_in[0]),
        draw_length_max_m=inch(plan.draw_in[1]),
        draw_length_step_m=inch(0.5) if plan.cam_system else None,
        peak_weight_min_n=pound(plan.weight_lb[0]),
        peak_weight_max_n=pound(plan.weight_lb[1]),
        stop_kind=plan.stop_kind,
        stop_kind_measured=bool(plan.stop_kind and plan.arms_mm),
        cords=cords,
        references=factory_values(plan),
        **arms,
    )
    return Make(plan, sheet, cords)


def _put_cord_spec(by: Person, plan: BowMake, cord: CordMake) -> CordSpec:
    weight = cord.rated_peak_weight_lb
    return record.put_cord_spec(
        by=by,
        code=cord.code(plan.code),
        maker=CORD_MAKER,
        position=cord.position,
        length_m=inch(cord.length_in),
        strands=cord.strands,
        fibre=cord.fibre,
        rated_shots=cord.rated_shots,
        rated_months=cord.rated_months,
        price=cord.price,
        lead_days=cord.lead_days,
        reorder_point=cord.reorder_point,
        diameter_m=inch(cord.diameter_in),
        twists_per_m_min=1 / inch(4),
        twists_per_m_max=1 / inch(1.25),
        yoke_legs=cord.yoke_legs,
        rated_peak_weight_n=None if weight is None else pound(weight),
        hard_limit_life=cord.hard_limit_life,
    )


def factory_values(plan: BowMake) -> list[ReferenceValue]:
    """What the maker's sheet says of a bow in the middle of its ranges."""
    weight = pound(sum(plan.weight_lb) / 2)
    values = {
        Kind.BRACE_HEIGHT: inch(plan.brace_height_in),
        Kind.PEAK_WEIGHT: weight,
        Kind.NOCKING_HEIGHT: inch(3 / 16),
    }
    if plan.cam_system:
        values |= {
            Kind.AXLE_TO_AXLE: inch(plan.axle_to_axle_in),
            Kind.DRAW_LENGTH: inch(sum(plan.draw_in) / 2),
            Kind.HOLDING_WEIGHT: weight * (1 - plan.let_off),
            Kind.LET_OFF: plan.let_off,
            Kind.PEEP_HEIGHT: inch(5.5),
            Kind.HOLE_DISTANCE_LOWER: inch(7 / 16),
            Kind.TIMING_MARK_LOWER: inch(1 / 8),
        }
    else:
        values[Kind.TILLER] = inch(1 / 8)
    if plan.cam_system not in ("", "single"):
        values |= {
            Kind.HOLE_DISTANCE_UPPER: inch(7 / 16),
            Kind.TIMING_MARK_UPPER: inch(1 / 8),
            Kind.STOP_SYNC: 0.0,
        }
    return [ReferenceValue(kind, value, TOLERANCES[kind]) for kind, value in values.items()]
