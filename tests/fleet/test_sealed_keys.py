"""The key of a second factor stands sealed in the book and in its backups, and opens on this machine alone."""

import pytest
from django.db import connection
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.models import SealedDevice
from fleet.record.second_factor import accepts, has_second_factor
from fleet.sealed_keys import opened, sealed
from tests.fleet.acts import code_now, take_second_factor
from tests.personas import Shop

KEY = "31" * 20


def in_the_column(person_id: int) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT key FROM otp_totp_totpdevice WHERE user_id = %s", [person_id])
        return str(cursor.fetchone()[0])


def test_the_column_has_no_key_in_it(shop: Shop) -> None:
    take_second_factor(shop.manager, KEY)
    kept = in_the_column(shop.manager.pk)
    assert KEY not in kept and len(kept) == 72
    assert opened(kept, shop.manager.pk) == bytes.fromhex(KEY)


def test_somebody_elses_row_does_not_open_it() -> None:
    assert opened(sealed(KEY, 1), 2) is None


def test_another_secret_key_does_not_open_it_and_a_recovery_code_still_does(shop: Shop, settings: object) -> None:
    codes = take_second_factor(shop.manager, KEY)
    settings.SECRET_KEY = "another"  # type: ignore[attr-defined]
    assert has_second_factor(shop.manager), "the password alone opens nothing"
    assert not accepts(shop.manager, code_now(KEY))
    assert accepts(shop.manager, codes[0])


def test_a_key_of_a_version_before_works_and_is_sealed_when_it_is_used(shop: Shop) -> None:
    TOTPDevice.objects.create(user=shop.manager, name="app", key=KEY, confirmed=True)
    assert in_the_column(shop.manager.pk) == KEY
    assert accepts(shop.manager, code_now(KEY))
    assert opened(in_the_column(shop.manager.pk), shop.manager.pk) == bytes.fromhex(KEY)
    assert in_the_column(shop.manager.pk) != KEY


def test_a_key_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="one of 20 bytes"):
        sealed("31", 1)


def test_the_code_of_a_sealed_key_opens_once(shop: Shop) -> None:
    take_second_factor(shop.manager, KEY)
    device = SealedDevice.objects.get(user=shop.manager)
    SealedDevice.objects.filter(pk=device.pk).update(last_t=-1)
    assert accepts(shop.manager, code_now(KEY))
    assert not accepts(shop.manager, code_now(KEY))
