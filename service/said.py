"""Sentences that can be said again in another language. Pure: the calculations speak with it.

A sentence with its reason in numbers is put together where the numbers are, and read later by somebody whose language
nobody knew then. `say` keeps the pattern and the parts beside the English text: a `Said` *is* that English text, to
logs, to files, to programs and to whoever joins it to more text; a page that shows it, and `worded`, say it in the
reader's language. What is English alone (a maker's title, a person's note) stays as it was written.

A part is text, a whole number, a day, a figure with its unit (`figure`: its decimal mark follows the reader), a moment
on a named clock (`moment`), or another sentence. The names of patterns stand in the catalogue by the calls themselves:
give literals.
"""

import html
import json
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

Parts = Mapping[str, Any]
_MARK = "say:"
KEPT_IN_MIND = 4096
"""Sentences that a process keeps ready, by what a column held: half a kilobyte or so each, none ever changed."""
# Not an ellipsis, nor the step up in a path.
_TWO_STOPS = re.compile(r"(?<![./])\.\.(?![./])")


class Figure(str):
    """A number as text, with or without its unit: "0.86", "844.5 mm", "24 1/2 turns"."""

    __slots__ = ()

    def __html__(self) -> str:
        """The number as the reader writes it, for a page."""
        return html.escape(worded(self))


class Moment(str):
    """A moment on a clock, which is named: "2026-11-03 14:05 CET"."""

    __slots__ = ()

    def parts(self) -> tuple[datetime, str]:
        """The clock's own time, and the clock's name."""
        day, hour, clock = self.split(" ", 2)
        return datetime.fromisoformat(f"{day}T{hour}"), clock


class Said(str):
    """An English sentence that knows its pattern, the pattern of more than one (if it counts), and its parts."""

    pattern: str
    many: str
    parts: Parts
    large: bool

    def __new__(cls, pattern: str, parts: Parts, many: str = "", large: bool = False) -> "Said":
        """The sentence; `many` is its pattern where parts["count"] is not one, `large` begins it with a capital."""
        text = one_stop((many if many and parts["count"] != 1 else pattern) % parts)
        said = super().__new__(cls, capital(text) if large else text)
        said.pattern, said.parts, said.many, said.large = pattern, parts, many, large
        return said

    def __getnewargs__(self) -> tuple[Any, ...]:
        return self.pattern, self.parts, self.many, self.large

    def as_sentence(self) -> "Said":
        """The same, its first letter large in whatever language."""
        return Said(self.pattern, self.parts, self.many, True)

    def __html__(self) -> str:
        """The sentence in the reader's language, for a page."""
        return html.escape(worded(self))


def one_stop(text: str) -> str:
    """The text with one full stop where a part ends in one ("max.") and the pattern follows with its own."""
    return _TWO_STOPS.sub(".", text)


def capital(text: str) -> str:
    """The text with its first letter large and the others as they are."""
    return text[:1].upper() + text[1:]


def say(pattern: str, /, **parts: Any) -> Said:
    """A sentence of a pattern ("held since %(day)s: %(detail)s"; a per cent sign is typed twice) and its parts."""
    return Said(pattern, parts)


def say_many(one: str, many: str, /, count: int, **parts: Any) -> Said:
    """A sentence that counts: its pattern for one, for more than one, and `count`, which either may name."""
    return Said(one, {"count": count, **parts}, many)


def mark(pattern: str) -> str:
    """A pattern that is said elsewhere; the call only puts it in the catalogue."""
    return pattern


# What stands between sentences: a language may want a space before it.
SEMICOLON, COLON = mark("; "), mark(": ")


def figure(value: float, form: str = "g") -> Figure:
    """A number as a part, in Python's format: `figure(0.861, ".2f")`."""
    return Figure(format(value, form))


def moment(at: datetime, zone: str) -> Moment:
    """A moment as a part, on the clock of a zone ("Europe/Lisbon")."""
    return Moment(f"{at.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M %Z}")


def joined(between: str, sentences: Iterable[str]) -> Said:
    """Sentences one after the other, each said in the reader's language."""
    parts = {f"part{i}": one for i, one in enumerate(sentences)}
    pattern = "%(between)s".join(f"%({name})s" for name in parts)
    return Said(pattern, {**parts, "between": say(between)})


# --- kept -------------------------------------------------------------------------------------------


def kept(text: str) -> str:
    """A sentence as text to keep: `heard` makes the same of it again. Plain text stays as it is."""
    return _MARK + json.dumps(_plain(text), ensure_ascii=False, separators=(",", ":")) if _knows(text) else text


def heard(text: str) -> str:
    """What was kept, as a sentence again; plain text stays as it is."""
    return _heard(text) if text.startswith(_MARK) else text


# A draft's hundreds of reasons are read by every page of the day, and most say the same of another bow's same cord.
@lru_cache(maxsize=KEPT_IN_MIND)
def _heard(text: str) -> str:
    try:
        found = _part(json.loads(text.removeprefix(_MARK)))
        return found if isinstance(found, str) else text
    except (ValueError, KeyError, TypeError):
        return text  # somebody typed that


def to_keep(text: str) -> str:
    """The same for a column: what a person typed comes back as they typed it, even if it looks like a kept sentence."""
    return kept(Said("%(typed)s", {"typed": text}) if text.startswith(_MARK) and not _knows(text) else text)


def to_keep_deep(value: Any) -> Any:
    """Lists and dictionaries with every text in them as a column keeps it."""
    return _deep(value, to_keep)


def kept_deep(value: Any) -> Any:
    """Lists and dictionaries with every sentence in them as text to keep."""
    return _deep(value, kept)


def heard_deep(value: Any) -> Any:
    """Lists and dictionaries with every kept sentence in them as a sentence again."""
    return _deep(value, heard)


def _deep(value: Any, of_text: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return of_text(value)
    if isinstance(value, dict):
        return {key: _deep(one, of_text) for key, one in value.items()}
    return [_deep(one, of_text) for one in value] if isinstance(value, list | tuple) else value


def _knows(text: str) -> bool:
    return isinstance(text, Said | Figure)


def _plain(part: Any) -> Any:
    if isinstance(part, Said):
        parts = {name: _plain(one) for name, one in part.parts.items()}
        more: list[Any] = [part.many, part.large] if part.large else [part.many] if part.many else []
        return [part.pattern, parts, *more]
    if isinstance(part, Figure):
        return {"figure": str(part)}
    if isinstance(part, Moment):
        return {"moment": str(part)}
    return {"day": part.isoformat()} if isinstance(part, date) else part if isinstance(part, int) else str(part)


def _part(value: Any) -> Any:
    if isinstance(value, list):
        pattern, parts, *more = value
        return Said(pattern, {name: _part(one) for name, one in parts.items()}, *more)
    if isinstance(value, dict):
        if "moment" in value:
            return Moment(value["moment"])
        return Figure(value["figure"]) if "figure" in value else date.fromisoformat(value["day"])
    return value


# --- read -------------------------------------------------------------------------------------------

_word: Callable[[Said | Figure], str] = str


def speak_with(word: Callable[[Said | Figure], str]) -> None:
    """Say from now on sentences with this function; it knows the reader's language. Without one they are English."""
    global _word
    _word = word


def worded(text: str) -> str:
    """A text for the person who reads it now: a sentence in their language, plain text as it is."""
    return _word(text) if isinstance(text, Said | Figure) else text
