"""A choice from a list, written out at once: Django's own renders a template for each option, of which a list of
places has hundreds."""

from typing import Any

from django import forms
from django.forms.renderers import BaseRenderer
from django.forms.utils import flatatt
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

SELECTED = mark_safe(" selected")  # nosec B308, B703 - a constant


class PlainSelect(forms.Select):
    """A select whose choices are not in groups."""

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: BaseRenderer | None = None
    ) -> SafeString:
        """The element with its options, as Django's own template writes them."""
        chosen = set(self.format_value(value))
        options = format_html_join(
            "\n",
            '<option value="{}"{}>{}</option>',
            ((key, SELECTED if str(key) in chosen else "", label) for key, label in self.choices),
        )
        return format_html(
            '<select name="{}"{}>{}</select>', name, flatatt(self.build_attrs(self.attrs, attrs)), options
        )
