"""The form that narrows the list of orders."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from fleet.models import Person, Site
from service.models import OrderStatus
from service.order_list import OrdersWanted, people_at
from service.pages.narrowing import ANY, LONGEST_TEXT, choice, day

ALL_SITES = "all"


class OrderListForm(forms.Form):
    """What can be looked for; every field may stay empty. `from` and `until` are made in the constructor.

    `sites` are those whose orders the person may see, the one that they look at first.
    """

    find = forms.CharField(
        required=False,
        max_length=LONGEST_TEXT,
        label=_("Bow or order"),
        widget=forms.TextInput({"type": "search", "size": 16}),
    )
    status = choice(_("Status"), [ANY, *OrderStatus.choices])

    def __init__(self, sites: Sequence[Site], data: QueryDict) -> None:
        super().__init__(data)
        self.sites = {site.code: site for site in sites}
        people = list(people_at(sites))
        # Somebody who left is no choice any more; a link to their orders still leads there.
        asked = data.get("technician", "")
        if asked and asked not in {one.username for one in people}:
            people += Person.objects.filter(username=asked)
        self.fields["technician"] = choice(_("Technician"), [ANY, *((one.username, str(one)) for one in people)])
        if len(sites) > 1:
            others = [(site.code, str(site)) for site in sites[1:]]
            self.fields["sites"] = choice(_("Site"), [("", str(sites[0])), *others, (ALL_SITES, _("all my sites"))])
        self.fields["from"] = day(_("From"))
        self.fields["until"] = day(_("to"))
        for field in self.fields.values():
            field.widget.attrs.setdefault("autocomplete", "off")

    @property
    def wanted(self) -> OrdersWanted:
        """What is looked for; a field that cannot be read narrows nothing, and says so beside itself."""
        self.full_clean()
        got: dict[str, Any] = self.cleaned_data
        first: date | None = got.get("from")
        every = tuple(self.sites.values())
        asked = got.get("sites", "")
        return OrdersWanted(
            sites=every if asked == ALL_SITES else (self.sites.get(asked, every[0]),),
            text=got.get("find", "").strip(),
            status=got.get("status", ""),
            technician=got.get("technician", ""),
            first_day=first,
            last_day=got.get("until"),
        )
