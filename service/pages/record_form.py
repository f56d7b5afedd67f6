"""One record typed on a page: the columns of its kind of file as fields, read and checked just as a file's row is.

So a form and a file cannot drift apart: the same words, ranges, units and refusals.
"""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.models import CordSpec, Place, Site, SpecSheet
from fleet.vocabulary import MeasurementKind
from service.intake import KINDS, Problem, apply, check
from service.intake.columns import Column
from service.intake.csv_text import CsvForm
from service.intake.tables import Table
from service.measuring import WHERE_TO_MEASURE
from service.pages.access import Here
from service.pages.take_in_scope import out_of_scope
from service.units import QuantityError, Units, dimension_of, symbol, unit_shown

# The kinds whose records are one row each; references and makes are several rows that belong together.
TYPED_KINDS = ("sites", "places", "people", "presses", "tools", "bows", "cords", "stays")
TITLES: Mapping[str, tuple[str | Promise, str | Promise]] = {
    "sites": (_("Add a site"), _("Change the house settings")),
    "places": (_("Add a place"), _("Change a place")),
    "people": (_("Add a person"), _("Change a person")),
    "presses": (_("Add a press"), _("Change a press")),
    "tools": (_("Add a measuring tool"), _("Change a measuring tool")),
    "bows": (_("Add a bow"), _("Change a bow")),
    "cords": (_("Add a string or cable"), _("Change a string or cable")),
    "stays": (_("Say where a bow is"), _("Say where a bow is")),
}
DATES = ("in_service_on", "calibration_due_on", "made_on")
# Fields whose value is picked by name, and what a page says of them in place of what a file does.
NAMED: Mapping[str, str | Promise] = {
    "site": _("the site that it belongs to"),
    "place": _("the rack, locker, trailer or vehicle"),
    "spec_sheet": _("which make of bow it is; a make that is missing comes by file first"),
    "cord_spec": _("which make of cord it is; a make that is missing comes by file first"),
}
FROM_THE_BOOK: Mapping[str, type[models.Model]] = {"spec_sheet": SpecSheet, "cord_spec": CordSpec}


@dataclass
class TypedField:
    """One field of the form: the header that it stands for, its label and unit, what is typed, what is wrong."""

    header: str
    label: str
    unit: str
    help: str
    allowed: str
    required: bool
    options: tuple[tuple[str, Any], ...]
    is_day: bool
    text: str = ""
    fixed: bool = False
    errors: list[str] = field(default_factory=list)


@dataclass
class RecordForm:
    """The form of one record. `errors` are those that no field is to blame for."""

    kind: str
    title: str
    about: str
    fields: list[TypedField]
    errors: list[str] = field(default_factory=list)

    @property
    def slips(self) -> list[TypedField]:
        """The fields with something wrong."""
        return [one for one in self.fields if one.errors]

    def take(self, here: Here | None, by: Any, site: Site | None, now: datetime, *, keep: bool = True) -> bool:
        """Check the typed record and, if nothing is wrong, write it; the faults stand beside their fields."""
        table = self._table()
        foreign = out_of_scope(self.kind, table, by) if here is not None else []
        found = (apply if keep and not foreign else check)(self.kind, table, by=by, now=now, site=site)
        for problem in [*foreign, *found.problems]:
            self._blame(problem)
        return found.clean and not foreign

    def _table(self) -> Table:
        """The typed record as a file of one row."""
        text = io.StringIO()
        sheet = csv.writer(text)
        header = tuple(one.header for one in self.fields)
        sheet.writerow(header)
        sheet.writerow([" ".join(one.text.split()) for one in self.fields])
        name = str(self.title)
        return Table(name, text.getvalue().encode(), "csv", header, 1, 1, csv_form=CsvForm("utf-8", ","))

    def _blame(self, problem: Problem) -> None:
        told = ". ".join(filter(None, (problem.why[:1].upper() + problem.why[1:], _allowed(problem), _fix(problem))))
        blamed = next((one for one in self.fields if one.header == problem.column), None)
        (blamed.errors if blamed else self.errors).append(f"{told}.")


def _allowed(problem: Problem) -> str:
    return str(_("Allowed: %(allowed)s")) % {"allowed": problem.allowed} if problem.allowed else ""


def _fix(problem: Problem) -> str:
    return problem.fix[:1].upper() + problem.fix[1:]


def form_of(
    kind: str, sites: Iterable[Site], site: Site | None, typed: Mapping[str, str] | None, known: Mapping[str, Any]
) -> RecordForm:
    """The form of a kind, filled with what was typed, else with what is known of the record that is changed.

    A record's own name (tag, code, ...) cannot be changed: another name would be another record.
    """
    about = KINDS[kind]
    identity = getattr(about, "identity", ())
    system = Units(site.units) if site is not None else Units.IMPERIAL
    fields = []
    for column in about.columns:
        unit = _unit(column, system)
        one = _field(column, unit, list(sites), site)
        if known and column.field in known:
            value = known[column.field]
            one.text = value if isinstance(value, str) else column.show(value, unit)
            one.fixed = column.field in identity
        if typed is not None and not one.fixed:
            one.text = typed.get(one.header, one.text)
        elif typed is None and not known and column.field == "site" and site is not None:
            one.text = site.code
        fields.append(one)
    title = TITLES[kind][1 if known else 0]
    return RecordForm(kind, str(title), about.about, fields)


def _unit(column: Column, system: Units) -> str:
    """The unit in which the site reads a column, if it may be given in it."""
    for unit in column.units:
        try:
            if unit and unit_shown(dimension_of(unit), system) == unit:
                return unit
        except QuantityError:
            break
    return column.units[0]


def _field(column: Column, unit: str, sites: list[Site], site: Site | None) -> TypedField:
    stem = column.stem or column.field
    return TypedField(
        header=f"{stem}_{unit}" if unit else stem,
        label=stem.replace("_", " "),
        unit=_shown(unit),
        help=_help(column),
        allowed=column.allowed if unit == column.units[0] and not (column.options or column.field in NAMED) else "",
        required=column.required,
        options=_options(column, sites, site),
        is_day=column.field in DATES,
    )


def _help(column: Column) -> str:
    """What to enter, and where it is measured."""
    if column.field in NAMED:
        return str(NAMED[column.field])
    if column.field in MeasurementKind.values:
        return f"{column.about}: {WHERE_TO_MEASURE[MeasurementKind(column.field)]}"
    return column.about


def _shown(unit: str) -> str:
    try:
        return symbol(unit) if unit else ""
    except QuantityError:
        return unit.replace("_", " ")


def _options(column: Column, sites: list[Site], site: Site | None) -> tuple[tuple[str, Any], ...]:
    if column.field == "site":
        return tuple((one.code, one.name) for one in sites)
    if column.field == "place" and site is not None:
        return tuple((name, name) for name in Place.objects.filter(site=site).values_list("name", flat=True))
    if column.field in FROM_THE_BOOK:
        rows = FROM_THE_BOOK[column.field]._default_manager.order_by("code")
        return tuple((row.code, str(row)) for row in rows)  # type: ignore[attr-defined]
    return column.options
