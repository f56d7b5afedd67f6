"""The form of a notice: what it is about, whether it holds, by when it is answered."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.models import Notice, SpecSheet


class NoticeForm(forms.Form):
    """What a manager types for a notice. `about` are the fields that choose its bows."""

    title = forms.CharField(max_length=120, label=_("What it says, in one line"))
    text = forms.CharField(
        required=False, max_length=4000, label=_("What is to be done on each bow"), widget=forms.Textarea({"rows": 4})
    )
    issued_on = forms.DateField(label=_("Issued on"), widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"))
    spec_sheet = forms.ModelChoiceField(
        SpecSheet.objects.all(), required=False, label=_("Make of bow"), empty_label=_("any make")
    )
    serial_from = forms.CharField(required=False, max_length=40, label=_("Bow serials from"))
    serial_to = forms.CharField(required=False, max_length=40, label=_("to"))
    cord_lot = forms.CharField(required=False, max_length=40, label=_("Lot of a string or cable"))
    holds = forms.BooleanField(required=False, label=_("hold every bow that it matches at once"))
    due_on = forms.DateField(
        required=False,
        label=_("Answered by"),
        help_text=_("needed if it does not hold"),
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
    )

    def clean(self) -> dict[str, Any]:
        """A notice without a hold has a day; one about nothing is refused by the verb, in its own words."""
        cleaned = super().clean() or {}
        if not cleaned.get("holds") and cleaned.get("due_on") is None and "due_on" not in self.errors:
            raise ValidationError({"due_on": _("Give the day by which each bow is answered, or hold them at once.")})
        return cleaned

    @property
    def draft(self) -> Notice:
        """The notice as typed, not saved."""
        return Notice(**self.cleaned_data)
