"""Use: shots, turnaround checks and hires."""

from django.db import models
from django.db.models import F, Q

from fleet.models.bookings import Booking
from fleet.models.bows import Bow
from fleet.models.sites import Person
from fleet.vocabulary import HowKnown, Verdict
from service.said_fields import SaidJSONField


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
        # With the count, so that the shots of a period are added up without reading an entry.
        indexes = [
            models.Index(
                fields=["bow", "start", "count"], condition=Q(superseded_at=None), name="shots_bow_start_count"
            )
        ]
        constraints = [models.CheckConstraint(condition=Q(end__gte=F("start")), name="shots_in_order")]


class TurnaroundCheck(models.Model):
    """The check between two guests; answers and verdict are kept as given, `because` as it was told then.

    `at` is when it was answered by the bow, which may be long before a phone without a line could send it.
    """

    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="turnarounds")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    answers = models.JSONField(default=dict)
    measurements = models.JSONField(default=list)
    verdict = models.CharField(max_length=12, choices=Verdict.choices)
    because = SaidJSONField(default=list)
    key = models.CharField(max_length=64, unique=True)

    class Meta:
        indexes = [models.Index(fields=["bow", "-at"], name="turnaround_bow_latest")]


class CheckPhoto(models.Model):
    """A picture of what a check found; `topic` is the line of the check. Made anew from its pixels: no EXIF."""

    check_made = models.ForeignKey(TurnaroundCheck, on_delete=models.PROTECT, related_name="photos")
    topic = models.CharField(max_length=20)
    image = models.ImageField(upload_to="checks/%Y/%m/")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["check_made", "topic"], name="check_photo_once_per_topic")]


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
        # A part of a reference is sought by going through all of them: the index is narrower than the rows.
        indexes = [models.Index(fields=["reference"], name="hire_reference")]
        constraints = [
            models.UniqueConstraint(fields=["bow"], condition=Q(back_at=None), name="hire_one_open_per_bow"),
            models.CheckConstraint(condition=Q(back_at=None) | Q(back_at__gte=F("out_at")), name="hire_in_order"),
        ]
