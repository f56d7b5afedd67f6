"""One signed-in browser (or one device) over a connection that is kept, and how long each answer took."""

import http.client
import re
import time
from dataclasses import dataclass, field
from urllib.parse import urlencode

from tests.personas import PASSWORD

PATIENCE_S = 90.0
NO_ANSWER = 599


@dataclass(frozen=True)
class Answer:
    """One answer: what was asked, its status (NO_ANSWER: none came), seconds until its last byte, and its text."""

    kind: str
    status: int
    seconds: float
    text: str

    def hidden(self, name: str) -> str:
        """The value of a hidden field of the page."""
        found = re.search(rf'name="{name}" value="([^"]*)"', self.text)
        assert found is not None, f"no field {name} in the answer {self.status} to {self.kind}: {self.text[:300]}"
        return found.group(1)


@dataclass
class Browser:
    """Asks one thing after the other; `answers` is shared by the whole crowd."""

    port: int
    answers: list[Answer]
    cookies: dict[str, str] = field(default_factory=dict)
    bearer: str = ""
    _connection: http.client.HTTPConnection | None = None

    def sign_in(self, username: str) -> "Browser":
        """With the password; what that takes is not part of any figure."""
        aside: list[Answer] = []
        other = Browser(self.port, aside, self.cookies)
        token = other.ask("sign in", "/sign-in/").hidden("csrfmiddlewaretoken")
        form = {"username": username, "password": PASSWORD, "csrfmiddlewaretoken": token}
        assert other.ask("sign in", "/sign-in/", urlencode(form)).status == 302
        assert "sessionid" in self.cookies
        return self

    def again(self) -> "Browser":
        """The same person on a second connection."""
        return Browser(self.port, self.answers, dict(self.cookies), self.bearer)

    def ask(self, kind: str, path: str, body: str | None = None, content: str = "") -> Answer:
        """Get a page, or post a form (or JSON, with its content type)."""
        begun = time.monotonic()
        try:
            status, text = self._exchange(path, body, content)
        except (OSError, http.client.HTTPException) as problem:
            status, text = NO_ANSWER, repr(problem)
            self._connection = None
        answer = Answer(kind, status, time.monotonic() - begun, text)
        self.answers.append(answer)
        return answer

    def _exchange(self, path: str, body: str | None, content: str) -> tuple[int, str]:
        if self._connection is None:
            self._connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        self._connection.request("GET" if body is None else "POST", path, body, self._headers(path, body, content))
        response = self._connection.getresponse()
        text = response.read().decode(errors="replace")
        for name, value in response.getheaders():
            if name.lower() == "set-cookie":
                key, _, rest = value.partition("=")
                self.cookies[key] = rest.partition(";")[0]
        return response.status, text

    def _headers(self, path: str, body: str | None, content: str) -> dict[str, str]:
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if self.bearer:
            headers["Authorization"] = f"Bearer {self.bearer}"
        if body is not None:
            headers["Content-Type"] = content or "application/x-www-form-urlencoded"
            headers["X-CSRFToken"] = self.cookies.get("csrftoken", "")
            if path.startswith("/turnaround/"):
                headers["Accept"] = "application/json"
        return headers
