"""Codes by time against RFC 6238, appendix B (SHA-1 rows; eight digits, steps of 30 s; typed from memory)."""

import pytest
from django_otp.oath import TOTP

SECRET = b"12345678901234567890"
ROWS = (
    (59, 94287082),
    (1111111109, 7081804),
    (1111111111, 14050471),
    (1234567890, 89005924),
    (2000000000, 69279037),
    (20000000000, 65353130),
)


@pytest.mark.parametrize(("time_s", "code"), ROWS)
def test_the_library_gives_the_codes_of_the_standard(time_s: int, code: int) -> None:
    clock = TOTP(SECRET, step=30, t0=0, digits=8)
    clock.time = time_s
    assert clock.token() == code
