"""The kinds of record that have a form: which kind of file reads each, which columns it shows, in what groups."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.models.specs import ARM_FIELDS
from service.intake.columns import Column
from service.intake.kinds import KINDS
from service.intake.kinds.specs import (
    CORD_COLUMNS,
    CORD_NEEDS,
    CORD_SPEC,
    POSITION_FIELDS,
    SHEET_COLUMNS,
    SHEET_NEEDS,
    SPEC_SHEET,
)
from service.intake.measured import MEASUREMENT_COLUMNS

Words = str | Promise


@dataclass(frozen=True)
class TypedKind:
    """One form. `file_kind`: the kind of file whose row it is; `fields`: the columns it shows (none named: all).

    `given` are cells that nobody types; `groups` maps a field to the heading under which it opens on its own;
    `needs` are fields that this form must have though not every row of its file does.
    """

    file_kind: str
    add: Words
    change: Words
    fields: tuple[str, ...] = ()
    given: Mapping[str, str] = field(default_factory=dict)
    groups: Mapping[str, Words] = field(default_factory=dict)
    needs: tuple[str, ...] = ()

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns of the form, in their order."""
        every = {column.field: column for column in KINDS[self.file_kind].columns}
        return tuple(every[name] for name in self.fields) if self.fields else tuple(every.values())


_CORD_FIELDS = ("code", "maker", *(column.field for column in CORD_COLUMNS))
_MEASURED = tuple(column.field for column in MEASUREMENT_COLUMNS)
_ARMS = tuple(name.removesuffix("_m") for name in ARM_FIELDS)
_STOPS = ("stop_kind", "stop_kind_measured")
_SHEET_FIELDS = (
    "code",
    "maker",
    *(column.field for column in SHEET_COLUMNS if column.field not in (*_ARMS, *_STOPS)),
    *POSITION_FIELDS,
    *_ARMS,
    *_STOPS,
    *_MEASURED,
)
_SHEET_GROUPS: dict[str, Words] = {
    **dict.fromkeys(POSITION_FIELDS, _("Strings and cables it takes")),
    **dict.fromkeys((*_ARMS, *_STOPS), _("Arms and stops, measured with a rule at brace; what is empty is assumed")),
    **dict.fromkeys(_MEASURED, _("The maker's reference values")),
}
TYPED_KINDS: dict[str, TypedKind] = {
    "sites": TypedKind("sites", _("Add a site"), _("Change the house settings")),
    "places": TypedKind("places", _("Add a place"), _("Change a place")),
    "people": TypedKind("people", _("Add a person"), _("Change a person")),
    "presses": TypedKind("presses", _("Add a press"), _("Change a press")),
    "tools": TypedKind("tools", _("Add a measuring tool"), _("Change a measuring tool")),
    "cord-specs": TypedKind(
        "specs",
        _("Add a make of cord"),
        _("Change a make of cord"),
        _CORD_FIELDS,
        {"record": CORD_SPEC},
        {},
        CORD_NEEDS,
    ),
    "spec-sheets": TypedKind(
        "specs",
        _("Add a make of bow"),
        _("Change a make of bow"),
        _SHEET_FIELDS,
        {"record": SPEC_SHEET},
        _SHEET_GROUPS,
        SHEET_NEEDS,
    ),
    "bows": TypedKind("bows", _("Add a bow"), _("Change a bow")),
    "cords": TypedKind("cords", _("Add a string or cable"), _("Change a string or cable")),
    "stays": TypedKind("stays", _("Say where a bow is"), _("Say where a bow is")),
}
