"""System checks: bad configuration is named at start, not met at run time."""

import os
import zoneinfo
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Error, register
from django.db import connection

from fleet.vocabulary import Role
from service.embedded import address
from service.embedded.broker import SOCKET_PATH_MAX_BYTES


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


@register()
def public_url_is_an_address_to_go_to(**_kwargs: object) -> list[CheckMessage]:
    """A server may listen everywhere; nobody can go there."""
    if urlsplit(settings.PUBLIC_URL).hostname not in {"0.0.0.0", "::"}:  # nosec B104 - refuses it
        return []
    return [
        Error(
            f"The public address is {settings.PUBLIC_URL}: codes on paper would carry it, and no phone can open it.",
            hint="Set BRACEBOOK_PUBLIC_URL to the address that phones reach, for example https://192.0.2.10:8000",
            id="bracebook.E005",
        )
    ]


@register()
def bind_address_is_readable(**_kwargs: object) -> list[CheckMessage]:
    """`start` and the health checks need both parts of it."""
    try:
        address.from_text(settings.BIND)
    except ValueError as problem:
        return [Error(str(problem), id="bracebook.E006")]
    return []


@register()
def certificate_has_its_key(**_kwargs: object) -> list[CheckMessage]:
    """HTTPS needs both files, readable by this user."""
    given = {"BRACEBOOK_TLS_CERTIFICATE": settings.TLS_CERTIFICATE, "BRACEBOOK_TLS_KEY": settings.TLS_KEY}
    if not any(given.values()):
        return []
    return [
        Error(
            f"{name} is {value!r}: no file that can be read is there.",
            hint="Give a certificate and its key, both PEM and the key in PKCS #8; or neither, for plain HTTP.",
            id="bracebook.E007",
        )
        for name, value in given.items()
        if not (value and os.access(value, os.R_OK) and Path(value).is_file())
    ]


@register()
def broker_socket_path_fits(**_kwargs: object) -> list[CheckMessage]:
    """The system keeps a socket's path in a field of fixed size."""
    length = len(os.fsencode(settings.BROKER_SOCKET))
    if settings.CELERY_BROKER_URL != settings.EMBEDDED_BROKER_URL or length <= SOCKET_PATH_MAX_BYTES:
        return []
    return [
        Error(
            f"The broker's socket {settings.BROKER_SOCKET} has a path of {length} bytes; "
            f"a socket may have {SOCKET_PATH_MAX_BYTES}.",
            hint="Set BRACEBOOK_DATA_DIR to a directory with a shorter path.",
            id="bracebook.E008",
        )
    ]


@register()
def second_factor_is_required_of_roles(**_kwargs: object) -> list[CheckMessage]:
    """A mistyped role would be required of nobody, and nobody would notice."""
    return [
        Error(
            f"BRACEBOOK_SECOND_FACTOR names {name!r}, which is no role.",
            hint=f"Name any of {', '.join(Role.values)}, separated by commas, or none.",
            id="bracebook.E009",
        )
        for name in settings.SECOND_FACTOR_REQUIRED_OF
        if name not in Role.values
    ]
