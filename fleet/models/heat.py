"""Heat: temperature readings, where a bow was, and when its cords carried no tension."""

from django.db import models
from django.db.models import F, Q

from fleet.models.bows import Bow
from fleet.models.sites import Place


class TemperatureReading(models.Model):
    """One reading of a place (degC at a UTC instant)."""

    place = models.ForeignKey(Place, on_delete=models.CASCADE, related_name="readings")
    at = models.DateTimeField()
    celsius = models.FloatField()
    source = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["place", "at"], name="reading_once_per_instant")]


class Stay(models.Model):
    """A bow at a place; no end means it is still there. Stays of one bow never overlap (migration 0002)."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="stays")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="stays")
    start = models.DateTimeField()
    end = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["place"], condition=Q(end=None), name="stay_open_by_place")]
        constraints = [
            models.UniqueConstraint(fields=["bow", "start"], name="stay_one_start"),
            models.CheckConstraint(condition=Q(end=None) | Q(end__gt=F("start")), name="stay_in_order"),
        ]


class VehicleParking(models.Model):
    """A bow left in a parked vehicle: outside temperature, or the cabin's where it was measured (degC)."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="parkings")
    start = models.DateTimeField()
    end = models.DateTimeField()
    outside_c = models.FloatField(null=True, blank=True)
    cabin_c = models.FloatField(null=True, blank=True)
    shade = models.BooleanField(default=False)
    boot = models.BooleanField(default=False)
    key = models.CharField(max_length=64, unique=True)

    class Meta:
        indexes = [models.Index(fields=["end"], name="parking_end")]
        constraints = [
            models.CheckConstraint(condition=Q(end__gt=F("start")), name="parking_in_order"),
            models.CheckConstraint(
                condition=Q(outside_c__isnull=False) | Q(cabin_c__isnull=False),
                name="parking_has_a_temperature",
            ),
        ]


class Relaxation(models.Model):
    """The bow was unstrung or relaxed in a press: its cords carried no tension, so heat does not creep them."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="relaxations")
    start = models.DateTimeField()
    end = models.DateTimeField(null=True, blank=True)
    why = models.CharField(max_length=8, choices=[("press", "in a press"), ("unstrung", "unstrung")])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["bow", "start"], name="relaxation_one_start"),
            models.CheckConstraint(condition=Q(end=None) | Q(end__gt=F("start")), name="relaxation_in_order"),
        ]
