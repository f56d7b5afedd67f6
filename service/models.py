"""What the service computes (droppable: wear, needs, draft plans) and what it issues (kept: work orders).

Foreign keys point at the register, never back.
"""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from fleet.models import Bow, CordSpec, DigestWish, Fitting, MeasuringTool, Person, ReferenceSet, Site
from fleet.vocabulary import Finding, MeasurementKind, Position, RemovalReason, Skill
from service.guest_models import GuestBow as GuestBow
from service.guest_models import ProposedBows as ProposedBows
from service.said_fields import SaidField, SaidJSONField
from service.saved_figures import DraftOutlook as DraftOutlook
from service.saved_figures import LifeToLearn as LifeToLearn
from service.saved_figures import SiteCalibration as SiteCalibration
from service.saved_figures import SpecReport as SpecReport
from service.saved_figures import WhatIfAnswer as WhatIfAnswer
from service.saved_figures import YearsAhead as YearsAhead
from service.wear.life import LifeUsed, printed_shares


class NeedKind(models.TextChoices):
    """One thing that a bow needs."""

    INCIDENT = "incident", _("incident")
    NOTICE = "notice", _("notice")
    TURNAROUND = "turnaround", _("turnaround finding")
    REPLACEMENT = "replacement", _("replacement")
    INSPECTION = "inspection", _("inspection")
    TIMING_CHECK = "timing_check", _("timing check")
    SETTLE_IN = "settle_in", _("settle-in re-check")
    REQUESTED = "requested", _("requested")


class OrderStatus(models.TextChoices):
    """Where a work order stands; only `service.orders` moves it."""

    ISSUED = "issued", _("issued")
    IN_WORK = "in_work", _("in work")
    SIGNED = "signed", _("signed, not released")
    RELEASED = "released", _("released")
    CANCELLED = "cancelled", _("cancelled")


OPEN_ORDER = (OrderStatus.ISSUED, OrderStatus.IN_WORK, OrderStatus.SIGNED)


class CordWear(models.Model):
    """Derived: the wear state of one fitted cord as of an instant. Life used is a share of rated life."""

    fitting = models.OneToOneField(Fitting, on_delete=models.CASCADE, related_name="wear")
    as_of = models.DateTimeField()
    shots_weighted = models.FloatField()
    tension_h = models.FloatField()
    shelf_h = models.FloatField()
    heat_h = models.FloatField()
    hottest_c = models.FloatField(null=True)
    life_shots = models.FloatField()
    life_time = models.FloatField()
    life_heat = models.FloatField()
    life_used = models.FloatField()
    shots_per_day = models.FloatField()
    life_per_day = models.FloatField()
    replacement_point = models.FloatField()
    point_reason = SaidField()
    replace_from = models.DateField(null=True)
    replace_on = models.DateField(null=True)
    replace_until = models.DateField(null=True)
    replace_basis = SaidField()
    inspect_days = models.FloatField()
    inspect_reason = SaidField()
    reset_at = models.DateTimeField()
    reset_shots = models.FloatField()
    reset_heat_h = models.FloatField()
    strain = models.FloatField()
    creep_strain_per_day = models.FloatField()
    # Learned for this cord: median strain a month at the reference temperature for a heat weight of 1, the spread of
    # its logarithm, and the pairs of measurements that it rests on.
    creep_per_month = models.FloatField()
    creep_log_sd = models.FloatField()
    creep_pairs = models.PositiveSmallIntegerField()
    reason = SaidField()
    assumed = models.JSONField(default=list)

    class Meta:
        indexes = [
            models.Index(fields=["-life_used"], name="wear_most_used"),
            models.Index(fields=["replace_on"], name="wear_replace_on"),
            # All that the due list counts, sorts and narrows by, so that it reads no row that it does not show.
            models.Index(
                fields=["fitting", "life_used", "replacement_point", "replace_on", "assumed"], name="wear_due_list"
            ),
        ]

    @property
    def printed(self) -> dict[str, float]:
        """The shares rounded so that they add up as people will check them, and their sum."""
        shots, time, heat = printed_shares(LifeUsed(self.life_shots, self.life_time, self.life_heat))
        return {"shots": shots, "time": time, "heat": heat, "total": shots + time + heat}

    @property
    def bar(self) -> dict[str, float]:
        """The shares in hundredths of rated life, as lengths of a bar 120 long; heat below 0 has no length."""
        shots, time, heat = (max(0.0, share) * 100 for share in (self.life_shots, self.life_time, self.life_heat))
        longest = 120.0
        shots = min(shots, longest)
        time = min(time, longest - shots)
        heat = min(heat, longest - shots - time)
        return {
            "shots": round(shots, 2),
            "time": round(time, 2),
            "heat_at": round(shots + time, 2),
            "heat": round(heat, 2),
            "point": round(min(self.replacement_point * 100, longest), 2),
        }


class TimingDrift(models.Model):
    """Derived: the predicted change (m) of one reference measurement since the reset, and when it leaves tolerance.

    `assumed` names what it rests on that nobody measured, published or learned: arms, coefficients.
    """

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="drifts")
    kind = models.CharField(max_length=24, choices=MeasurementKind.choices)
    change_m = models.FloatField()
    tolerance_m = models.FloatField()
    leaves_from = models.DateField(null=True)
    leaves_on = models.DateField(null=True)
    leaves_until = models.DateField(null=True)
    assumed = models.JSONField(default=list)

    class Meta:
        ordering = ["leaves_on", "kind"]
        indexes = [models.Index(fields=["bow", "leaves_on", "leaves_from"], name="drift_soonest")]
        constraints = [models.UniqueConstraint(fields=["bow", "kind"], name="timing_drift_once")]


class SpecLife(models.Model):
    """Derived: what the shop's history says of the life of one cord spec (Weibull in life used)."""

    cord_spec = models.OneToOneField(CordSpec, on_delete=models.CASCADE, related_name="life")
    learned_at = models.DateTimeField()
    eta = models.FloatField()
    beta = models.FloatField()
    b10_lower = models.FloatField()
    b10_upper = models.FloatField()
    condemned = models.PositiveIntegerField()
    account = SaidField()


class SiteUse(models.Model):
    """Derived: the rhythm of hires at a site, and what a bow without history is taken to do there."""

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="use")
    learned_at = models.DateTimeField()
    weekday = models.JSONField()
    season = models.JSONField()
    season_learned = models.BooleanField()
    group_mean = models.FloatField()
    group_worth_days = models.FloatField()
    shots_mean = models.FloatField()
    shots_relative_sd = models.FloatField()
    clumping = models.FloatField(default=1.0)


class BowUse(models.Model):
    """Derived: belief about one bow's sessions per ordinary open day, and shots per session."""

    bow = models.OneToOneField(Bow, on_delete=models.CASCADE, related_name="use")
    shape = models.FloatField()
    inverse_scale = models.FloatField()
    shots_mean = models.FloatField()
    shots_mean_relative_sd = models.FloatField()


class StaleBow(models.Model):
    """Derived: facts of this bow changed since its wear was computed.

    `entry` names the one change of shots that is all there is to add; empty: the bow is to be computed anew.
    """

    bow = models.OneToOneField(Bow, on_delete=models.CASCADE, related_name="stale")
    since = models.DateTimeField()
    entry = models.CharField(max_length=32, blank=True)


class Need(models.Model):
    """Derived: one thing that a bow needs, with its reason in numbers and its window of days."""

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="needs")
    fitting = models.ForeignKey(Fitting, on_delete=models.CASCADE, null=True, related_name="needs")
    kind = models.CharField(max_length=12, choices=NeedKind.choices)
    reason = SaidField()
    earliest_on = models.DateField()
    due_on = models.DateField()
    latest_on = models.DateField(null=True)
    minutes = models.PositiveSmallIntegerField()
    skill = models.CharField(max_length=12, choices=Skill.choices)
    needs_press = models.BooleanField()
    holds = models.BooleanField(default=False)
    parts = models.JSONField(default=dict)

    class Meta:
        ordering = ["due_on", "bow__tag", "kind"]
        indexes = [
            models.Index(fields=["bow", "due_on"], name="need_bow_due"),
            models.Index(fields=["due_on"], name="need_due"),
        ]


class Plan(models.Model):
    """A plan of one site. Drafts are derived; a published plan is kept."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="plans")
    first_day = models.DateField()
    days = models.PositiveSmallIntegerField()
    made_at = models.DateTimeField()
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    report = SaidJSONField(default=dict)

    class Meta:
        ordering = ["-made_at"]


class PlannedJob(models.Model):
    """One bow on one day at the bench: its needs done together share the set-up."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="jobs")
    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="+")
    day = models.DateField()
    technician = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    place_in_day = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField()
    needs = SaidJSONField(default=list)
    why = SaidField()

    class Meta:
        ordering = ["day", "technician", "place_in_day"]
        indexes = [models.Index(fields=["plan", "day"], name="job_plan_day")]


class UnplacedNeed(models.Model):
    """A need that the plan could not put on a day, and the limit that blocks it."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="unplaced")
    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=12, choices=NeedKind.choices)
    due_on = models.DateField()
    limit = SaidField()


class WorkOrder(models.Model):
    """An issued order: numbered, with the reference set and everything else that it was printed with."""

    number = models.CharField(max_length=24, unique=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="orders")
    bow = models.ForeignKey(Bow, on_delete=models.PROTECT, related_name="orders")
    day = models.DateField()
    place_in_day = models.PositiveSmallIntegerField(default=0)
    technician = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="orders")
    minutes = models.PositiveSmallIntegerField()
    status = models.CharField(max_length=9, choices=OrderStatus.choices, default=OrderStatus.ISSUED)
    reference_set = models.ForeignKey(ReferenceSet, on_delete=models.PROTECT, null=True, related_name="orders")
    frozen = SaidJSONField(default=dict)
    steps_done = models.JSONField(default=list)
    note = models.TextField(blank=True)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField(null=True, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["day", "place_in_day", "number"]
        indexes = [
            models.Index(fields=["site", "day"], name="order_site_day"),
            # The few that are open, among all that ever were.
            models.Index(fields=["site", "status"], name="order_site_status"),
            # The bench minutes of each bow, added up without reading an order.
            models.Index(fields=["bow", "signed_at", "minutes"], name="order_bow_signed"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["bow"],
                condition=Q(status__in=["issued", "in_work", "signed"]),
                name="order_one_open_per_bow",
            )
        ]

    def __str__(self) -> str:
        return self.number


class OrderNeed(models.Model):
    """A need that an order answers, as it read when the order was issued."""

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="needs")
    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, null=True, related_name="+")
    kind = models.CharField(max_length=12, choices=NeedKind.choices)
    reason = SaidField()


class OrderReading(models.Model):
    """As found and as left typed under an open order (SI by the kind's dimension)."""

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="readings")
    kind = models.CharField(max_length=24, choices=MeasurementKind.choices)
    position = models.CharField(max_length=14, choices=Position.choices, blank=True)
    as_found = models.FloatField(null=True, blank=True)
    as_left = models.FloatField(null=True, blank=True)
    tool = models.ForeignKey(MeasuringTool, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # As found was read a second time and is so, however odd: the diagnosis takes it as read.
    read_twice = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["order", "kind", "position"], name="order_reading_once")]


class OrderCord(models.Model):
    """A cord changed, or its twists, under an open order; applied to the register when the order is signed."""

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="cords")
    position = models.CharField(max_length=14, choices=Position.choices)
    replaced = models.BooleanField(default=False)
    removed_why = models.CharField(max_length=9, choices=RemovalReason.choices, blank=True)
    finding = models.CharField(max_length=18, choices=Finding.choices, blank=True)
    new_spec = models.ForeignKey(CordSpec, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    new_serial = models.CharField(max_length=40, blank=True)
    new_lot = models.CharField(max_length=40, blank=True)
    half_twists = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["order", "position"], name="order_cord_once")]


class NightlyRun(models.Model):
    """One site's night: its wear and needs computed, its plan drafted. `night` is the site's own date.

    `ended_at` is empty while it runs, and for good where the program was killed. `error` is empty when all went well.
    """

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="nights")
    night = models.DateField()
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    names_erased = models.PositiveIntegerField(default=0)
    error = models.TextField(blank=True)

    class Meta:
        ordering = ["-night", "site"]
        constraints = [models.UniqueConstraint(fields=["site", "night"], name="nightly_run_once")]


class FailedJob(models.Model):
    """A task of the work queue that gave up, or a worker that was lost with it; kept for the owner to see."""

    task = models.CharField(max_length=100)
    task_id = models.CharField(max_length=64)
    at = models.DateTimeField(db_index=True)
    error = models.CharField(max_length=400)

    class Meta:
        ordering = ["-at"]


class DigestSent(models.Model):
    """The morning's mail of one wish on one day of its person; the row is there before the mail leaves.

    `sent_at` is empty while it is on its way: a program killed at that moment may have sent it, so it is not sent
    again. `error` says why the last try failed; then it is tried again.
    """

    wish = models.ForeignKey(DigestWish, on_delete=models.CASCADE, related_name="sent")
    day = models.DateField()
    tried_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=1)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-day"]
        constraints = [models.UniqueConstraint(fields=["wish", "day"], name="digest_sent_once")]
