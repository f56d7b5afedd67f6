"""Whether the last night failed, in templates."""

from datetime import timedelta

from django import template
from django.utils import timezone

from fleet.models import Site
from service.models import NightlyRun
from service.night.run import GIVEN_UP_AFTER, last_run

register = template.Library()
# An older failure says nothing about today.
TOLD_FOR = timedelta(days=3)


@register.simple_tag
def failed_night(site: Site) -> NightlyRun | None:
    """The site's last night if it failed, or was begun and never ended; None when all is well."""
    run, now = last_run(site), timezone.now()
    if run is None or run.started_at < now - TOLD_FOR:
        return None
    stuck = run.ended_at is None and run.started_at < now - GIVEN_UP_AFTER
    return run if stuck or (run.ended_at is not None and run.error) else None
