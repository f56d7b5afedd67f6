"""The page of device tokens: shown once, of this site, revoked."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import record
from fleet.models import DeviceToken
from tests.personas import NOW, Shop


def test_the_secret_is_on_one_answer_alone(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.manager)
    response = client.post("/devices/", {"name": "Lane 3", "scopes": ["shots", "read"]})
    token = DeviceToken.objects.get()
    secret = response.context["secret"]
    assert secret in response.content.decode()
    assert "no-store" in response["Cache-Control"]
    assert (token.site, token.scopes, token.made_by) == (shop.site, ["read", "shots"], shop.manager)
    again = client.get("/devices/").content.decode()
    assert secret not in again and "Lane 3" in again and token.begins in again
    assert Client().get("/api/plan", headers={"Authorization": f"Bearer {secret}"}).status_code == 200


@pytest.mark.parametrize("typed", [{"scopes": []}, {"name": "  "}, {"scopes": ["everything"]}])
def test_what_is_missing_is_said_and_what_was_typed_stays(
    shop: Shop, signed_in: Callable[..., Client], typed: dict[str, object]
) -> None:
    response = signed_in(shop.manager).post("/devices/", {"name": "Lane 3", "scopes": ["shots"], **typed})
    assert response.status_code == 422
    assert 'role="alert"' in response.content.decode()
    assert not DeviceToken.objects.exists()


def test_revoking(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    token, secret = record.make_device_token(by=shop.owner, site=shop.site, name="Lane 3", scopes=["read"], now=NOW)
    assert signed_in(camp.manager).post(f"/devices/{token.pk}/revoke/").status_code == 404
    page = signed_in(shop.manager).post(f"/devices/{token.pk}/revoke/", follow=True)
    assert "is revoked" in page.content.decode()
    assert Client().get("/api/plan", headers={"Authorization": f"Bearer {secret}"}).status_code == 401
    token.refresh_from_db()
    assert token.revoked_by == shop.manager


def test_another_sites_tokens_are_not_shown(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    record.make_device_token(by=shop.owner, site=shop.site, name="Lane 3", scopes=["read"], now=NOW)
    assert "Lane 3" not in signed_in(camp.manager).get("/devices/").content.decode()
