"""The French catalogue is whole: every string of the code is in it, translated and compiled."""

import gettext
from datetime import date
from functools import cache

import pytest
from babel.dates import get_day_names, get_month_names
from babel.messages.catalog import Catalog
from django.utils import translation
from django.utils.formats import date_format

from tests import translations


@cache
def there() -> Catalog:
    return translations.catalogue()


@cache
def wanted() -> dict[translations.Message, list[str]]:
    return translations.messages()


def test_strings_are_found_in_modules_and_templates() -> None:
    found = {message.text: files for message, files in wanted().items()}
    assert "service/needs.py" in found["held since %(day)s: %(detail)s"]
    assert "templates/base.html" in found["Skip to the page"]
    assert len(found) > 2_000


def test_every_string_is_in_the_catalogue_and_translated() -> None:
    lacking = [
        f"{message.text!r} ({files[0]})"
        for message, files in wanted().items()
        if (known := there().get(message.key, message.context)) is None or not all(translations._strings(known.string))
    ]
    assert lacking == [], "translate these: run `python -m tests.translations`, then fill what is empty"


def test_nothing_is_left_for_a_second_look() -> None:
    assert [message.id for message in there() if message.id and message.fuzzy] == []


def test_a_translation_puts_in_what_its_string_does() -> None:
    wrong = []
    for message in there():
        if not message.id:
            continue
        strings = message.id if isinstance(message.id, tuple) else (message.id,)
        known = set().union(*map(translations.placeholders, strings))
        for translated in translations._strings(message.string):
            if translations.placeholders(translated) - known:
                wrong.append((strings[0], translated))
        if isinstance(message.id, str) and translations.placeholders(str(message.string)) != known:
            wrong.append((strings[0], message.string))
    assert wrong == []


def test_the_compiled_catalogue_says_the_same() -> None:
    with translations.COMPILED.open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    for message in there():
        if not message.id:
            continue
        singular = message.id[0] if isinstance(message.id, tuple) else message.id
        strings = translations._strings(message.string)
        if isinstance(message.id, tuple):
            said = tuple(compiled.ngettext(*message.id, count) for count in (1, 2))
        elif message.context:
            said = (compiled.pgettext(message.context, singular),)
        else:
            said = (compiled.gettext(singular),)
        assert said == strings, singular


@pytest.mark.parametrize("month", range(1, 13))
def test_a_word_of_ours_takes_no_months_name(month: int) -> None:
    """A string of one word is looked up for the parts of a date as well: "May" is a month before it is a permission."""
    with translation.override("fr"):
        assert date_format(date(2026, month, 9), "F") == get_month_names("wide", locale="fr")[month]


@pytest.mark.parametrize("day", range(7))
def test_a_word_of_ours_takes_no_weekdays_name(day: int) -> None:
    with translation.override("fr"):
        assert date_format(date(2026, 6, 1 + day), "l").lower() == get_day_names("wide", locale="fr")[day]
