"""Arms measured on one bow: they win over its spec sheet's, which win over the timing model's assumed ones."""

from django.db import models
from django.db.models import Q

from fleet.models.bows import Bow
from fleet.models.measurements import MeasuringTool
from fleet.models.sites import Person
from fleet.vocabulary import Arm, CamEnd


class BowArm(models.Model):
    """One arm of one cam as somebody measured it on the bow (m; hole travel m per rad, signed).

    A later measurement supersedes the earlier one, which stays on record.
    """

    bow = models.ForeignKey(Bow, on_delete=models.CASCADE, related_name="arms")
    end = models.CharField(max_length=5, choices=CamEnd.choices)
    arm = models.CharField(max_length=11, choices=Arm.choices)
    value_m = models.FloatField()
    measured_at = models.DateTimeField()
    measured_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    tool = models.ForeignKey(MeasuringTool, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    superseded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["bow", "arm", "-end", "-measured_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["bow", "end", "arm"], condition=Q(superseded_at=None), name="bow_arm_one_current"
            )
        ]
