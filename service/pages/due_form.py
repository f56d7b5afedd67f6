"""The form that narrows the due list."""

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _plain
from django.utils.translation import gettext_lazy as _

from fleet.models import CordSpec, Site
from fleet.vocabulary import BowKind, BowState, Position
from service.coefficient_names import coefficient_name
from service.due_list import ASSUMED_NAMES, DueWanted, Rests, When
from service.pages.narrowing import ANY, LONGEST_TEXT, choice, day
from service.templatetags.bench import whereabouts

# Fields that stand behind "More filters"; the list says so while one of them narrows it.
FURTHER = ("kind", "spec", "place", "state", "rests", "from", "until")


WHEN_WORDS = {When.PAST: _("to be replaced now"), When.SOON: _("due soon")}


class DueForm(forms.Form):
    """What can be looked for; every field may stay empty. `from` and `until` are made in the constructor."""

    find = forms.CharField(required=False, max_length=LONGEST_TEXT, label=_("Tag, serial or lot"))
    cord = choice(_("Cord"), [("", _("all")), *Position.choices])
    kind = choice(_("Kind of bow"), [ANY, *BowKind.choices])
    spec = choice(_("Cord spec"))
    place = choice(_("Place"))
    state = choice(_("Where the bow is"))
    rests = choice(_("What the date rests on"))

    def __init__(self, site: Site, data: QueryDict | None = None) -> None:
        super().__init__(data)
        self.fields["from"] = day(_("Replace by, from"))
        self.fields["until"] = day(_("to"))
        self.fields["find"].widget = forms.TextInput({"type": "search", "size": 16, "autocomplete": "off"})
        specs = CordSpec.objects.values_list("code", flat=True)
        self._offer("spec", [(code, code) for code in specs])
        self._offer("place", [(str(pk), name) for pk, name in site.places.values_list("pk", "name")])
        self._offer("state", [(value, whereabouts(value)) for value in BowState.values if value != BowState.RETIRED])
        grounds: list[tuple[str, Any]] = [
            (Rests.ASSUMED.value, _("anything assumed")),
            (Rests.ARMS.value, _("a geometry nobody measured")),
            (Rests.KNOWN.value, _("nothing assumed")),
        ]
        self._offer("rests", [*grounds, *((name, coefficient_name(name)) for name in ASSUMED_NAMES)])
        for field in self.fields.values():
            field.widget.attrs.setdefault("autocomplete", "off")

    def _offer(self, name: str, choices: list[tuple[str, Any]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [ANY, *choices]

    @property
    def wanted(self) -> DueWanted:
        """What is looked for; a field that cannot be read narrows nothing, and says so beside itself."""
        self.full_clean()
        got: dict[str, Any] = self.cleaned_data
        first: date | None = got.get("from")
        return DueWanted(
            text=got.get("find", "").strip(),
            position=got.get("cord", ""),
            bow_kind=got.get("kind", ""),
            cord_spec=got.get("spec", ""),
            place_id=int(got["place"]) if got.get("place") else None,
            state=got.get("state", ""),
            rests=got.get("rests", ""),
            first_day=first,
            last_day=got.get("until"),
        )

    def in_words(self, query: QueryDict) -> str:
        """What narrows the list, as a person reads it: each filter with its name."""
        words = [
            f"{field.label}: {_chosen(field, str(query[name]))}"
            for name, field in self.fields.items()
            if query.get(name)
        ]
        if query.get("when") in list(When):
            words.append(str(WHEN_WORDS[When(str(query["when"]))]))
        return "; ".join(words) or _plain("all of it")

    @property
    def further(self) -> list[forms.BoundField]:
        """The fields behind "More filters"."""
        return [self[name] for name in FURTHER]

    @property
    def further_used(self) -> int:
        """How many of them narrow the list."""
        return sum(bool(self.data.get(name)) for name in FURTHER)


def _chosen(field: forms.Field, value: str) -> str:
    """The name of a chosen word; any other text as it is."""
    choices: Any = field.choices if isinstance(field, forms.ChoiceField) else ()
    return next((str(name) for key, name in choices if str(key) == value), value)
