"""Bookings. A guest's name is optional, kept apart and erased after the site's number of days."""

from django.db import models
from django.db.models import F, Q

from fleet.models.bows import Bow
from fleet.models.sites import Site
from fleet.vocabulary import Hand


class Booking(models.Model):
    """A guest's time with a bow: the very bow, or what the guest needs."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="bookings")
    reference = models.CharField(max_length=40, unique=True)
    start = models.DateTimeField()
    end = models.DateTimeField()
    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, null=True, blank=True, related_name="bookings")
    hand = models.CharField(max_length=5, choices=Hand.choices, blank=True)
    draw_length_m = models.FloatField(null=True, blank=True)
    peak_weight_min_n = models.FloatField(null=True, blank=True)
    peak_weight_max_n = models.FloatField(null=True, blank=True)
    expected_shots = models.PositiveIntegerField(default=0)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["start", "reference"]
        indexes = [models.Index(fields=["site", "start"], name="booking_site_start")]
        constraints = [models.CheckConstraint(condition=Q(end__gt=F("start")), name="booking_in_order")]

    def __str__(self) -> str:
        return self.reference


class GuestName(models.Model):
    """The one erasable table with a guest's display name; all else refers to the booking's reference."""

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="guest")
    display_name = models.CharField(max_length=60)
    erase_on = models.DateField()
