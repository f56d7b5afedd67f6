"""People who left, and whose names were erased: numbers and dates, no names."""

from django.db import models

from fleet.models.sites import Person


class Departure(models.Model):
    """Somebody whose sign-in was closed because they left, and the day on which their name is erased."""

    person = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="departure")
    left_at = models.DateTimeField()
    closed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    erase_on = models.DateField()


class ErasedKind(models.TextChoices):
    """Whose name was erased."""

    PERSON = "person", "person"
    GUEST = "guest", "guest"


class Erasure(models.Model):
    """A name that was erased: by it, a restore of an older backup erases it again.

    `number` is the person's, or the booking's of a guest. `since` tells a person from another one who got the same
    number in a book restored meanwhile: the instant at which they were added.
    """

    kind = models.CharField(max_length=6, choices=ErasedKind.choices)
    number = models.BigIntegerField()
    since = models.DateTimeField(null=True, blank=True)
    on = models.DateField()

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["kind", "number"], name="erasure_of")]
