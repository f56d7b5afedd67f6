"""Derived rows that the guests' pages search by, and the bows proposed last. All of it can be dropped."""

from django.db import models

from fleet.models import Bow, Site
from fleet.vocabulary import BowKind, Hand
from service.said_fields import SaidJSONField


class GuestBow(models.Model):
    """Derived: one bow in service as a guest's needs are compared with it, so that the database can narrow and order.

    Draw lengths (m) and peak weights (N) that it fits as it is set up, tolerances included; `used`, `per_shot` and
    `per_day` are shares of the replacement point, of each the worst among its cords. `complete`: its set-up and the
    wear of all its cords are known, without which it is for nobody. It is written with the bow's wear.
    """

    bow = models.OneToOneField(Bow, on_delete=models.CASCADE, primary_key=True, related_name="for_guests")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="+")
    hand = models.CharField(max_length=5, choices=Hand.choices)
    kind = models.CharField(max_length=8, choices=BowKind.choices)
    draw_from_m = models.FloatField()
    draw_to_m = models.FloatField()
    weight_from_n = models.FloatField()
    weight_to_n = models.FloatField()
    used = models.FloatField()
    per_shot = models.FloatField()
    per_day = models.FloatField()
    complete = models.BooleanField()


class ProposedBows(models.Model):
    """Derived: who gets which bow at a site, as last worked out.

    `lines`: booking id -> {"asked": what the booking asked for then, "bow": bow id or None, "without": why none}.
    `most_served`: proven that no assignment served more of these bookings.
    """

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="proposed")
    made_at = models.DateTimeField()
    most_served = models.BooleanField()
    lines = SaidJSONField(default=dict)
