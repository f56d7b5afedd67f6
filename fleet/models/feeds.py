"""Keys of private calendar feeds, and who asked for the morning's mail."""

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q

from fleet.models.sites import Person, Site


class FeedKey(models.Model):
    """Opens the calendar of a site, or of one technician there, to whoever holds its token until it is revoked.

    Only the token's SHA-256 is kept: what the book shows once, nobody can read out of it again.
    """

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="feed_keys")
    technician = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="feed_keys")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-made_at"]


class DigestWish(models.Model):
    """A person wants a site's day by e-mail each morning at `hour` in their own time zone and language."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="digest_wishes")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="digest_wishes")
    time_zone = models.CharField(max_length=40)
    language = models.CharField(max_length=10)
    hour = models.PositiveSmallIntegerField(default=6, validators=[MaxValueValidator(23)])
    since = models.DateTimeField()

    class Meta:
        ordering = ["person", "site"]
        constraints = [
            models.UniqueConstraint(fields=["person", "site"], name="digest_wish_once_per_site"),
            models.CheckConstraint(condition=Q(hour__lte=23), name="digest_wish_hour_of_the_day"),
        ]
