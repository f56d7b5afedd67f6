"""One record typed on a page: the columns of its kind of file as fields, read and checked just as a file's row is.

So a form and a file cannot drift apart: the same words, ranges, units and refusals.
"""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.models import CordSpec, MeasuringTool, Place, Site, SpecSheet
from fleet.vocabulary import MeasurementKind
from service.intake import KINDS, Problem, apply, check
from service.intake.columns import EMPTIED, Column
from service.intake.csv_text import CsvForm
from service.intake.kinds.specs import POSITION_FIELDS, about_on_its_rows
from service.intake.tables import Table
from service.measuring import WHERE_TO_MEASURE
from service.pages.access import Here
from service.pages.field_names import name_of
from service.pages.take_in_scope import out_of_scope
from service.pages.typed_kinds import TYPED_KINDS, TypedKind
from service.quantity_refusals import QuantityError
from service.said import capital, worded
from service.units import Units, dimension_of, symbol, unit_shown

DATES = ("in_service_on", "calibration_due_on", "made_on")
INSTANTS = ("taken_at", "fitted_at", "removed_at", "start", "end")
# Fields whose value is picked by name, and what a page says of them in place of what a file does.
NAMED: Mapping[str, str | Promise] = {
    "site": _("the site that it belongs to"),
    "place": _("the rack, locker, trailer or vehicle"),
    "spec_sheet": _("which make of bow it is; a make that is missing is added first"),
    "cord_spec": _("which make of cord it is; a make that is missing is added first"),
}
FROM_THE_BOOK: Mapping[str, type[SpecSheet] | type[CordSpec]] = {"spec_sheet": SpecSheet, "cord_spec": CordSpec}
TOOLS = ("length_tool", "weight_tool")
# The name of the tick box beside a field that may be emptied.
EMPTY = "empty-"


@dataclass
class TypedField:
    """One field of the form: the name of its column and its header, its label and unit, what is typed, what is wrong.

    `suffix` is the unit in the header; `input_type` how the browser lets it be typed.
    """

    name: str
    header: str
    suffix: str
    label: str
    unit: str
    help: str
    allowed: str
    required: bool
    options: tuple[tuple[str, Any], ...]
    input_type: str
    text: str = ""
    fixed: bool = False
    group: str = ""
    known: str = ""
    exact: str = ""
    can_be_emptied: bool = False
    emptied: bool = False
    errors: list[str] = field(default_factory=list)

    @property
    def may_be_emptied(self) -> bool:
        """Whether it holds something that may be taken away."""
        return self.can_be_emptied and bool(self.known) and not self.fixed

    @property
    def cell(self) -> str:
        """What stands in its cell: the word for emptying, or what is typed; nothing leaves what is there.

        What was shown rounded and left alone is what it was, to the last digit.
        """
        if self.emptied:
            return EMPTIED
        typed = " ".join(self.text.split())
        return self.exact if self.exact and typed == self.known else typed

    def read(self, typed: Mapping[str, str]) -> None:
        """Take what was typed. Emptying is said by its tick box, so that it is never a slip of the keyboard."""
        self.text = typed.get(self.header, self.text)
        self.emptied = self.may_be_emptied and EMPTY + self.header in typed
        bare = self.text.strip()
        if self.emptied and bare not in ("", self.known):
            self.errors.append(str(_("It is to be emptied, and something else is typed: untick the box, or clear it.")))
        elif self.may_be_emptied and not self.emptied and not bare:
            self.errors.append(str(_("It was cleared: tick the box to empty it for good, or type it again.")))


@dataclass
class RecordForm:
    """The form of one record. `kind` is the kind of file whose row it is; `given` are cells that nobody types.

    `errors` are those that no field is to blame for.
    """

    kind: str
    title: str
    about: str
    fields: list[TypedField]
    given: Mapping[str, str] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)

    @property
    def slips(self) -> list[TypedField]:
        """The fields with something wrong."""
        return [one for one in self.fields if one.errors]

    @property
    def groups(self) -> list[tuple[str, list[TypedField]]]:
        """The fields under their headings; those without one come first."""
        headings = dict.fromkeys(one.group for one in self.fields)
        return [(heading, [one for one in self.fields if one.group == heading]) for heading in headings]

    def take(self, here: Here | None, by: Any, site: Site | None, now: datetime, *, keep: bool = True) -> bool:
        """Check the typed record and, if nothing is wrong, write it; the faults stand beside their fields."""
        if self.slips:
            return False
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
        header = (*self.given, *(one.header for one in self.fields))
        sheet.writerow(header)
        sheet.writerow([*self.given.values(), *(one.cell for one in self.fields)])
        name = str(self.title)
        return Table(name, text.getvalue().encode(), "csv", header, 1, 1, csv_form=CsvForm("utf-8", ","))

    def _blame(self, problem: Problem) -> None:
        told = ". ".join(filter(None, (capital(worded(problem.why)), _allowed(problem), capital(worded(problem.fix)))))
        blamed = next((one for one in self.fields if one.header == problem.column), None)
        (blamed.errors if blamed else self.errors).append(f"{told}.")


def _allowed(problem: Problem) -> str:
    return str(_("Allowed: %(allowed)s")) % {"allowed": worded(problem.allowed)} if problem.allowed else ""


def form_of(
    kind: str, sites: Iterable[Site], site: Site | None, typed: Mapping[str, str] | None, known: Mapping[str, Any]
) -> RecordForm:
    """The form of a kind, filled with what was typed, else with what is known of the record that is changed.

    A record's own name (tag, code, ...) cannot be changed: another name would be another record.
    """
    about = TYPED_KINDS[kind]
    form = form_with(about, sites, site, known)
    for one in form.fields:
        if typed is not None and not one.fixed:
            one.read(typed)
        elif typed is None and not known and one.header == "site" and site is not None:
            one.text = site.code
    return form


def form_with(about: TypedKind, sites: Iterable[Site], site: Site | None, known: Mapping[str, Any]) -> RecordForm:
    """The form as it opens: empty, or with what is known."""
    file_kind = KINDS[about.file_kind]
    identity = getattr(file_kind, "identity", ())
    system = Units(site.units) if site is not None else Units.IMPERIAL
    fields = []
    for column in about.columns:
        unit = _unit(column, system)
        one = _field(column, unit, list(sites), site)
        one.required = one.required or column.field in about.needs
        one.group = str(about.groups.get(column.field, ""))
        if known and column.field in known:
            value = known[column.field]
            one.known = one.text = value if isinstance(value, str) else column.show(value, unit)
            one.exact = column.exact(value, unit) if column.exact is not None else ""
            one.fixed = column.field in identity
        fields.append(one)
    return RecordForm(about.file_kind, str(about.change if known else about.add), file_kind.about, fields, about.given)


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
        name=column.field,
        suffix=unit,
        header=f"{stem}_{unit}" if unit else stem,
        label=name_of(stem),
        unit=_shown(unit),
        help=_help(column),
        allowed=column.allowed if unit == column.units[0] and not (column.options or column.field in NAMED) else "",
        required=column.required,
        options=_options(column, sites, site),
        input_type="date" if column.field in DATES else "datetime-local" if column.field in INSTANTS else "text",
        can_be_emptied=column.can_be_emptied,
    )


def _help(column: Column) -> str:
    """What to enter, and where it is measured."""
    if column.field in NAMED:
        return str(NAMED[column.field])
    if column.field in MeasurementKind.values:
        return f"{worded(column.about)}: {WHERE_TO_MEASURE[MeasurementKind(column.field)]}"
    return worded(about_on_its_rows(column))


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
        return tuple((row.code, str(row)) for row in rows)
    if column.field in POSITION_FIELDS:
        makes = CordSpec.objects.filter(position=POSITION_FIELDS[column.field]).order_by("code")
        return tuple((spec.code, spec.code) for spec in makes)
    if column.field in TOOLS and site is not None:
        codes = MeasuringTool.objects.filter(site=site).values_list("code", flat=True)
        return tuple((code, code) for code in codes)
    return column.options
