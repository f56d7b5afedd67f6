"""Use: shots, turnaround checks and hires."""

from django.db import models
from django.db.models import F, Q

from fleet.models.bookings import Booking
from fleet.models.bows import Bow
from fleet.models.sites import Person
from fleet.vocabulary import HowKnown, Verdict


class Shots(models.Model):
    """Shots of a bow between two instants. A correction is a new row that supersedes this one."""

    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="shots")
    start = models.DateTimeField()
    end = models.DateTimeField()
    count = models.PositiveIntegerField()
    how_known = models.CharField(max_length=9, choices=HowKnown.choices)
    count_sd = models.FloatField(default=0)
    key = models.CharField(max_length=64, unique=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    superseded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["bow", "start"], condition=Q(superseded_at=None), name="shots_bow_start")]
        constraints = [models.CheckConstraint(condition=Q(end__gte=F("start")), name="shots_in_order")]


class TurnaroundCheck(models.Model):
    """The check between two guests; answers and verdict are kept as given."""

    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="turnarounds")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    answers = models.JSONField(default=dict)
    measurements = models.JSONField(default=list)
    verdict = models.CharField(max_length=12, choices=Verdict.choices)
    key = models.CharField(max_length=64, unique=True)


class Hire(models.Model):
    """A bow out with a guest, under a booking's reference; what was known at hand-out is kept."""

    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="hires")
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, null=True, blank=True, related_name="hires")
    reference = models.CharField(max_length=40)
    out_at = models.DateTimeField()
    out_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    back_at = models.DateTimeField(null=True, blank=True)
    back_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    known_at_hand_out = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["bow"], condition=Q(back_at=None), name="hire_one_open_per_bow"),
            models.CheckConstraint(condition=Q(back_at=None) | Q(back_at__gte=F("out_at")), name="hire_in_order"),
        ]
