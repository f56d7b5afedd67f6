"""Who may call: the token in the Authorization header (RFC 6750), its site and its kinds of thing."""

from datetime import UTC, datetime

from django.http import HttpRequest
from ninja.security import HttpBearer

from fleet.models import DeviceToken
from fleet.record.devices import hashed, note_use
from fleet.vocabulary import DeviceScope
from service.api import limits
from service.api.problems import Stopped


class Token(HttpBearer):
    """Lets in a token of this scope that is not revoked; the view finds it as `request.auth`."""

    def __init__(self, scope: DeviceScope) -> None:
        super().__init__()
        self.scope = scope

    def __call__(self, request: HttpRequest) -> DeviceToken:
        """The token, or the problem that stops the request."""
        address = request.META.get("REMOTE_ADDR", "")
        limits.require_patience(address)
        token = super().__call__(request)
        if not isinstance(token, DeviceToken):
            limits.note_failure(address)
            raise Stopped(
                "no-token", 401, "The request carries no token that is valid here.", {"WWW-Authenticate": "Bearer"}
            )
        limits.spend_request(token)
        if self.scope not in token.scopes:
            raise Stopped(
                "not-for-this-token",
                403,
                f"{token.name} may {_words(token.scopes)}; this needs: {self.scope.label}.",
                {"WWW-Authenticate": f'Bearer error="insufficient_scope", scope="{self.scope}"'},
                value=token.scopes,
                allowed=str(self.scope),
            )
        return token

    def authenticate(self, request: HttpRequest, token: str) -> DeviceToken | None:
        """The row of this secret."""
        found = DeviceToken.objects.select_related("site", "person")
        row = found.filter(secret_sha256=hashed(token), revoked_at=None).first()
        if row is not None:
            note_use(row, datetime.now(UTC))
        return row


def _words(scopes: list[str]) -> str:
    return ", ".join(str(DeviceScope(scope).label) for scope in scopes)
