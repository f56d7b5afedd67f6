"""A shop on a fixed day, and how a test signs in to it."""

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.test import Client

from fleet.models import Person
from service import decide
from tests import personas
from tests.personas import Shop

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture(autouse=True)
def _at_now() -> Iterator[None]:
    """The pages' clock stands at the personas' day; it runs on from there."""
    with time_machine.travel(personas.NOW):
        yield


@pytest.fixture
def shop(db: None) -> Shop:
    """Larkspur Range, imperial."""
    return personas.shop()


@pytest.fixture
def camp(shop: Shop) -> Shop:
    """A second site with people of its own, metric."""
    return personas.shop("ridgecamp", units="metric", paper="a4", time_zone="Europe/Zurich")


@pytest.fixture
def signed_in() -> Callable[..., Client]:
    """A client signed in as somebody; `enforce_csrf_checks=True` makes it as strict as a browser's request."""

    def sign_in(person: Person, **options: bool) -> Client:
        client = Client(**options)
        client.force_login(person, backend=BACKEND)
        return client

    return sign_in


@pytest.fixture
def computed() -> Callable[[], int]:
    """Computes wear and needs of everything, as the worker would after the facts came in."""
    return lambda: decide.rebuild(personas.NOW)
