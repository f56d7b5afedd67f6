"""A device's name is one open token's at its site: the database itself refuses another, in words."""

from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from fleet import record
from fleet.models import DeviceToken, Person
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, Shop


def make(shop: Shop, name: str = "Lane 3") -> DeviceToken:
    return record.make_device_token(by=shop.owner, site=shop.site, name=name, scopes=["shots"], now=NOW)[0]


def test_a_name_is_given_once_at_a_site_until_it_is_revoked(shop: Shop) -> None:
    first = make(shop)
    with pytest.raises(Refused, match="Lane 3 has a token already: revoke it, or choose another name"):
        make(shop, " Lane 3 ")
    assert Person.objects.filter(username__startswith="device-").count() == 1
    make(personas.shop("ridgecamp"))
    record.revoke_device_token(by=shop.owner, token=first, now=NOW)
    record.revoke_device_token(by=shop.owner, token=make(shop), now=NOW)
    make(shop)
    assert DeviceToken.objects.filter(site=shop.site, name="Lane 3").count() == 3


def test_the_database_refuses_what_got_past_the_look(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two who looked at the same instant: the second one's row is refused, in words, and leaves nothing."""
    make(shop)
    monkeypatch.setattr("django.db.models.query.QuerySet.exists", lambda _: False)
    with pytest.raises(Refused, match="reload the page, look at what is there"):
        make(shop)
    monkeypatch.undo()
    assert (DeviceToken.objects.count(), Person.objects.filter(username__startswith="device-").count()) == (1, 1)


def test_a_revoked_one_cannot_be_opened_beside_another(shop: Shop) -> None:
    first = make(shop)
    record.revoke_device_token(by=shop.owner, token=first, now=NOW)
    make(shop)
    with pytest.raises(IntegrityError), transaction.atomic():
        DeviceToken.objects.filter(pk=first.pk).update(revoked_at=None)


def test_the_same_names_of_an_older_book_are_numbered(shop: Shop) -> None:
    """The step itself, on rows that a version before the constraint could write."""
    migration: Any = import_module("fleet.migrations.0016_a_devices_name_once")
    long = "A" * 60
    made = [make(shop, name) for name in ("Lane 3", "b", "c", long, "e")]
    connection.check_constraints()  # a table with checks still to come cannot be altered
    with connection.cursor() as cursor:
        cursor.execute("DROP INDEX device_token_name_once")
    for token, name in zip(made[1:3], ("Lane 3", "Lane 3"), strict=True):
        DeviceToken.objects.filter(pk=token.pk).update(name=name)
    DeviceToken.objects.filter(pk=made[4].pk).update(name=long)
    migration.number_the_same(apps, None)
    connection.check_constraints()
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE UNIQUE INDEX device_token_name_once ON fleet_devicetoken (site_id, name) WHERE revoked_at IS NULL"
        )
    names = list(DeviceToken.objects.order_by("pk").values_list("name", flat=True))
    ending = f" ({made[4].pk})"
    assert names[:4] == ["Lane 3", f"Lane 3 ({made[1].pk})", f"Lane 3 ({made[2].pk})", long]
    assert names[4] == "A" * (60 - len(ending)) + ending


def test_a_name_is_erased_from_two_devices_that_would_then_be_called_the_same(shop: Shop) -> None:
    ada = record.put_person(
        by=shop.owner, username="a.quist", display_name="Ada Quist", site=shop.site, role="technician"
    )
    tokens = [make(shop, name) for name in ("Ada Quist counter", "ADA QUIST counter")]
    assert record.erase_person(by=shop.owner, person=ada, now=NOW) == []
    names = set(DeviceToken.objects.values_list("name", flat=True))
    plain = f"person {ada.pk} counter"
    assert names in [{plain, f"{plain} ({token.pk})"} for token in tokens]
    shown = Person.objects.filter(device_token__in=tokens).values_list("display_name", flat=True)
    assert list(shown) == [plain, plain]
