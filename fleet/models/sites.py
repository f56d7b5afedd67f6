"""Sites, places and the bench: where bows are kept and who can work on them."""

from datetime import time

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from fleet.vocabulary import Role, Skill, TemperatureSource, WearChoice


class Site(models.Model):
    """One range, shop or camp, with its house settings. Weekdays count Monday = 0."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    time_zone = models.CharField(max_length=40, default="UTC")
    units = models.CharField(max_length=8, choices=[("imperial", "imperial"), ("metric", "metric")], default="imperial")
    paper = models.CharField(max_length=6, choices=[("letter", "Letter"), ("a4", "A4")], default="letter")
    opening_weekdays = models.JSONField(default=list)
    indoor_temperature_c = models.FloatField(default=21.0)
    currency = models.CharField(max_length=3, default="USD")
    labour_rate_per_hour = models.DecimalField(max_digits=8, decimal_places=2, default=0)
    rental_value_per_day = models.DecimalField(max_digits=8, decimal_places=2, default=0)
    timing_grace_days = models.PositiveSmallIntegerField(default=7)
    inspection_max_days = models.PositiveSmallIntegerField(default=30)
    replacement_cap = models.FloatField(default=1.0)
    undetected_risk_target = models.FloatField(default=0.01)
    guests_shoot_in = models.BooleanField(default=False)
    guest_name_days = models.PositiveSmallIntegerField(default=30)
    # House choice, no law for bows: as long as a signed record of use may be asked for.
    signed_name_days = models.PositiveSmallIntegerField(default=1826)
    wear_choice = models.CharField(max_length=12, choices=WearChoice.choices, default=WearChoice.LEVEL)
    bench_opens = models.TimeField(default=time(8))

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=Q(replacement_cap__gt=0), name="site_replacement_cap_positive"),
        ]

    def __str__(self) -> str:
        return self.name


class Place(models.Model):
    """A rack, locker, trailer or vehicle of a site, and where its temperature comes from."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="places")
    name = models.CharField(max_length=60)
    temperature_source = models.CharField(max_length=14, choices=TemperatureSource.choices)
    fixed_temperature_c = models.FloatField(null=True, blank=True)
    shade = models.BooleanField(default=False)
    boot = models.BooleanField(default=False)

    class Meta:
        ordering = ["site", "name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="place_name_unique_per_site"),
            models.CheckConstraint(
                condition=~Q(temperature_source="fixed") | Q(fixed_temperature_c__isnull=False),
                name="place_fixed_has_temperature",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Person(AbstractUser):
    """Somebody who works here. Their name and address stand in this row alone, where they can be erased."""

    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    display_name = models.CharField(max_length=80)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, blank=True, related_name="people")

    class Meta:
        ordering = ["display_name"]

    def __str__(self) -> str:
        return self.display_name


class Post(models.Model):
    """What a person may do, and where; no site means every site."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="posts")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, blank=True, related_name="posts")
    role = models.CharField(max_length=10, choices=Role.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "site"], name="post_one_role_per_site"),
            models.UniqueConstraint(fields=["person"], condition=Q(site=None), name="post_one_role_for_all_sites"),
        ]


class PersonSkill(models.Model):
    """One thing that a person may do at the bench."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="skills")
    skill = models.CharField(max_length=12, choices=Skill.choices)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "skill"], name="person_skill_once")]


class BenchHours(models.Model):
    """Bench minutes of a person on a weekday (Monday = 0)."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="bench_hours")
    weekday = models.PositiveSmallIntegerField(validators=[MaxValueValidator(6)])
    minutes = models.PositiveSmallIntegerField(validators=[MaxValueValidator(1440)])

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "weekday"], name="bench_hours_once_per_weekday"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="bench_hours_weekday"),
            models.CheckConstraint(condition=Q(minutes__lte=1440), name="bench_hours_within_a_day"),
        ]


class Absence(models.Model):
    """Days, both included, on which a person is away."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="absences")
    first_day = models.DateField()
    last_day = models.DateField()
    why = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=models.F("first_day")), name="absence_days_in_order"),
        ]


class ClosedDay(models.Model):
    """A day on which a site's bench is shut although its weekday is open."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="closed_days")
    day = models.DateField()
    why = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "day"], name="closed_day_once")]


class Press(models.Model):
    """A bow press of a site, and the minutes a day for which it can be used."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="presses")
    name = models.CharField(max_length=60)
    minutes_per_day = models.PositiveSmallIntegerField(default=480, validators=[MinValueValidator(1)])

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="press_name_unique_per_site")]

    def __str__(self) -> str:
        return self.name


class ChecklistItem(models.Model):
    """One line of a site's turnaround check for a bow kind."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="checklist")
    bow_kind = models.CharField(max_length=8)
    place_in_list = models.PositiveSmallIntegerField()
    text = models.CharField(max_length=120)

    class Meta:
        ordering = ["bow_kind", "place_in_list"]
        constraints = [
            models.UniqueConstraint(fields=["site", "bow_kind", "place_in_list"], name="checklist_place_once"),
        ]
