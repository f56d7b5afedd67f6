"""Decisions: what is worn, what is due, who does it when."""

from django.apps import AppConfig


class ServiceConfig(AppConfig):
    """The project package is an app too: it owns everything computed."""

    name = "service"
    verbose_name = "Service"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the system checks and tie Celery to these settings.

        Celery is imported here, not in the package's `__init__`, so that the pure packages can be imported without it.
        """
        from service import celery, checks, lost_tasks, stale  # noqa: F401
        from service.backup import erasures  # noqa: F401
        from service.health import failed_jobs  # noqa: F401
        from service.said import speak_with
        from service.wording import in_words

        speak_with(in_words)
