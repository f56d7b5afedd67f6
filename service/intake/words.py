"""Columns of text, of words from the vocabulary, and of names that the book already knows."""

import re
from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext_lazy as _lazy

from fleet.models import Bow, CordSpec, Place, Site, SpecSheet
from service.intake.columns import Column, spelled
from service.intake.desk import Desk, Values, look_up
from service.intake.problems import CellError, nearest
from service.said import say

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_LINE_ENDS = re.compile(r"\s*[\r\n]+\s*")
_BETWEEN_WORDS = re.compile(r"[\s,;+|/]+")
YES = frozenset({"yes", "y", "true", "1"})
NO = frozenset({"no", "n", "false", "0"})
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def cleaned(text: str, max_length: int) -> str:
    """Text on one line, without control characters, no longer than the register keeps it."""
    one_line = _LINE_ENDS.sub(" ", text)
    if _CONTROL.search(one_line):
        raise CellError(say("it holds control characters"), allowed=say("printed characters"), fix=say("type it again"))
    if len(one_line) > max_length:
        raise CellError(
            say("it has %(count)d characters", count=len(one_line)),
            allowed=say("at most %(count)d characters", count=max_length),
            fix=say("shorten it"),
        )
    return one_line


def text(
    field: str, max_length: int, about: str, *, required: bool = False, pattern: str = "", pattern_name: str = ""
) -> Column:
    """Free text on one line; `pattern` must match the whole of it, and `pattern_name` says what it is."""
    wanted = re.compile(pattern)
    at_most = say("at most %(count)d characters", count=max_length)

    def read(typed: str, _unit: str, _values: Values, _desk: Desk) -> str:
        value = cleaned(typed, max_length)
        if pattern and not wanted.fullmatch(value):
            raise CellError(
                say("it is not %(pattern_name)s", pattern_name=pattern_name),
                allowed=pattern_name,
                fix=say("write it that way"),
            )
        return value

    return Column(field, read, about, required=required, allowed=pattern_name or at_most)


def choice(field: str, choices: Mapping[str, Any], about: str, *, required: bool = False) -> Column:
    """One word of the vocabulary: its stored value, or its label as people write it ("single cam")."""

    def read(typed: str, _unit: str, _values: Values, _desk: Desk) -> str:
        return chosen(typed, choices)

    return Column(field, read, about, required=required, allowed=", ".join(choices), options=tuple(choices.items()))


def chosen(typed: str, choices: Mapping[str, Any]) -> str:
    """The stored value that a typed word means; raises CellError with the nearest one."""
    if typed in choices:
        return typed
    word = spelled(typed)
    for value, label in choices.items():
        if word in (value, spelled(str(label))):
            return value
    meant = nearest(word, choices)
    raise CellError(
        say("it is not a word of the vocabulary"),
        allowed=", ".join(choices),
        fix=say("did you mean %(meant)r?", meant=meant) if meant else say("write one of these words"),
    )


def yes_no(field: str, about: str) -> Column:
    """yes or no."""

    def read(typed: str, _unit: str, _values: Values, _desk: Desk) -> bool:
        word = typed.lower()
        if word in YES or word in NO:
            return word in YES
        raise CellError(say("it is neither yes nor no"), allowed=say("yes or no"), fix=say("write yes or no"))

    return Column(
        field,
        read,
        about,
        allowed=say("yes or no"),
        show=lambda value, _unit: "yes" if value else "no",
        options=(("yes", _lazy("yes")), ("no", _lazy("no"))),
    )


def several(field: str, choices: Mapping[str, Any], about: str) -> Column:
    """Words of the vocabulary, separated by spaces; "none" for none of them."""

    def read(typed: str, _unit: str, _values: Values, _desk: Desk) -> tuple[str, ...]:
        if typed.lower() == "none":
            return ()
        return tuple(sorted({chosen(word, choices) for word in _BETWEEN_WORDS.split(typed) if word}))

    return Column(
        field, read, about, allowed=", ".join(choices), show=lambda value, _unit: " ".join(value) if value else "none"
    )


def weekdays(field: str, about: str) -> Column:
    """Weekdays as "mon-fri" or "mon wed sat"; the value is the list of their numbers, Monday = 0."""

    def read(typed: str, _unit: str, _values: Values, _desk: Desk) -> list[int]:
        days: set[int] = set()
        for word in _BETWEEN_WORDS.split(re.sub(r"\s*[-–]\s*", "-", typed.lower())):
            first, _, last = word.partition("-")
            try:
                begin, end = WEEKDAYS.index(first[:3]), WEEKDAYS.index((last or first)[:3])
            except ValueError:
                raise CellError(
                    say("%(word)r is not a weekday", word=word),
                    allowed=", ".join(WEEKDAYS),
                    fix=say("write mon-fri or mon wed sat"),
                ) from None
            days |= {(begin + step) % 7 for step in range((end - begin) % 7 + 1)}
        return sorted(days)

    return Column(
        field,
        read,
        about,
        allowed=", ".join(WEEKDAYS),
        show=lambda value, _unit: " ".join(WEEKDAYS[day] for day in value or ()),
    )


# --- names that the book knows ------------------------------------------------------------------


def site_column(*, required: bool = False) -> Column:
    """The site of the row, by its code."""

    def read(typed: str, _unit: str, _values: Values, desk: Desk) -> Site:
        return look_up(desk.sites, typed, say("site"), "sites")

    about = say("the site's code; else --site, else the bow's own site, else the only site")
    return Column("site", read, about, required=required, show=_code, allowed=say("a site's code"))


def bow_column(*, required: bool = True) -> Column:
    """The bow of the row, by its asset tag."""

    def read(typed: str, _unit: str, _values: Values, desk: Desk) -> Bow:
        return look_up(desk.bows, typed, say("bow"), "bows")

    return Column("tag", read, say("the bow's asset tag"), required=required, allowed=say("a tag in the book"))


def place_column() -> Column:
    """A place of the row's site, by its name."""

    def read(typed: str, _unit: str, values: Values, desk: Desk) -> Place:
        site = desk.site_of(values)
        return look_up(
            {name: place for (site_id, name), place in desk.places.items() if site_id == site.pk}
            if (site.pk, typed) not in desk.places
            else {typed: desk.places[site.pk, typed]},
            typed,
            say("place at %(site)s", site=site.code),
            "places",
        )

    return Column(
        "place", read, say("a rack, locker, trailer or vehicle of the site"), required=True, allowed=say("a place")
    )


def cord_spec_column(*, required: bool = True) -> Column:
    """A cord spec, by its code."""

    def read(typed: str, _unit: str, _values: Values, desk: Desk) -> CordSpec:
        return look_up(desk.cord_specs_at_start, typed, say("cord spec"), "specs")

    return Column("cord_spec", read, say("the cord spec's code"), required=required, allowed=say("a cord spec's code"))


def spec_sheet_column() -> Column:
    """A spec sheet, by its code."""

    def read(typed: str, _unit: str, _values: Values, desk: Desk) -> SpecSheet:
        return look_up(desk.spec_sheets, typed, say("spec sheet"), "specs")

    return Column(
        "spec_sheet", read, say("the spec sheet's code"), required=True, show=_code, allowed=say("a spec sheet's code")
    )


def tool_column(field: str, about: str) -> Column:
    """A measuring tool; the value is its code."""

    def read(typed: str, _unit: str, _values: Values, desk: Desk) -> str:
        return look_up(desk.tools, typed, say("measuring tool"), "tools").code

    return Column(field, read, about, allowed=say("a tool's code"))


def _code(value: Any, _unit: str) -> str:
    return "" if value is None else str(value.code)
