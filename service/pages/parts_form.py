"""What is typed on the parts pages: a movement of stock, a supplier order."""

import uuid
from datetime import datetime
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import CordSpec
from fleet.ranges import ORDER_QUANTITY, STOCK_COUNT
from fleet.vocabulary import MovementKind

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
TIME = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")


def _cord_spec() -> "forms.ModelChoiceField[CordSpec]":
    return forms.ModelChoiceField(CordSpec.objects.all(), to_field_name="code", label=_("Cord"))


class MovementForm(forms.Form):
    """A movement; its key comes with the page, so that the same press of the button twice moves once."""

    cord_spec = _cord_spec()
    kind = forms.ChoiceField(choices=MovementKind.choices, label=_("What happened"))
    quantity = forms.IntegerField(
        min_value=int(STOCK_COUNT.low),
        max_value=int(STOCK_COUNT.high),
        label=_("Cords"),
        help_text=_("for a count: how many lie on the shelf"),
    )
    at = forms.DateTimeField(widget=TIME, label=_("When"))
    order_number = forms.CharField(max_length=24, required=False, label=_("Order or delivery"))
    key = forms.CharField(max_length=64, widget=forms.HiddenInput)


class SupplierOrderForm(forms.Form):
    """Cords ordered at a supplier; the same reference again changes its order."""

    reference = forms.CharField(max_length=40, label=_("Reference"))
    cord_spec = _cord_spec()
    quantity = forms.IntegerField(
        min_value=int(ORDER_QUANTITY.low), max_value=int(ORDER_QUANTITY.high), label=_("Cords")
    )
    ordered_on = forms.DateField(widget=DAY, label=_("Ordered on"))
    expected_on = forms.DateField(widget=DAY, label=_("Expected on"))


def empty_movement(now: datetime, zone: str, code: str = "") -> MovementForm:
    """A form for a movement of just now."""
    at = now.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    return MovementForm(
        initial={"at": at, "key": uuid.uuid4().hex, "cord_spec": code, "kind": MovementKind.COUNTED},
        prefix="movement",
    )


def empty_order(now: datetime, zone: str) -> SupplierOrderForm:
    """A form for an order placed today."""
    today = now.astimezone(ZoneInfo(zone)).date()
    return SupplierOrderForm(initial={"ordered_on": today}, prefix="order")
