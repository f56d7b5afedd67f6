"""What is typed on the guests pages: a booking, or what a walk-in needs, in the site's own units."""

from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import Bow, Site
from fleet.ranges import DRAW_LENGTH, PEAK_WEIGHT, SHOTS
from fleet.vocabulary import Hand
from service.pages.parts_form import TIME
from service.quantity_refusals import QuantityError
from service.units import Dimension as Counted
from service.units import Units, read_quantity, unit_shown

LISTED_BOWS = 60
"""A site with more bows has the tag typed."""
TYPED = {"draw_length": DRAW_LENGTH, "peak_weight_min": PEAK_WEIGHT, "peak_weight_max": PEAK_WEIGHT}


class NeedForm(forms.Form):
    """What a guest needs, from when to when. Lengths and weights are read in the site's units."""

    hand = forms.ChoiceField(choices=[("", _("either")), *Hand.choices], required=False, label=_("Hand"))
    draw_length = forms.CharField(max_length=20, required=False)
    peak_weight_min = forms.CharField(max_length=20, required=False)
    peak_weight_max = forms.CharField(max_length=20, required=False)
    expected_shots = forms.IntegerField(min_value=int(SHOTS.low), max_value=int(SHOTS.high), label=_("Shots expected"))
    start = forms.DateTimeField(widget=TIME, label=_("From"))
    end = forms.DateTimeField(widget=TIME, label=_("To"))

    def __init__(self, site: Site, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system = Units(site.units)
        length, weight = unit_shown(Counted.LENGTH, self.system), unit_shown(Counted.FORCE, self.system)
        self.fields["draw_length"].label = _("Draw length, %(unit)s") % {"unit": length}
        self.fields["peak_weight_min"].label = _("Peak weight from, %(unit)s") % {"unit": weight}
        self.fields["peak_weight_max"].label = _("Peak weight to, %(unit)s") % {"unit": weight}

    def clean_draw_length(self) -> float | None:
        """In metres."""
        return self._quantity("draw_length", Counted.LENGTH)

    def clean_peak_weight_min(self) -> float | None:
        """In newtons."""
        return self._quantity("peak_weight_min", Counted.FORCE)

    def clean_peak_weight_max(self) -> float | None:
        """In newtons."""
        return self._quantity("peak_weight_max", Counted.FORCE)

    def _quantity(self, name: str, dimension: Counted) -> float | None:
        typed, allowed = self.cleaned_data[name].strip(), TYPED[name]
        if not typed:
            return None
        unit = unit_shown(dimension, self.system)
        try:
            return read_quantity(typed, unit, name=allowed.name, low=allowed.low, high=allowed.high)
        except QuantityError as problem:
            raise forms.ValidationError(str(problem)) from problem

    def clean(self) -> dict[str, Any]:
        """The two ends of each range in order."""
        given = super().clean() or {}
        start, end = given.get("start"), given.get("end")
        if isinstance(start, datetime) and isinstance(end, datetime) and end <= start:
            self.add_error("end", _("It ends before it begins: swap the two, or choose a later end."))
        low, high = given.get("peak_weight_min"), given.get("peak_weight_max")
        if low is not None and high is not None and low > high:
            self.add_error("peak_weight_max", _("The heaviest is lighter than the lightest: swap the two."))
        return given

    def needed(self) -> dict[str, Any]:
        """What the verb takes (SI)."""
        given = self.cleaned_data
        return {
            "hand": given["hand"],
            "draw_length_m": given["draw_length"],
            "peak_weight_min_n": given["peak_weight_min"],
            "peak_weight_max_n": given["peak_weight_max"],
            "expected_shots": given["expected_shots"],
        }


class BookingForm(NeedForm):
    """A booking: the very bow, or what the guest needs; a name only if the shop needs one."""

    reference = forms.CharField(max_length=40, label=_("Reference"))
    guest_name = forms.CharField(
        max_length=60, required=False, label=_("Guest’s name"), help_text=_("erased by itself after the house’s days")
    )
    PLACES = ("reference", "start", "end", "hand", "draw_length", "peak_weight_min", "peak_weight_max",
                   "expected_shots", "bow", "guest_name")  # fmt: skip

    def __init__(self, site: Site, *args: Any, **kwargs: Any) -> None:
        super().__init__(site, *args, **kwargs)
        bows = Bow.objects.filter(site=site, retirement=None)
        self.fields["bow"] = forms.ModelChoiceField(
            bows,
            to_field_name="tag",
            required=False,
            label=_("This very bow"),
            empty_label=_("any that fits"),
            error_messages={
                "invalid_choice": _("%(value)s is not the tag of a bow in service at this site: look at the bow’s tag.")
            },
        )
        if bows[LISTED_BOWS : LISTED_BOWS + 1]:
            # A list of thousands takes longer to send and to look through than a tag takes to type.
            self.fields["bow"].widget = forms.TextInput(attrs={"maxlength": 20, "autocapitalize": "characters"})
            self.fields["bow"].help_text = _("its tag; empty: any that fits")
        self.order_fields(self.PLACES)
