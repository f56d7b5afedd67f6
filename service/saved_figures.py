"""Derived rows that a page reads instead of computing: what they say changes once a night, or with the draft.

Each says as of when it was computed. They can be dropped: `manage.py rebuild` makes them anew, `rebuild --check` holds
them against a fresh computation. `read_to` is the last audited fact at the time: with later ones a check has nothing to
compare with.
"""

from django.db import models

from fleet.models import CordSpec, Site
from service.said_fields import SaidField, SaidJSONField


class SpecReport(models.Model):
    """Derived: everything that the history page of a cord spec shows, and the lives that it was learned from.

    `report`: `service.life_report.LifeReport`; `lives`: `service.spec_histories.kept_lives`.
    """

    cord_spec = models.OneToOneField(CordSpec, on_delete=models.CASCADE, related_name="report")
    learned_at = models.DateTimeField()
    read_to = models.BigIntegerField()
    report = models.JSONField()
    lives = models.JSONField()


class YearsAhead(models.Model):
    """Derived: the coming year of a site under other rated lives of a cord spec, reckoned for the first who asks and
    dropped by the next night. `years`: a list of `service.rated_life.RatedLife`."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="+")
    report = models.ForeignKey(SpecReport, on_delete=models.CASCADE, related_name="years")
    as_of = models.DateTimeField()
    read_to = models.BigIntegerField()
    years = models.JSONField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "report"], name="years_ahead_once")]


class LifeToLearn(models.Model):
    """Derived: the life of this cord spec is to be learned anew, since a coefficient of it changed."""

    cord_spec = models.OneToOneField(CordSpec, on_delete=models.CASCADE, related_name="to_learn")
    since = models.DateTimeField()


class SiteCalibration(models.Model):
    """Derived: how the forecast of use kept its word at a site. `report`: `service.forecast.calibration`'s, or None
    with too little history."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="calibration")
    computed_at = models.DateTimeField()
    read_to = models.BigIntegerField()
    report = models.JSONField(null=True)


class DraftOutlook(models.Model):
    """Derived with a draft plan: its weeks, what to order, what found no day.

    `content`: `service.planning.kept_outlook`'s.
    """

    plan = models.OneToOneField("service.Plan", on_delete=models.CASCADE, related_name="outlook")
    content = SaidJSONField()


class WhatIfAnswer(models.Model):
    """Derived: a second plan that somebody asked for, solved by a task; forgotten by the next night.

    `asked`: the question as an address. `problem`: why there is no answer.
    `answer`: a `service.planning.comparison.Answer`.
    """

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="+")
    asked = models.CharField(max_length=300)
    asked_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True)
    problem = SaidField(blank=True)
    answer = SaidJSONField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "asked"], name="what_if_once")]
