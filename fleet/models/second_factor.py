"""The second factor's device with its key sealed."""

from typing import Any

from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.sealed_keys import is_sealed, opened, sealed


class SealedDevice(TOTPDevice):
    """django-otp's device and table; the key stands there sealed and is opened to verify a code."""

    key: str
    user_id: int

    class Meta:
        proxy = True

    @property
    def bin_key(self) -> bytes:
        """The key's bytes; no key opens nothing, for all its codes are as likely as any."""
        key = opened(self.key, self.user_id)
        if key is None:
            raise SealedElsewhere
        return key

    def verify_token(self, token: Any) -> bool:
        """Whether this is the code of the moment. A key that does not open here has none."""
        try:
            return bool(super().verify_token(token))
        except SealedElsewhere:
            return False

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep the key sealed, whoever made it."""
        if not is_sealed(self.key):
            self.key = sealed(self.key, self.user_id)
        super().save(*args, **kwargs)


class SealedElsewhere(Exception):
    """A key that this machine's secret key does not open."""
