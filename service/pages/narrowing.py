"""Fields of the forms that narrow a list: each may stay empty and then narrows nothing."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from service.pages.plain_select import PlainSelect

ANY = ("", _("any"))
LONGEST_TEXT = 80


def choice(label: Any, choices: Any = ()) -> forms.ChoiceField:
    """One of some values."""
    return forms.ChoiceField(required=False, label=label, choices=choices, widget=PlainSelect)


def day(label: Any) -> forms.DateField:
    """A day."""
    return forms.DateField(
        required=False,
        label=label,
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": _("This is not a day: write it as YYYY-MM-DD.")},
    )
