"""A bow's reference sets: every version with the current one marked, and a form for the next one."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet import lookups
from fleet.models import Bow, ReferenceSet
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, BowKind, MeasurementKind, Role
from service.intake import KINDS
from service.intake.columns import Column
from service.intake.measured import FAMILIES, HOUSE_TOLERANCES, TOLERANCE, fields_of
from service.orders.wording import within
from service.pages.access import Here, bow_page
from service.pages.record_form import RecordForm, TypedField, form_with
from service.pages.typed_kinds import TypedKind
from service.units import Units, from_si, mixed_fraction

HEAD = ("origin", "taken_at", "length_tool", "weight_tool")
FINEST = 64  # divisions of an inch on a bench rule
A_HAIR = 1e-6
# What only a bow with cams has. Common practice, no source.
OF_CAMS = frozenset(
    {
        MeasurementKind.AXLE_TO_AXLE,
        MeasurementKind.HOLDING_WEIGHT,
        MeasurementKind.LET_OFF,
        MeasurementKind.PEEP_HEIGHT,
        MeasurementKind.HOLE_DISTANCE_UPPER,
        MeasurementKind.HOLE_DISTANCE_LOWER,
        MeasurementKind.TIMING_MARK_UPPER,
        MeasurementKind.TIMING_MARK_LOWER,
        MeasurementKind.STOP_SYNC,
    }
)


@dataclass(frozen=True)
class Line:
    """One measurement of the form: its kind, the field of its value and that of its tolerance, the house's own."""

    kind: str
    value: TypedField
    tolerance: TypedField
    house: str


@bow_page(Role.TECHNICIAN)
def references(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """The versions, and the form: it opens with what is current, so that only what changed is typed."""
    form = _form(bow, lookups.current_reference_set(bow), request.POST if request.method == "POST" else None)
    # Who may is settled by the bow's page itself: a technician is no manager, whose files name any bow of the site.
    if request.method == "POST" and form.take(None, here.person, bow.site, datetime.now(UTC)):
        now_current = lookups.current_reference_set(bow)
        version = now_current.version if now_current else 0
        told = _("Version %(version)d is the reference of %(tag)s now.") % {"version": version, "tag": bow.tag}
        messages.success(request, told, extra_tags="good")
        return redirect("references", tag=bow.tag)
    sets = ReferenceSet.objects.filter(bow=bow).select_related("taken_by").prefetch_related("measurements__tool")
    content = {
        "bow": bow,
        "form": form,
        "head": [one for one in form.fields if one.name in HEAD],
        "lines": _lines(form, Units(bow.site.units)),
        "sets": sets.order_by("-version"),
    }
    return render(request, "desk/references.html", content, status=422 if form.slips or form.errors else 200)


def families_of(bow: Bow, there: Iterable[str]) -> list[str]:
    """The measurements that the bow can have, by field, and those that its set has besides."""
    positions = POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system]
    has_cams = bow.spec_sheet.bow_kind == BowKind.COMPOUND
    return [
        field
        for field, (kind, position) in FAMILIES.items()
        if field in there or ((not position or position in positions) and (has_cams or kind not in OF_CAMS))
    ]


def _form(bow: Bow, current: ReferenceSet | None, typed: Mapping[str, str] | None) -> RecordForm:
    there = fields_of(current.measurements.all()) if current else {}
    shown = [one for family in families_of(bow, there) for one in (family, family + TOLERANCE)]
    about = TypedKind(
        "references",
        gettext_lazy("A new reference set"),
        gettext_lazy("A new reference set"),
        (*HEAD, *shown),
        {"tag": bow.tag},
    )
    form = form_with(about, (bow.site,), bow.site, {})
    columns = {column.field: column for column in KINDS["references"].columns}
    for one in form.fields:
        # What a version leaves out is simply not in it: nothing here is emptied.
        one.can_be_emptied = False
        if one.name == "taken_at":
            one.text = timezone.localtime().strftime("%Y-%m-%dT%H:%M")
        elif one.name in there:
            column, value = columns[one.name], there[one.name]
            one.known = one.text = _as_typed(value, one.suffix, column)
            one.exact = column.exact(value, one.suffix) if column.exact is not None else ""
        if typed is not None:
            one.read(typed)
            if one.options and one.text and one.text not in dict(one.options):
                one.errors.append(_("It is none of those to choose from at this site: choose one."))
    return form


def _as_typed(value: float, unit: str, column: Column) -> str:
    """A value as a rule is read where it stands on a division; else in decimals, so that keeping it changes nothing."""
    if unit != "in":
        return column.show(value, unit)
    inches = from_si(value, unit)
    on_division = abs(inches * FINEST - round(inches * FINEST)) < A_HAIR
    return mixed_fraction(inches, FINEST) if on_division else column.show(value, unit)


def _lines(form: RecordForm, system: Units) -> list[Line]:
    by_field: dict[str, Any] = {one.name: one for one in form.fields}
    lines = []
    for field, (kind, _position) in FAMILIES.items():
        if field in by_field:
            house = HOUSE_TOLERANCES.get(kind)
            told = within(kind, house, system) if house is not None else ""
            lines.append(Line(kind, by_field[field], by_field[field + TOLERANCE], told))
    return lines
