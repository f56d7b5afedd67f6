"""The audit trail: one row per verb, or per batch of a bulk verb."""

from django.db import models

from fleet.models.sites import Person


class AuditEntry(models.Model):
    """Who did what, when, to which record. Rows are never changed or deleted (migration 0002 holds that)."""

    at = models.DateTimeField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=40)
    subject_kind = models.CharField(max_length=30)
    subject_id = models.BigIntegerField(null=True, blank=True)
    bow = models.ForeignKey("fleet.Bow", on_delete=models.PROTECT, null=True, blank=True, related_name="audit")
    detail = models.JSONField(default=dict)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["bow", "-id"], name="audit_bow")]
