"""Each request has an id: on its answer, in every line that is logged meanwhile, and one line about itself."""

import logging
import re
import time
import uuid
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from service.health.figures import REQUESTS, SECONDS
from service.health.log_ids import current_id

HEADER = "X-Request-ID"
_GIVEN = re.compile(r"[A-Za-z0-9_-]{8,64}")
_QUIET = frozenset({"live", "ready", "metrics"})
logger = logging.getLogger("bracebook.requests")


class RequestIds:
    """Middleware: gives the id, times the request, counts it, logs it.

    The view's name is logged instead of the address: addresses carry tags, references and private tokens.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer the request under its id."""
        given = request.headers.get(HEADER, "") if settings.BEHIND_PROXY else ""
        token = current_id.set(given if _GIVEN.fullmatch(given) else uuid.uuid4().hex)
        began = time.perf_counter()
        try:
            response = self.get_response(request)
            response[HEADER] = current_id.get()
            self._tell(request, response.status_code, time.perf_counter() - began)
            return response
        finally:
            current_id.reset(token)

    @staticmethod
    def _tell(request: HttpRequest, status: int, seconds: float) -> None:
        match = request.resolver_match
        view = match.view_name if match and match.view_name else "none"
        REQUESTS.labels(request.method or "", view, str(status)).inc()
        SECONDS.labels(view).observe(seconds)
        if view not in _QUIET:
            user = getattr(request, "_cached_user", None)
            about = {"method": request.method, "view": view, "status": status, "seconds": round(seconds, 4)}
            logger.info("request", extra={**about, "person": getattr(user, "pk", None)})
