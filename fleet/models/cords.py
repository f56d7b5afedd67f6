"""Cords as physical things with a history, and their fittings on bows."""

from django.db import models
from django.db.models import F, Q

from fleet.models.bows import Bow
from fleet.models.sites import Person
from fleet.models.specs import CordSpec
from fleet.vocabulary import Finding, Position, RemovalReason


class Cord(models.Model):
    """One string or cable. Its life follows it between bows.

    Use before the book began is `none` (new), `known` (the prior fields, each with a standard deviation) or
    `unknown`: then the bow is inspected before hire.
    """

    spec = models.ForeignKey(CordSpec, on_delete=models.PROTECT, related_name="cords")
    serial = models.CharField(max_length=40, unique=True)
    lot = models.CharField(max_length=40, blank=True)
    made_on = models.DateField(null=True, blank=True)
    prior_use = models.CharField(
        max_length=7, choices=[("none", "new"), ("known", "known"), ("unknown", "unknown")], default="none"
    )
    prior_shots = models.FloatField(default=0)
    prior_shots_sd = models.FloatField(default=0)
    prior_tension_h = models.FloatField(default=0)
    prior_heat_h = models.FloatField(default=0)
    prior_heat_h_sd = models.FloatField(default=0)
    scrapped_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["lot"], name="cord_lot")]
        constraints = [
            models.CheckConstraint(
                condition=Q(prior_shots__gte=0, prior_tension_h__gte=0, prior_heat_h__gte=0),
                name="cord_prior_use_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return self.serial


class Fitting(models.Model):
    """A cord on a bow at a position, from `fitted_at` until `removed_at`. Twists are counted in half turns."""

    cord = models.ForeignKey(Cord, on_delete=models.PROTECT, related_name="fittings")
    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="fittings")
    position = models.CharField(max_length=14, choices=Position.choices)
    fitted_at = models.DateTimeField()
    fitted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    half_twists = models.PositiveSmallIntegerField(null=True, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_why = models.CharField(max_length=9, choices=RemovalReason.choices, blank=True)
    finding = models.CharField(max_length=18, choices=Finding.choices, blank=True)

    class Meta:
        ordering = ["bow", "position", "fitted_at"]
        # What is on a bow now, and what was on it before, without reading a row: lists go through every bow's.
        # The same from a cord: a lot may be on every bow, and who traces it asks where all of it is.
        indexes = [
            models.Index(fields=["bow", "removed_at", "position", "fitted_at"], name="fitting_bow_now"),
            models.Index(fields=["cord", "removed_at", "bow"], name="fitting_cord_now"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["bow", "position"], condition=Q(removed_at=None), name="one_fitted_cord_per_position"
            ),
            models.UniqueConstraint(fields=["cord"], condition=Q(removed_at=None), name="cord_fitted_once"),
            models.CheckConstraint(
                condition=Q(removed_at=None) | Q(removed_at__gte=F("fitted_at")), name="fitting_in_order"
            ),
            models.CheckConstraint(
                condition=Q(removed_at=None, removed_why="") | (Q(removed_at__isnull=False) & ~Q(removed_why="")),
                name="fitting_removed_with_reason",
            ),
            models.CheckConstraint(
                condition=~Q(removed_why="condemned") | ~Q(finding=""), name="fitting_condemned_with_finding"
            ),
        ]


class CordReset(models.Model):
    """Twists put in or taken out of a fitted cord when timing was reset; stretch counts from the latest one."""

    fitting = models.ForeignKey(Fitting, on_delete=models.CASCADE, related_name="resets")
    at = models.DateTimeField()
    half_twists = models.PositiveSmallIntegerField(null=True, blank=True)
    order_number = models.CharField(max_length=24, blank=True)
