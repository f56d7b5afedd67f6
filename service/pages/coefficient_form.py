"""The form that sets one coefficient of a cord spec, or takes the spec's own value back."""

import math
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from service.coefficient_names import LABELS
from service.spec_coefficients import InForce
from service.wear.coefficients import Label, validate

LONGEST_TEXT = 300
SET, BACK = "set", "back"
# A shop's own measurement is what this page is for: it comes first.
ORDER = (Label.OWN_MEASUREMENT, Label.PUBLISHED, Label.COMMON_PRACTICE, Label.ASSUMED)


class CoefficientForm(forms.Form):
    """Value, how it is known, where it comes from, and why it is set; taking back needs the reason alone."""

    value = forms.CharField(required=False, max_length=40, label=gettext_lazy("Value"))
    label = forms.ChoiceField(required=False, label=gettext_lazy("How it is known"))
    source = forms.CharField(required=False, max_length=LONGEST_TEXT, label=gettext_lazy("Where it comes from"))
    why = forms.CharField(required=False, max_length=LONGEST_TEXT, label=gettext_lazy("Why it is set"))

    def __init__(self, one: InForce, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.one = one
        choices = self.fields["label"]
        if isinstance(choices, forms.ChoiceField):
            choices.choices = [(str(label), str(LABELS[label])) for label in ORDER]

    @property
    def takes_back(self) -> bool:
        """Whether the spec's own value is to be taken back."""
        return self.data.get("action") == BACK

    def clean_value(self) -> float | None:
        """The number typed, inside the plausible range."""
        typed = str(self.cleaned_data["value"]).strip()
        if self.takes_back:
            return None
        try:
            value = float(typed.replace(",", "."))
        except ValueError:
            value = math.nan
        try:
            return validate(self.one.default, value)
        except ValueError as problem:
            raise ValidationError(self._refused(typed)) from problem

    def _refused(self, typed: str) -> str:
        default = self.one.default
        told = {
            "typed": typed or _("nothing"),
            "low": f"{default.low:g}",
            "high": f"{default.high:g}",
            "unit": "" if default.unit == "1" else f" {default.unit}",
        }
        return (
            _("%(typed)s: allowed is a number from %(low)s to %(high)s%(unit)s. Check the unit, or keep the value.")
            % told
        )

    def clean_label(self) -> str:
        """One of the four words; taking back needs none."""
        label = str(self.cleaned_data["label"])
        if not label and not self.takes_back:
            raise ValidationError(_("Say how the value is known."))
        return label

    def clean_source(self) -> str:
        """Where a value comes from: a value without a source is lost."""
        source = str(self.cleaned_data["source"]).strip()
        if not source and not self.takes_back:
            raise ValidationError(_("Say where the value comes from: a trial of your own, a data sheet, a paper."))
        return source

    def clean_why(self) -> str:
        """The reason, for whoever reads the history."""
        why = str(self.cleaned_data["why"]).strip()
        if not why:
            raise ValidationError(_("Write why, for whoever reads the history next year."))
        return why
