"""The desk: named views of a list, how a person likes the screen, its language, holds put on many bows at once."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.models.bows import Hold
from fleet.models.sites import Person, Site


class SavedView(models.Model):
    """A person's own name for a list narrowed in a certain way; `query` is what follows the `?` of its address."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="views")
    page = models.CharField(max_length=20)
    name = models.CharField(max_length=40)
    query = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["page", "name"]
        constraints = [models.UniqueConstraint(fields=["person", "page", "name"], name="saved_view_named_once")]

    def __str__(self) -> str:
        return self.name


class Theme(models.TextChoices):
    """How bright a person's screen is: as their device says, or always one way."""

    DEVICE = "device", _("as the device says")
    LIGHT = "light", _("light")
    DARK = "dark", _("dark")


class Language(models.TextChoices):
    """The language of a person's pages and paper: as their browser asks, or always one; each named in itself."""

    BROWSER = "", _("as the browser asks")
    ENGLISH = "en", "English"
    FRENCH = "fr", "Français"


class ScreenChoice(models.Model):
    """How a person likes the screen; nobody without a row has chosen."""

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="screen")
    theme = models.CharField(max_length=6, choices=Theme.choices, default=Theme.DEVICE)
    language = models.CharField(max_length=5, choices=Language.choices, blank=True, default=Language.BROWSER)


class HoldAction(models.Model):
    """Many bows of a site held in one act: how they were picked, why, and whether it was taken back."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="hold_actions")
    picked = models.CharField(max_length=300)
    detail = models.CharField(max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-at", "-id"]


class HeldTogether(models.Model):
    """One hold of an act that held many bows."""

    action = models.ForeignKey(HoldAction, on_delete=models.PROTECT, related_name="held")
    hold = models.OneToOneField(Hold, on_delete=models.PROTECT, related_name="held_together")
