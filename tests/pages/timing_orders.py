"""An order whose bow has every reference mark and every arm measured, and what a stretched cable makes it read."""

from fleet import record
from fleet.models import Bow, MeasuringTool
from service.models import WorkOrder
from tests import personas
from tests.pages import orders
from tests.personas import INCH_M, Shop

# Upper cable 1/4 in longer by the model worked by hand for s 45, c 30 mm (twin): x solves a + s(t_u + t_l) = 0,
# a - c t_u = 1/4 in, a - c t_l = 0 -> t_u = -(c + s) e / (c (2 s + c)), t_l = s e / (c (2 s + c)), a = c t_l.
STRETCH_M = INCH_M / 4
T_U = -(0.030 + 0.045) * STRETCH_M / (0.030 * 0.120)
T_L = 0.045 * STRETCH_M / (0.030 * 0.120)
UPPER_CABLE_LONGER = {
    "axle_to_axle": 33 * INCH_M + 0.030 * T_L,
    "hole_distance_upper": 0.012 + 0.020 * T_U,
    "hole_distance_lower": 0.012 + 0.020 * T_L,
    "timing_mark_upper": 0.0032 + 0.040 * T_U,
    "timing_mark_lower": 0.0032 + 0.040 * T_L,
}


def typed(values: dict[str, float], moment: str = "found") -> dict[str, str]:
    return {f"{moment}-{kind}": f"{value * 1000:.2f} mm" for kind, value in values.items()}


def marked_order(shop: Shop, bow: Bow) -> WorkOrder:
    sixteenth = INCH_M / 16
    marks = [
        record.ReferenceValue(f"timing_mark_{end}", 0.0032, sixteenth, tool_code=shop.tool_codes["rule"])
        for end in ("upper", "lower")
    ]
    record.record_reference_set(
        by=shop.technician,
        bow=bow,
        origin="draw_board",
        taken_at=personas.before(50),
        values=[*personas.reference_values("compound", "twin"), *marks],
        now=personas.NOW,
    )
    rule = MeasuringTool.objects.get(code=shop.tool_codes["rule"])
    for end in ("upper", "lower"):
        for arm, value_m in {"string": 0.045, "take_up": 0.03, "hole_travel": 0.02, "mark_radius": 0.04}.items():
            record.measure_arm(
                by=shop.technician,
                bow=bow,
                end=end,
                arm=arm,
                value_m=value_m,
                at=personas.NOW,
                now=personas.NOW,
                tool=rule,
            )
    return orders.issued(shop, bow)
