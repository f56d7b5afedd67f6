"""Sentences kept with their parts (`service.said`) in the language of whoever reads them now."""

from datetime import date, datetime
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import timezone, translation
from django.utils.formats import date_format, get_format
from django.utils.functional import Promise
from django.utils.translation import gettext, ngettext

from service.said import Figure, Moment, Said, capital, one_stop, say, worded

__all__ = ["day_here", "in_words", "localised", "moment_here", "named", "short_day", "short_moment", "worded"]


def in_words(said: Said | Figure) -> str:
    """A sentence in the language that is spoken now. English stays the text that files and programs get as well."""
    if isinstance(said, Figure):
        return localised(said)
    if (translation.get_language() or "en").startswith("en"):
        return str(said)
    pattern = ngettext(said.pattern, said.many, said.parts["count"]) if said.many else gettext(said.pattern)
    text = one_stop(pattern % {name: _part(part) for name, part in said.parts.items()})
    return capital(text) if said.large else text


def localised(figure: str) -> str:
    """A number as text, with its unit, as it is written in the language that is spoken now."""
    mark = str(get_format("DECIMAL_SEPARATOR"))
    if mark == ".":
        return str(figure)
    return _turns(figure.translate({ord("."): mark, ord(","): "\N{NO-BREAK SPACE}"}))


def short_day(day: date) -> str:
    """A day in few characters, for paper: as the language writes it; in English by ISO 8601, which nobody misreads."""
    if (translation.get_language() or "en").startswith("en"):
        return day.isoformat()
    return date_format(day, "SHORT_DATE_FORMAT")


def short_moment(moment: datetime) -> str:
    """A moment on its own clock, which is named: "3 nov. 2026 14:05 CET"; in English by ISO 8601."""
    if (translation.get_language() or "en").startswith("en"):
        return f"{moment:%Y-%m-%d %H:%M %Z}"
    return f"{date_format(moment, 'SHORT_DATETIME_FORMAT')} {moment:%Z}"


def moment_here(moment: datetime, zone: str = "") -> str:
    """A moment for who reads it now, on the clock of a zone, which is named.

    Without a zone it is that of the site whose page it is, in programs UTC.
    """
    return short_moment(timezone.localtime(moment, ZoneInfo(zone) if zone else None))


def day_here(moment: datetime) -> str:
    """The day of a moment, on the same clock."""
    return short_day(timezone.localtime(moment).date())


def _part(part: Any) -> str | int:
    if isinstance(part, Said):
        return in_words(part)
    if isinstance(part, Figure):
        return localised(part)
    if isinstance(part, Moment):
        at, clock = part.parts()
        return f"{date_format(at, 'SHORT_DATETIME_FORMAT')} {clock}"
    if isinstance(part, date):
        return date_format(part, "DATE_FORMAT")
    return part if isinstance(part, int) else str(part)


def _turns(figure: str) -> str:
    """Turns are the one unit that is a word."""
    number, _, unit = figure.rpartition(" ")
    return f"{number} {gettext(unit)}" if unit in ("turn", "turns") else figure


@lru_cache(maxsize=500)
def named(label: str | Promise) -> Said:
    """A name of the vocabulary as a part of a sentence, whatever language is spoken where it is put together."""
    with translation.override("en"):
        return say(str(label).replace("%", "%%"))
