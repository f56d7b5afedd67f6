"""The HTTP API: what devices and programs may call, and its OpenAPI description."""

import json
import logging
from collections import Counter
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse, UnreadablePostError
from django.urls import URLPattern, path
from django.views.decorators.http import require_safe
from ninja import NinjaAPI, Query
from ninja.errors import HttpError, ValidationError
from ninja.parser import Parser

from fleet.models import DeviceToken
from fleet.vocabulary import DeviceScope
from service.api import limits, looking, taking
from service.api.bodies import (
    BatchResult,
    BowDetail,
    BowList,
    DueList,
    OrderList,
    OrdersPage,
    Page,
    PlanNow,
    ReadingsBatch,
    ShotsBatch,
)
from service.api.problems import CONTENT_TYPE, TYPES, Problem, Stopped, respond
from service.api.tokens import Token
from service.database_away import is_away

ABOUT = """Shot counters and temperature loggers send batches; programs read the due list, bows, orders and the plan.

Every call carries `Authorization: Bearer TOKEN`. A token belongs to one site and to kinds of thing. Sending the same
batch again changes nothing. Each item is taken or refused by itself; problems follow RFC 9457.
"""
READS = {200: None, 401: Problem, 403: Problem, 422: Problem, 429: Problem, 503: Problem}
TAKES: dict[int, Any] = {200: BatchResult, 400: Problem, 413: Problem, 415: Problem}
PROBLEMS_SHOWN = 20
COME_BACK_IN_S = 30
LONGEST_VALUE = 200
logger = logging.getLogger(__name__)


class JsonOnly(Parser):
    """Reads JSON alone: a form or a file is told so."""

    def parse_body(self, request: HttpRequest) -> Any:
        """The body as Python values."""
        if request.content_type != "application/json":
            sent = request.content_type or "no type"
            raise Stopped("unreadable", 415, f"The body is {sent}.", value=sent, allowed="application/json")
        return super().parse_body(request)


api = NinjaAPI(
    title="Bracebook",
    version="1",
    description=ABOUT,
    docs_url=None,
    openapi_url=None,
    parser=JsonOnly(),
    urls_namespace="api",
    servers=[{"url": "/", "description": "this book"}],
)


class Call(HttpRequest):
    """A request whose token was accepted; the framework puts the token there."""

    auth: DeviceToken


def _reader(request: Call, *known: str) -> DeviceToken:
    """The token of a reading call; a parameter that it does not know is told, not passed over."""
    for name in request.GET:
        if name not in known:
            allowed = ", ".join(known) or "none"
            raise Stopped(
                "misshaped", 422, f"{name[:LONGEST_VALUE]!r} is no parameter of this call.", value=name, allowed=allowed
            )
    return request.auth


def _batch(results: taking.Results) -> dict[str, Any]:
    counted = Counter(result["status"] for result in results)
    return {name: counted[name] for name in ("added", "known", "refused")} | {"items": results}


@api.post("/shots", response={**READS, **TAKES}, auth=Token(DeviceScope.SHOTS), url_name="shots", exclude_none=True)
def send_shots(request: Call, batch: ShotsBatch) -> dict[str, Any]:
    """Send shots that a counter counted."""
    limits.spend_items(request.auth, len(batch.items))
    return _batch(taking.take_shots(request.auth, batch.items, datetime.now(UTC)))


@api.post(
    "/readings", response={**READS, **TAKES}, auth=Token(DeviceScope.READINGS), url_name="readings", exclude_none=True
)
def send_readings(request: Call, batch: ReadingsBatch) -> dict[str, Any]:
    """Send temperatures that a logger logged."""
    limits.spend_items(request.auth, len(batch.items))
    return _batch(taking.take_readings(request.auth, batch.items, datetime.now(UTC)))


@api.get("/due", response={**READS, 200: DueList}, auth=Token(DeviceScope.READ), url_name="due")
def due(request: Call, page: Query[Page]) -> dict[str, Any]:
    """Every fitted cord of the site, the soonest replacement first."""
    return looking.due_list(_reader(request, "limit", "offset").site, page.limit, page.offset)


@api.get("/bows", response={**READS, 200: BowList}, auth=Token(DeviceScope.READ), url_name="bows")
def bows(request: Call, page: Query[Page]) -> dict[str, Any]:
    """The site's bows, and whether each may go out."""
    return looking.bow_list(_reader(request, "limit", "offset").site, page.limit, page.offset, datetime.now(UTC))


@api.get("/bows/{tag}", response={**READS, 200: BowDetail, 404: Problem}, auth=Token(DeviceScope.READ), url_name="bow")
def bow(request: Call, tag: str) -> dict[str, Any]:
    """One bow with its needs and cords."""
    site = _reader(request).site
    found = None if "\x00" in tag else looking.bow_detail(site, tag, datetime.now(UTC))
    if found is None:
        raise Stopped(
            "not-found",
            404,
            f"There is no bow {tag[:LONGEST_VALUE]!r} in service at {site}.",
            value=tag[:LONGEST_VALUE],
        )
    return found


@api.get("/orders", response={**READS, 200: OrderList}, auth=Token(DeviceScope.READ), url_name="orders")
def orders(request: Call, page: Query[OrdersPage]) -> dict[str, Any]:
    """Work orders, the latest day first."""
    return looking.order_list(_reader(request, "limit", "offset", "day").site, page.limit, page.offset, page.day)


@api.get("/plan", response={**READS, 200: PlanNow}, auth=Token(DeviceScope.READ), url_name="plan")
def plan(request: Call) -> dict[str, Any]:
    """The latest published plan, else the draft."""
    return looking.plan_now(_reader(request).site)


@api.exception_handler(Stopped)
def _stopped(request: HttpRequest, stopped: Stopped) -> HttpResponse:
    return respond(request, stopped)


@api.exception_handler(ValidationError)
def _misshaped(request: HttpRequest, error: ValidationError) -> HttpResponse:
    """Each fault with a JSON pointer (RFC 6901) to its place."""
    faults = [{"pointer": _place(one["loc"]), "detail": one["msg"]} for one in error.errors]
    first = faults[0] if faults else {"pointer": "#/", "detail": "unknown"}
    detail = f"{first['pointer']}: {first['detail']}. {len(faults)} such in all."
    return respond(request, Stopped("misshaped", 422, detail, errors=faults[:PROBLEMS_SHOWN]))


def _place(location: tuple[str | int, ...]) -> str:
    """Where a fault is: in the body as a JSON pointer, else the name of the parameter."""
    return "#/" + "/".join(str(part) for part in location[2:]) if location[0] == "body" else str(location[-1])


@api.exception_handler(HttpError)
def _unreadable(request: HttpRequest, error: HttpError) -> HttpResponse:
    # The library wraps whatever reading the body raised.
    cause = error.__cause__
    if not isinstance(cause, Stopped):
        cause = Stopped("unreadable", error.status_code, error.message)
    return respond(request, cause)


@api.exception_handler(RequestDataTooBig)
@api.exception_handler(TooManyFieldsSent)
def _too_large(request: HttpRequest, error: Exception) -> HttpResponse:
    return respond(request, Stopped("too-large", 413, "The body is larger than what is taken in one request."))


@api.exception_handler(UnreadablePostError)
def _cut_off(request: HttpRequest, error: UnreadablePostError) -> HttpResponse:
    return respond(request, Stopped("unreadable", 400, "The body ended before it was whole."))


@api.exception_handler(OperationalError)
@api.exception_handler(InterfaceError)
def _away(request: HttpRequest, error: Exception) -> HttpResponse:
    """The batch may be in the book or not: a key makes sending it again harmless."""
    if not is_away(error):
        raise error
    logger.error("the database is away", exc_info=error)
    wait = {"Retry-After": str(COME_BACK_IN_S)}
    return respond(request, Stopped("away", 503, "The database does not answer, or has no room left.", wait))


@login_not_required
@require_safe
def openapi(request: HttpRequest) -> JsonResponse:
    """The OpenAPI 3.1 description of all this."""
    return JsonResponse(description())


def description() -> dict[str, Any]:
    """The description; problems have a media type of their own (RFC 9457)."""
    # Plain types alone: what comes out is written as JSON, and read again by those who call.
    schema: dict[str, Any] = json.loads(json.dumps(api.get_openapi_schema(path_prefix="api/"), default=str))
    for methods in schema["paths"].values():
        for operation in methods.values():
            for status, answer in operation["responses"].items():
                if int(status) >= 400 and "application/json" in answer.get("content", {}):
                    answer["content"] = {CONTENT_TYPE: answer["content"]["application/json"]}
    return schema


@login_not_required
@require_safe
def problem_type(request: HttpRequest, kind: str) -> JsonResponse:
    """What a problem's `type` means, at the address that it is."""
    if kind not in TYPES:
        return JsonResponse({"title": "There is no such problem"}, status=404)
    title, next_step = TYPES[kind]
    return JsonResponse({"type": request.path, "title": title, "next_step": next_step})


def addresses() -> list[URLPattern]:
    """The addresses below /api/. A call needs its token, not a person's sign-in."""
    calls = [pattern for pattern in api.urls[0] if isinstance(pattern, URLPattern) and pattern.name != "api-root"]
    for pattern in calls:
        pattern.callback = login_not_required(pattern.callback)
    return [
        *calls,
        path("openapi.json", openapi, name="openapi"),
        path("problems/<str:kind>", problem_type, name="problem-type"),
    ]
