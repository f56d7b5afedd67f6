"""Sentences with numbers in them, before anybody has chosen the units.

The bench reads fractions of an inch or millimetres, by site. So a phrase keeps its numbers apart, in SI, and
the printing layer formats them; `plain` is the reading of last resort (logs, error messages, tests). Its words are
kept apart as well (`service.said`), so that it can be read in another language.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from service.said import Said, joined, say


class QuantityKind(StrEnum):
    LENGTH_M = "length_m"
    FORCE_N = "force_n"
    HALF_TURNS = "half_turns"
    TURNS = "turns"
    SHOTS = "shots"
    PERCENT = "percent"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number (SI, or a count) and what it is; a tolerance is plus or minus, and never shown wider than it is."""

    value: float
    kind: QuantityKind
    is_tolerance: bool = False

    def __str__(self) -> str:
        scale, pattern = _PLAIN_FORMATS[self.kind]
        return ("±" if self.is_tolerance else "") + pattern.format(self.value * scale)


Phrase = Said


def length(value_m: float) -> Quantity:
    return Quantity(value_m, QuantityKind.LENGTH_M)


def half_turns(count: float) -> Quantity:
    return Quantity(count, QuantityKind.HALF_TURNS)


def listed(words: Sequence[str]) -> str:
    """Join words as a sentence does: `a, b and c`."""
    if len(words) < 2:
        return words[0] if words else ""
    return say("%(first)s and %(last)s", first=joined(", ", words[:-1]), last=words[-1])


def either(words: Sequence[str]) -> str:
    """Join words of which one is meant: `a, b or c`."""
    if len(words) < 2:
        return words[0] if words else ""
    return say("%(first)s or %(last)s", first=joined(", ", words[:-1]), last=words[-1])


_PLAIN_FORMATS: dict[QuantityKind, tuple[float, str]] = {
    QuantityKind.LENGTH_M: (1000.0, "{:.2f} mm"),
    QuantityKind.FORCE_N: (1.0, "{:.1f} N"),
    QuantityKind.HALF_TURNS: (1.0, "{:.0f} half turns"),
    QuantityKind.TURNS: (1.0, "{:.1f} turns"),
    QuantityKind.SHOTS: (1.0, "{:.0f} shots"),
    QuantityKind.PERCENT: (1.0, "{:.1f} %"),
}


def plain(phrase: Phrase) -> str:
    """The phrase in English, in millimetres and newtons."""
    return str(phrase)


def quantities(phrase: Phrase) -> list[Quantity]:
    """The numbers of a phrase and of the phrases inside it, in the order in which its parts were given."""
    found: list[Quantity] = []
    for part in phrase.parts.values():
        if isinstance(part, Quantity):
            found.append(part)
        elif isinstance(part, Said):
            found += quantities(part)
    return found
