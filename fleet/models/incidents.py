"""Incidents and notices: what holds bows at once."""

from django.db import models

from fleet.models.bows import Bow, Hold
from fleet.models.sites import Person
from fleet.models.specs import SpecSheet
from fleet.vocabulary import IncidentKind


class Incident(models.Model):
    """Something happened to a bow that holds it until the bench releases it."""

    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="incidents")
    kind = models.CharField(max_length=10, choices=IncidentKind.choices)
    happened_at = models.DateTimeField()
    reported_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True)
    photo = models.ImageField(upload_to="incidents/%Y/%m/", blank=True)
    key = models.CharField(max_length=64, unique=True)
    hold = models.OneToOneField(Hold, on_delete=models.PROTECT, related_name="incident")


class Notice(models.Model):
    """A maker's or own campaign over a spec sheet, a serial range or a cord lot."""

    title = models.CharField(max_length=120)
    text = models.TextField(blank=True)
    issued_on = models.DateField()
    spec_sheet = models.ForeignKey(SpecSheet, on_delete=models.PROTECT, null=True, blank=True, related_name="notices")
    serial_from = models.CharField(max_length=40, blank=True)
    serial_to = models.CharField(max_length=40, blank=True)
    cord_lot = models.CharField(max_length=40, blank=True)
    holds = models.BooleanField(default=True)
    due_on = models.DateField(null=True, blank=True)


class NoticeMatch(models.Model):
    """A bow that a notice matches, and how it was answered."""

    notice = models.ForeignKey(Notice, on_delete=models.PROTECT, related_name="matches")
    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="notices")
    hold = models.ForeignKey(Hold, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    answer = models.CharField(max_length=200, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["notice", "bow"], name="notice_matches_a_bow_once")]
