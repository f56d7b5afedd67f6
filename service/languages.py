"""In which language a person is spoken to: the one they chose, else the one that their browser asks for.

Programs are spoken to in English whatever they ask: the answers of the API are a format that others rely on.
"""

from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist
from django.http import HttpRequest, HttpResponseBase
from django.utils import translation

from fleet.models import Person, ScreenChoice

FOR_PROGRAMS = ("/api/", "/health/", "/metrics")


def screen_of(person: Person) -> ScreenChoice | None:
    """How a person likes the screen; None where they have not chosen. Looked up once for each person at hand."""
    try:
        return person.screen
    except ObjectDoesNotExist:
        return None


def language_of(person: Person | None) -> str:
    """The language for a person who is not at a browser now: for a mail, or a calendar."""
    choice = screen_of(person) if person is not None else None
    return (choice.language if choice else "") or settings.LANGUAGE_CODE


class PersonsLanguage:
    """Middleware: what a signed-in person chose goes before what their browser asks for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Speak the person's language while the request is answered."""
        language = self._language(request)
        if language:
            translation.activate(language)
            request.LANGUAGE_CODE = translation.get_language()
        return self.get_response(request)

    def _language(self, request: HttpRequest) -> str:
        if request.path.startswith(FOR_PROGRAMS):
            return settings.LANGUAGE_CODE
        # Without a session's cookie there is nobody to look up, and pages for nobody do without the database.
        if settings.SESSION_COOKIE_NAME not in request.COOKIES or not isinstance(request.user, Person):
            return ""
        choice = screen_of(request.user)
        return choice.language if choice else ""
