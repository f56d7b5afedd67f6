"""What machines ask: is it alive, is it ready, and its figures for Prometheus. None of these needs a sign-in."""

import hmac
from datetime import UTC, datetime
from functools import cache

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from service.health import figures
from service.health.signs import database_answers, queue_now

READY, AWAY = 200, 503


@login_not_required
@never_cache
@require_safe
def live(request: HttpRequest) -> HttpResponse:
    """The process answers: it is not to be started again."""
    return HttpResponse("alive\n", content_type="text/plain")


@login_not_required
@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """Requests may be sent here: the database answers and has the tables of this version.

    The broker is told of and not required: pages work without it.
    """
    database = database_answers()
    up_to_date = database and _has_every_table()
    found = {"database": database, "migrated": up_to_date, "broker": queue_now() is not None}
    return JsonResponse(found, status=READY if up_to_date else AWAY)


def _has_every_table() -> bool:
    return _migrations_of_this_version() <= MigrationRecorder(connection).applied_migrations().keys()


@cache
def _migrations_of_this_version() -> frozenset[tuple[str, str]]:
    """Read from the disk once a process: this is asked every few seconds."""
    return frozenset(MigrationLoader(None).graph.nodes)


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Figures for Prometheus, for whoever has BRACEBOOK_METRICS_TOKEN; without one set there is no such page."""
    if not settings.METRICS_TOKEN:
        raise Http404
    given = request.headers.get("Authorization", "").encode(errors="replace")
    if not hmac.compare_digest(given, f"Bearer {settings.METRICS_TOKEN}".encode()):
        return HttpResponse("a token is needed\n", status=401, headers={"WWW-Authenticate": "Bearer"})
    text, content_type = figures.exposition(datetime.now(UTC))
    return HttpResponse(text, content_type=content_type)
