"""Sentences kept with their parts, in templates: a page shows them in the reader's language by itself.

What cuts or joins their text does it to the English: `capfirst`, and a mail, which has no page's escaping.
"""

from collections.abc import Iterable
from datetime import date

from django import template

from service import wording
from service.planning.facts import called_by
from service.said import Said, capital, worded

register = template.Library()


@register.filter
def sentence(text: str) -> str:
    """A text with its first letter large, in the reader's language."""
    return text.as_sentence() if isinstance(text, Said) else capital(str(text))


@register.filter
def in_words(text: str) -> str:
    """A text in the reader's language, where nothing is escaped."""
    return worded(text)


@register.filter
def need_called(lasting: str) -> str:
    """A need of the plan by its lasting name, in the reader's language."""
    return called_by(lasting)


@register.filter
def all_in_words(texts: Iterable[str]) -> str:
    """Texts in the reader's language, one after the other."""
    return "; ".join(worded(text) for text in texts)


@register.filter
def short_day(day: date) -> str:
    """A day in few characters; see `wording.short_day`."""
    return wording.short_day(day)
