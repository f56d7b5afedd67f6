"""Every form of consequence sent twice, as a double tap or the back button does: one effect, and the second is told."""

import hashlib
import inspect
import re
from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.apps import apps
from django.test import Client
from django.urls import URLPattern, get_resolver

from service.models import Plan, WorkOrder
from tests import personas
from tests.faults.submitted_twice import CASES, CHANGES_NOTHING, ITS_OWN_TESTS, SETS_THE_SAME
from tests.pages.conftest import BACKEND
from tests.pages.reading import Page
from tests.personas import NOW, Shop

pytestmark = pytest.mark.django_db
# Who acts is written down each time; what the shop has done is all the rest.
NOT_FACTS = {"fleet.auditentry", "fleet.audithead", "fleet.person"}


@pytest.fixture
def shop() -> Iterator[Shop]:
    with time_machine.travel(NOW):
        yield personas.shop()


def facts() -> str:
    """A checksum of the register, the orders and the published plans."""
    digest = hashlib.sha256()
    models = [one for one in apps.get_app_config("fleet").get_models() if one._meta.label_lower not in NOT_FACTS]
    for rows in [*(model._base_manager.all() for model in models), WorkOrder.objects.all(), _published()]:
        digest.update(repr(list(rows.order_by("pk").values_list())).encode())
    return digest.hexdigest()


def _published() -> object:
    return Plan.objects.exclude(published_at=None)


@pytest.mark.parametrize("name", CASES)
def test_one_effect_and_the_second_is_told(name: str, shop: Shop) -> None:
    form = CASES[name](shop)
    client = Client()
    client.force_login(form.by, backend=BACKEND)
    before = facts()
    first = client.post(form.address, form.typed, follow=True)
    after = facts()
    assert after != before, Page(first).text
    second = client.post(form.address, form.typed, follow=True)
    assert facts() == after, "sent twice, there twice"
    assert re.search(form.told, Page(second).text), Page(second).text


def test_every_posting_address_is_in_one_of_the_lists() -> None:
    """A new form is either sent twice here, or it stands in a list with what it does the second time."""
    posting = {
        pattern.name
        for pattern in get_resolver().url_patterns
        if isinstance(pattern, URLPattern) and takes_forms(pattern.callback)
    }
    sent_twice = {name.split(".")[0] for name in CASES}
    assert posting == sent_twice | SETS_THE_SAME | CHANGES_NOTHING | ITS_OWN_TESTS.keys()
    assert not sent_twice & (SETS_THE_SAME | CHANGES_NOTHING | ITS_OWN_TESTS.keys())


def takes_forms(view: Callable[..., object]) -> bool:
    """Whether the view, or a function of the pages that it calls, reads what was posted."""
    view = getattr(view, "view_class", view)
    if isinstance(view, type):
        return hasattr(view, "post")
    seen: set[Callable[..., object]] = set()
    ahead = [inspect.unwrap(view)]
    while ahead:
        one = ahead.pop()
        if one in seen or not inspect.isfunction(one) or not one.__module__.startswith("service.pages"):
            continue
        seen.add(one)
        if re.search(r"request\.POST|require_POST|== \"POST\"", inspect.getsource(one)):
            return True
        ahead += [
            inspect.unwrap(found) for name in one.__code__.co_names if callable(found := one.__globals__.get(name))
        ]
    return False
