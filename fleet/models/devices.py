"""Devices that write into the book, and programs that read from it, each with a token of its own."""

from django.db import models

from fleet.models.sites import Person, Site


class DeviceToken(models.Model):
    """What a shot counter, a temperature logger or a reading program shows to be let in.

    Only the SHA-256 of the secret is kept; `begins` is its first letters, so that people can tell tokens apart. Facts
    are entered by the token's own `person`, who has no password and no role, so that the trail names the device.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="device_tokens")
    name = models.CharField(max_length=60)
    scopes = models.JSONField(default=list)
    secret_sha256 = models.CharField(max_length=64, unique=True)
    begins = models.CharField(max_length=12)
    person = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="device_token")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["site", "name", "-made_at"]
        constraints = [
            # A revoked token keeps its name, and the device gets another.
            models.UniqueConstraint(
                fields=["site", "name"], condition=models.Q(revoked_at=None), name="device_token_name_once"
            )
        ]

    def __str__(self) -> str:
        return self.name
