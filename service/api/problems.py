"""Problem details (RFC 9457): what was wrong, with the value, what is allowed, the unit and the next step."""

import json
from typing import Any
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse
from ninja import Schema
from pydantic import ConfigDict

from fleet.refusal import OutOfRange, Refused

CONTENT_TYPE = "application/problem+json"
TYPES = {
    "unreadable": ("The request cannot be read", "Send JSON in UTF-8 as the schema describes it."),
    "misshaped": ("The request has the wrong shape", "Compare it with /api/openapi.json and send it again."),
    "no-token": ("No valid token", "Send the header 'Authorization: Bearer TOKEN' with a token that is not revoked."),
    "not-for-this-token": ("The token is not for this", "Ask a manager for a token with the kind that is named."),
    "not-found": ("There is nothing of that name", "Check the name; a token sees its own site alone."),
    "out-of-range": ("A value is out of range", "Check the unit and the digits, then send the item again."),
    "not-a-time": ("A time cannot be read", "Send RFC 3339 with an offset, as in 2026-05-01T09:30:00+02:00."),
    "used-key": ("The key was used for another entry", "Give this entry a key of its own."),
    "refused": ("The book refuses the entry", "Read the detail; correct the entry and send it again."),
    "too-large": ("The request is too large", "Split it into smaller batches."),
    "away": ("The book's database is away", "Keep what you sent, wait as Retry-After says, and send it again."),
    "too-many": ("Too many requests", "Wait for the seconds in the header Retry-After, then send it again."),
}


class Problem(Schema):
    """A problem as RFC 9457 has it; `value`, `allowed`, `unit` and `next_step` are this service's own members."""

    model_config = ConfigDict(extra="allow")

    type: str
    title: str
    status: int
    detail: str
    next_step: str
    value: Any = None
    allowed: str | None = None
    unit: str | None = None


def problem(kind: str, status: int, detail: str, **members: Any) -> dict[str, Any]:
    """A problem of one of TYPES."""
    title, next_step = TYPES[kind]
    given = {name: value for name, value in members.items() if value is not None}
    return {
        "type": f"/api/problems/{quote(kind)}",
        "title": title,
        "status": status,
        "detail": detail,
        "next_step": next_step,
        **given,
    }


def of_refusal(refusal: Refused) -> dict[str, Any]:
    """What the register refused, as a problem of one item."""
    if isinstance(refusal, OutOfRange):
        allowed = f"{refusal.low:.10g} to {refusal.high:.10g}"
        return problem("out-of-range", 422, str(refusal), value=refusal.value, allowed=allowed, unit=refusal.unit)
    return problem("refused", 422, str(refusal))


class Stopped(Exception):
    """The whole request is refused with this problem."""

    def __init__(self, kind: str, status: int, detail: str, headers: dict[str, str] | None = None, **members: Any):
        super().__init__(detail)
        self.content = problem(kind, status, detail, **members)
        self.headers = headers or {}


def respond(request: HttpRequest, stopped: Exception) -> HttpResponse:
    """The answer to a request that was stopped."""
    if not isinstance(stopped, Stopped):
        raise TypeError(f"{stopped!r} is no problem to answer with") from stopped
    status = stopped.content["status"]
    body = json.dumps(stopped.content, allow_nan=False, default=str)
    return HttpResponse(body, status=status, headers=stopped.headers, content_type=CONTENT_TYPE)
