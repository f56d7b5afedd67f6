"""The audit trail: one row per verb, or per batch of a bulk verb."""

from django.db import models
from django.utils.translation import gettext as _

from fleet.chain import is_blanked
from fleet.models.sites import Person

# Under this name a detail keeps the seal of what was signed (`fleet.signed_contents`); it tells a person nothing.
CONTENTS = "contents"


class AuditEntry(models.Model):
    """Who did what, when, to which record. The database refuses to change or delete a row (fleet/migrations).

    One change it lets pass, once: a detail in which somebody typed a name gives way to its digest.

    `salt` and `digest` (hex) chain the row to the one before it: `fleet.chain`, `manage.py verify_record`. People
    stand here by number alone, never by name, so that a name can be erased.
    """

    at = models.DateTimeField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=40)
    subject_kind = models.CharField(max_length=30)
    subject_id = models.BigIntegerField(null=True, blank=True)
    bow = models.ForeignKey("fleet.Bow", on_delete=models.PROTECT, null=True, blank=True, related_name="audit")
    detail = models.JSONField(default=dict)
    salt = models.CharField(max_length=32)
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["bow", "-id"], name="audit_bow")]
        constraints = [
            models.CheckConstraint(condition=~models.Q(salt="") & ~models.Q(digest=""), name="audit_row_is_sealed")
        ]

    @property
    def what(self) -> str:
        """The entry as one line: the verb in words, then its plain details."""
        if is_blanked(self.detail):
            return f"{self.verb.replace('_', ' ')} ({_('the detail was erased with a name in it')})"
        told = ", ".join(
            f"{key.replace('_', ' ')} {value}"
            for key, value in self.detail.items()
            if value not in ("", None) and key != CONTENTS
        )
        return f"{self.verb.replace('_', ' ')}: {told}" if told else self.verb.replace("_", " ")


class AuditHead(models.Model):
    """The end of the chain, one row: the digest of the last audit row and how many there are; writers queue at it."""

    ONLY = 1

    digest = models.CharField(max_length=64)
    length = models.PositiveBigIntegerField()
