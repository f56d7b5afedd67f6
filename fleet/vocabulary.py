"""The trade's words as stored values; `service.timing.vocabulary` uses the same strings (a test holds it)."""

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy


class BowKind(TextChoices):
    """What kind of bow it is; only a compound has cams and cables."""

    COMPOUND = "compound", _("compound")
    RECURVE = "recurve", _("recurve")
    LONGBOW = "longbow", _("longbow")


class CamSystem(TextChoices):
    """How a compound's cams are slaved to each other."""

    SINGLE = "single", _("single cam")
    HYBRID = "hybrid", _("hybrid cam")
    TWIN = "twin", _("twin cam")
    BINARY = "binary", _("binary cam")


class Position(TextChoices):
    """Where a cord sits on the bow."""

    STRING = "string", _("string")
    BUSS_CABLE = "buss_cable", _("buss cable")
    CONTROL_CABLE = "control_cable", _("control cable")
    UPPER_CABLE = "upper_cable", _("upper cable")
    LOWER_CABLE = "lower_cable", _("lower cable")


POSITIONS_BY_CAM_SYSTEM: dict[str, tuple[str, ...]] = {
    "": (Position.STRING,),
    CamSystem.SINGLE: (Position.STRING, Position.BUSS_CABLE),
    CamSystem.HYBRID: (Position.STRING, Position.BUSS_CABLE, Position.CONTROL_CABLE),
    CamSystem.TWIN: (Position.STRING, Position.UPPER_CABLE, Position.LOWER_CABLE),
    CamSystem.BINARY: (Position.STRING, Position.UPPER_CABLE, Position.LOWER_CABLE),
}


class Fibre(TextChoices):
    """Fibre class of a cord; the heat weight and creep defaults hang on it."""

    HMPE = "hmpe", _("HMPE")
    HMPE_LCP = "hmpe_lcp_blend", _("HMPE/LCP blend")
    LCP = "lcp", _("LCP")
    POLYESTER = "polyester", _("polyester")


class DeviceScope(TextChoices):
    """What a device's token opens."""

    SHOTS = "shots", _("send shots")
    READINGS = "readings", _("send temperatures")
    READ = "read", _("read the due list, bows, orders and plan")


class Hand(TextChoices):
    """Which hand draws: a right-hand bow is held in the left."""

    RIGHT = "right", _("right hand")
    LEFT = "left", _("left hand")


class MeasurementKind(TextChoices):
    """A reference measurement. Lengths in m, weights in N, let-off as a share, turns as whole turns."""

    AXLE_TO_AXLE = "axle_to_axle", _("axle to axle")
    BRACE_HEIGHT = "brace_height", _("brace height")
    DRAW_LENGTH = "draw_length", _("draw length")
    PEAK_WEIGHT = "peak_weight", _("peak weight")
    HOLDING_WEIGHT = "holding_weight", _("holding weight")
    LET_OFF = "let_off", _("let-off")
    TILLER = "tiller", _("tiller")
    NOCKING_HEIGHT = "nocking_height", _("nocking height")
    CENTRE_SHOT = "centre_shot", _("centre shot")
    PEEP_HEIGHT = "peep_height", _("peep height")
    LIMB_BOLT_TURNS = "limb_bolt_turns", _("limb-bolt turns out")
    HOLE_DISTANCE_UPPER = "hole_distance_upper", _("reference hole distance, upper cam")
    HOLE_DISTANCE_LOWER = "hole_distance_lower", _("reference hole distance, lower cam")
    TIMING_MARK_UPPER = "timing_mark_upper", _("timing mark, upper cam")
    TIMING_MARK_LOWER = "timing_mark_lower", _("timing mark, lower cam")
    STOP_SYNC = "stop_sync", _("stop sync")
    TWISTS = "twists", _("twists")


class Dimension(TextChoices):
    """What a measurement kind is counted in."""

    LENGTH = "length", _("length")
    FORCE = "force", _("force")
    SHARE = "share", _("share")
    TURNS = "turns", _("turns")


_FORCES = {MeasurementKind.PEAK_WEIGHT, MeasurementKind.HOLDING_WEIGHT}
_TURNS = {MeasurementKind.LIMB_BOLT_TURNS, MeasurementKind.TWISTS}


def dimension_of(kind: str) -> Dimension:
    """The dimension in which a measurement of this kind is stored: length m, force N, share 0..1, turns."""
    if kind in _FORCES:
        return Dimension.FORCE
    if kind in _TURNS:
        return Dimension.TURNS
    return Dimension.SHARE if kind == MeasurementKind.LET_OFF else Dimension.LENGTH


class CamEnd(TextChoices):
    """Which of a compound's two axles; a single cam sits at the lower one."""

    UPPER = "upper", _("upper cam")
    LOWER = "lower", _("lower cam")


class Arm(TextChoices):
    """A length at a cam that turns its rotation into a change of cord length or of a reading."""

    STRING = "string", _("string arm")
    TAKE_UP = "take_up", _("take-up arm")
    LET_OUT = "let_out", _("let-out arm")
    HOLE_TRAVEL = "hole_travel", _("hole travel")
    MARK_RADIUS = "mark_radius", _("mark radius")


class Origin(TextChoices):
    """Where a set of reference measurements comes from."""

    MAKER = "maker", _("maker's sheet")
    DRAW_BOARD = "draw_board", _("draw board")
    AFTER_SERVICE = "after_service", _("measured after service")


class RemovalReason(TextChoices):
    """Why a cord came off; the learning needs to know a failure from a planned removal."""

    PLANNED = "planned", _("planned")
    CONDEMNED = "condemned", _("condemned")
    INCIDENT = "incident", _("incident")
    UNKNOWN = "unknown", _("unknown")


class Finding(TextChoices):
    """What a check finds on a cord that condemns it."""

    BROKEN_STRAND = "broken_strand", _("broken strand")
    SERVING_SEPARATED = "serving_separated", _("serving separated or cut through")
    GLAZED = "glazed", _("glazed or burnt")
    DEEP_FUZZ = "deep_fuzz", _("deep fuzz at a track")


class HowKnown(TextChoices):
    """How a count of shots is known, best first."""

    COUNTER = "counter", pgettext_lazy("how a count is known", "counter")
    SCORECARD = "scorecard", _("scorecard")
    ESTIMATED = "estimated", _("estimated from hours")


class IncidentKind(TextChoices):
    """What happened to a bow that holds it at once."""

    DRY_FIRE = "dry_fire", _("dry fire")
    DROP = "drop", _("drop")
    CRUSHED = "crushed", _("crushed")
    DERAILED = "derailed", _("derailed")
    CUT = "cut", _("cut")
    BENT_STOP = "bent_stop", _("bent stop")


class HoldReason(TextChoices):
    """Why a bow must not go to a guest until the bench releases it."""

    INCIDENT = "incident", _("incident")
    CONDEMNED = "condemned", _("condemned cord")
    NOTICE = "notice", _("notice")
    HEAT = "heat", _("temperature over the hold limit")
    TURNAROUND = "turnaround", _("turnaround check")
    MEASUREMENT = "measurement", _("measured out of tolerance")
    UNKNOWN_USE = "unknown_use", _("use before the book began is unknown")
    PERSON = "person", _("held by a person")


class BowState(TextChoices):
    """Where a bow stands by its events alone; never typed in."""

    READY = "ready", _("ready")
    OUT = "out", _("out")
    HELD = "held", _("held")
    ON_BENCH = "on_bench", _("on the bench")
    RETIRED = "retired", _("retired")


class TemperatureSource(TextChoices):
    """Where a place's temperature comes from."""

    LOGGER = "logger", _("logger")
    FIXED = "fixed", _("fixed value")
    PARKED_VEHICLE = "parked_vehicle", _("parked vehicle")


class Role(TextChoices):
    """What a person may do at a site, least first."""

    COUNTER = "counter", _("counter")
    TECHNICIAN = "technician", _("technician")
    MANAGER = "manager", _("manager")
    OWNER = "owner", _("owner")


class Skill(TextChoices):
    """What a person may do at the bench."""

    INSPECTION = "inspection", _("inspection")
    PRESS = "press", _("press and cords")
    TIMING = "timing", _("timing and draw board")
    LIMBS = "limbs", _("limbs, cams and axles")


class ToolKind(TextChoices):
    """A measuring tool."""

    SCALE = "scale", _("scale")
    DRAW_BOARD = "draw_board", _("draw board")
    RULE = "rule", _("rule")
    LOGGER = "logger", _("temperature logger")


class WearChoice(TextChoices):
    """How a site spreads wear when several bows fit a guest."""

    LEVEL = "level", _("level the wear: the least worn bow that fits")
    OLDEST_FIRST = "oldest_first", _("use up the most worn bow that fits first")


class MovementKind(TextChoices):
    """Why stock changed; the on-hand count is the sum of the movements."""

    RECEIVED = "received", _("received")
    USED = "used", _("used")
    COUNTED = "counted", _("counted")
    SCRAPPED = "scrapped", _("scrapped")


class Verdict(TextChoices):
    """The one answer between two guests."""

    READY = "ready", _("ready")
    CHECK_TIMING = "check_timing", _("check timing")
    HOLD = "hold", _("hold")
