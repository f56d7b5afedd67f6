"""Bows and the events that say where each one stands: set-up, bench visits, holds, releases, retirement."""

from django.db import models
from django.db.models import F, Q

from fleet.models.sites import Person, Site
from fleet.models.specs import SpecSheet
from fleet.vocabulary import Hand, HoldReason
from service.said_fields import SaidField


class Bow(models.Model):
    """One bow of the shop. Its state follows from its events (`fleet.lookups.with_state`), never from a field."""

    tag = models.CharField(max_length=20, unique=True)
    serial = models.CharField(max_length=40, blank=True)
    spec_sheet = models.ForeignKey(SpecSheet, on_delete=models.PROTECT, related_name="bows")
    hand = models.CharField(max_length=5, choices=Hand.choices)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="bows")
    in_service_on = models.DateField()

    class Meta:
        ordering = ["tag"]
        indexes = [models.Index(fields=["site", "tag"], name="bow_site_tag")]

    def __str__(self) -> str:
        return self.tag


class SetUp(models.Model):
    """The draw length (m, true) and peak weight (N) a bow is set to from an instant on."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="set_ups")
    since = models.DateTimeField()
    draw_length_m = models.FloatField()
    peak_weight_n = models.FloatField()

    class Meta:
        ordering = ["bow", "since"]
        constraints = [models.UniqueConstraint(fields=["bow", "since"], name="set_up_once_per_instant")]


class BenchVisit(models.Model):
    """A bow is on the bench from `since` until it is released."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="bench_visits")
    order_number = models.CharField(max_length=24)
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["bow"], condition=Q(until=None), name="bench_visit_one_open_per_bow"),
            models.CheckConstraint(condition=Q(until=None) | Q(until__gte=F("since")), name="bench_visit_in_order"),
        ]


class Release(models.Model):
    """A signed word that a bow may go out again; it closes the holds that it names."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="releases")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    order_number = models.CharField(max_length=24, blank=True)
    note = models.CharField(max_length=200, blank=True)


class Hold(models.Model):
    """The bow must not go to a guest until a release closes this."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="holds")
    reason = models.CharField(max_length=12, choices=HoldReason.choices)
    detail = SaidField()
    since = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    released = models.ForeignKey(Release, on_delete=models.PROTECT, null=True, blank=True, related_name="holds")

    class Meta:
        indexes = [models.Index(fields=["bow"], condition=Q(released=None), name="hold_open_by_bow")]


class Retirement(models.Model):
    """The bow has left service for good."""

    bow = models.OneToOneField(Bow, on_delete=models.CASCADE, related_name="retirement")
    at = models.DateTimeField()
    why = models.CharField(max_length=200)


class Deferral(models.Model):
    """A manager puts a due replacement off in writing, to a date no later than the hard limit."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="deferrals")
    need_kind = models.CharField(max_length=24)
    until = models.DateField()
    why = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
