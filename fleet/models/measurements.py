"""Reference measurements, measuring tools and signed results."""

from django.db import models
from django.db.models import Q

from fleet.models.bows import Bow
from fleet.models.sites import Person, Site
from fleet.vocabulary import MeasurementKind, Origin, Position, ToolKind


class MeasuringTool(models.Model):
    """A scale, draw board, rule or logger. `resolution` is SI by what it reads (m, N or kelvin)."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="tools")
    code = models.CharField(max_length=30, unique=True)
    kind = models.CharField(max_length=10, choices=ToolKind.choices)
    resolution = models.FloatField(null=True, blank=True)
    calibration_due_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class ReferenceSet(models.Model):
    """One version of a bow's reference measurements; at most one is current."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="reference_sets")
    version = models.PositiveSmallIntegerField()
    origin = models.CharField(max_length=13, choices=Origin.choices)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    current = models.BooleanField(default=True)

    class Meta:
        ordering = ["bow", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["bow", "version"], name="reference_set_version_once"),
            models.UniqueConstraint(fields=["bow"], condition=Q(current=True), name="reference_set_one_current"),
        ]


class ReferenceMeasurement(models.Model):
    """One reference value of a set: SI by the kind's dimension, with a symmetric in-service tolerance."""

    reference_set = models.ForeignKey(ReferenceSet, on_delete=models.CASCADE, related_name="measurements")
    kind = models.CharField(max_length=24, choices=MeasurementKind.choices)
    position = models.CharField(max_length=14, choices=Position.choices, blank=True)
    value = models.FloatField()
    tolerance = models.FloatField()
    tool = models.ForeignKey(MeasuringTool, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["reference_set", "kind", "position"], name="reference_measurement_once"),
            models.CheckConstraint(condition=Q(tolerance__gte=0), name="reference_tolerance_not_negative"),
        ]


class SignedResult(models.Model):
    """What the bench did and measured under one work order. A fact: never dropped by a rebuild."""

    order_number = models.CharField(max_length=24, unique=True)
    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="results")
    reference_set = models.ForeignKey(ReferenceSet, on_delete=models.PROTECT, related_name="results")
    work = models.JSONField(default=list)
    cords_changed = models.JSONField(default=list)
    steps_done = models.JSONField(default=list)
    note = models.TextField(blank=True)
    signed_at = models.DateTimeField()
    performed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    released_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    released_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["bow", "signed_at", "order_number"], name="result_bow_signed")]


class ResultMeasurement(models.Model):
    """As found and as left of one measurement under a signed result (SI by the kind's dimension)."""

    result = models.ForeignKey(SignedResult, on_delete=models.CASCADE, related_name="measurements")
    kind = models.CharField(max_length=24, choices=MeasurementKind.choices)
    position = models.CharField(max_length=14, choices=Position.choices, blank=True)
    as_found = models.FloatField(null=True, blank=True)
    as_left = models.FloatField(null=True, blank=True)
    tool = models.ForeignKey(MeasuringTool, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    tool_overdue = models.BooleanField(default=False)

    class Meta:
        # Few results read the limb bolts: those teach how far a turn goes, and the page of every bow asks for them.
        indexes = [
            models.Index(fields=["result"], condition=Q(kind=MeasurementKind.LIMB_BOLT_TURNS), name="result_bolts_read")
        ]
        constraints = [models.UniqueConstraint(fields=["result", "kind", "position"], name="result_measurement_once")]
