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

    @property
    def what(self) -> str:
        """The entry as one line: the verb in words, then its plain details."""
        told = ", ".join(
            f"{key.replace('_', ' ')} {value}" for key, value in self.detail.items() if value not in ("", None)
        )
        return f"{self.verb.replace('_', ' ')}: {told}" if told else self.verb.replace("_", " ")
