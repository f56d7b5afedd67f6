"""Spec sheets and cord specs: what a make of bow and of cord is. The shop types or imports them."""

from django.db import models
from django.db.models import F, Q

from fleet.vocabulary import BowKind, CamSystem, Fibre, MeasurementKind, Position

ARM_FIELDS = (
    "string_arm_upper_m",
    "string_arm_lower_m",
    "take_up_arm_upper_m",
    "take_up_arm_lower_m",
    "let_out_arm_upper_m",
    "let_out_arm_lower_m",
    "hole_travel_upper_m",
    "hole_travel_lower_m",
    "mark_radius_upper_m",
    "mark_radius_lower_m",
)


def _arm() -> "models.FloatField[float | None, float | None]":
    return models.FloatField(null=True, blank=True)


class CordSpec(models.Model):
    """A make of string or cable. "Rated" is the use by which 10 % are expected to be condemned (B10)."""

    code = models.CharField(max_length=40, unique=True)
    maker = models.CharField(max_length=60, blank=True)
    position = models.CharField(max_length=14, choices=Position.choices)
    length_m = models.FloatField()
    strands = models.PositiveSmallIntegerField()
    fibre = models.CharField(max_length=16, choices=Fibre.choices)
    rated_shots = models.PositiveIntegerField()
    rated_months = models.FloatField()
    price = models.DecimalField(max_digits=9, decimal_places=2, default=0)
    lead_days = models.PositiveSmallIntegerField(default=0)
    reorder_point = models.PositiveSmallIntegerField(default=0)
    diameter_m = models.FloatField(null=True, blank=True)
    twists_per_m_min = models.FloatField(null=True, blank=True)
    twists_per_m_max = models.FloatField(null=True, blank=True)
    yoke_legs = models.PositiveSmallIntegerField(default=0)
    rated_peak_weight_n = models.FloatField(null=True, blank=True)
    hard_limit_life = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(length_m__gt=0), name="cord_spec_length_positive"),
            models.CheckConstraint(condition=Q(rated_shots__gt=0), name="cord_spec_rated_shots_positive"),
            models.CheckConstraint(condition=Q(rated_months__gt=0), name="cord_spec_rated_months_positive"),
        ]

    def __str__(self) -> str:
        return self.code


class SpecSheet(models.Model):
    """A make of bow. Arms left empty are the assumed defaults of the timing model, and every sheet says so."""

    code = models.CharField(max_length=40, unique=True)
    maker = models.CharField(max_length=60)
    model = models.CharField(max_length=60)
    bow_kind = models.CharField(max_length=8, choices=BowKind.choices)
    cam_system = models.CharField(max_length=6, choices=CamSystem.choices, blank=True)
    hands = models.CharField(
        max_length=5, choices=[("both", "both"), ("right", "right"), ("left", "left")], default="both"
    )
    draw_length_min_m = models.FloatField()
    draw_length_max_m = models.FloatField()
    draw_length_step_m = models.FloatField(null=True, blank=True)
    peak_weight_min_n = models.FloatField()
    peak_weight_max_n = models.FloatField()
    string_arm_upper_m = _arm()
    string_arm_lower_m = _arm()
    take_up_arm_upper_m = _arm()
    take_up_arm_lower_m = _arm()
    let_out_arm_upper_m = _arm()
    let_out_arm_lower_m = _arm()
    hole_travel_upper_m = _arm()
    hole_travel_lower_m = _arm()
    mark_radius_upper_m = _arm()
    mark_radius_lower_m = _arm()
    stop_kind = models.CharField(max_length=5, choices=[("limb", "limb stop"), ("cable", "cable stop")], blank=True)
    stop_kind_measured = models.BooleanField(default=False)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(bow_kind="compound") & ~Q(cam_system="")) | (~Q(bow_kind="compound") & Q(cam_system="")),
                name="spec_sheet_only_compounds_have_cams",
            ),
            models.CheckConstraint(
                condition=Q(draw_length_max_m__gte=F("draw_length_min_m")),
                name="spec_sheet_draw_range_in_order",
            ),
            models.CheckConstraint(
                condition=Q(peak_weight_max_n__gte=F("peak_weight_min_n")),
                name="spec_sheet_weight_range_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.maker} {self.model}"


class SpecSheetCord(models.Model):
    """Which cord spec a make of bow takes at a position."""

    spec_sheet = models.ForeignKey(SpecSheet, on_delete=models.CASCADE, related_name="cords")
    position = models.CharField(max_length=14, choices=Position.choices)
    cord_spec = models.ForeignKey(CordSpec, on_delete=models.PROTECT, related_name="fits")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["spec_sheet", "position"], name="spec_sheet_one_cord_per_position")
        ]


class FactoryReference(models.Model):
    """A maker's reference value (SI by the kind's dimension) with its tolerance."""

    spec_sheet = models.ForeignKey(SpecSheet, on_delete=models.CASCADE, related_name="factory_references")
    kind = models.CharField(max_length=24, choices=MeasurementKind.choices)
    position = models.CharField(max_length=14, choices=Position.choices, blank=True)
    value = models.FloatField()
    tolerance = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["spec_sheet", "kind", "position"], name="factory_reference_once"),
            models.CheckConstraint(condition=Q(tolerance__gte=0), name="factory_reference_tolerance_not_negative"),
        ]


class CoefficientSetting(models.Model):
    """One value of a wear coefficient for the house (no cord spec) or a cord spec; a newer row supersedes it.

    One that was taken back, so that the model's own value is in force again, carries who did it and why.
    """

    name = models.CharField(max_length=40)
    cord_spec = models.ForeignKey(
        CordSpec, on_delete=models.CASCADE, null=True, blank=True, related_name="coefficients"
    )
    value = models.FloatField()
    unit = models.CharField(max_length=60)
    label = models.CharField(
        max_length=16,
        choices=[(label, label) for label in ("published", "common practice", "own measurement", "assumed")],
    )
    source = models.CharField(max_length=300)
    why = models.CharField(max_length=300, blank=True)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey("fleet.Person", on_delete=models.PROTECT, related_name="+")
    superseded_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey("fleet.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_why = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["name", "cord_spec"],
                condition=Q(superseded_at=None, cord_spec__isnull=False),
                name="coefficient_current_per_spec",
            ),
            models.UniqueConstraint(
                fields=["name"],
                condition=Q(superseded_at=None, cord_spec=None),
                name="coefficient_current_for_house",
            ),
        ]
