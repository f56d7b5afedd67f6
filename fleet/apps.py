"""The register: what the shop owns and what has happened to it."""

from django.apps import AppConfig


class FleetConfig(AppConfig):
    """Facts only; decisions live in `service`."""

    name = "fleet"
    verbose_name = "Register"
    default_auto_field = "django.db.models.BigAutoField"
