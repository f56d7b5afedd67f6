"""System checks: bad configuration is named at start, not met at run time."""

import zoneinfo
from pathlib import Path

from django.conf import settings
from django.core.checks import CheckMessage, Error, register
from django.db import connection


@register()
def data_directory_is_writable(**_kwargs: object) -> list[CheckMessage]:
    """The book, its key and its photos live in one directory."""
    directory = Path(settings.DATA_DIR)
    try:
        directory.mkdir(parents=True, exist_ok=True)
        probe = directory / ".write-probe"
        probe.write_text("")
        probe.unlink()
    except OSError as problem:
        return [
            Error(
                f"The data directory {directory} cannot be written: {problem.strerror}.",
                hint="Set BRACEBOOK_DATA_DIR to a directory that this user may write.",
                id="bracebook.E001",
            )
        ]
    return []


@register()
def public_url_has_a_scheme(**_kwargs: object) -> list[CheckMessage]:
    """Codes on paper and labels carry this address."""
    if settings.PUBLIC_URL.startswith(("http://", "https://")):
        return []
    return [
        Error(
            f"BRACEBOOK_PUBLIC_URL is {settings.PUBLIC_URL!r}: it must start with http:// or https://.",
            hint="Give the address that phones reach, for example https://192.0.2.10:8000",
            id="bracebook.E002",
        )
    ]


@register()
def time_zones_are_known(**_kwargs: object) -> list[CheckMessage]:
    """Without time-zone data no day of a site can be told."""
    if "Europe/Paris" in zoneinfo.available_timezones():
        return []
    return [Error("No time-zone data was found.", hint="Install the package tzdata.", id="bracebook.E003")]


@register()
def database_engine_is_supported(**_kwargs: object) -> list[CheckMessage]:
    """The constraints that no ORM expresses are written for two engines."""
    if connection.vendor in {"sqlite", "postgresql"}:
        return []
    return [
        Error(
            f"The database engine {connection.vendor!r} is not supported.",
            hint="Use sqlite:// or postgres:// in BRACEBOOK_DATABASE_URL.",
            id="bracebook.E004",
        )
    ]
