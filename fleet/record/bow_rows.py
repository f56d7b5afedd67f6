"""Every row of the register that tells about one bow, in an order in which each row follows what it points at.

Used to carry a bow's whole record out of a book and into another. People stand by their user name, sites by their
code; all other rows keep their number, which counts only within the record.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import Q, QuerySet

from fleet.models import (
    BenchVisit,
    Booking,
    Bow,
    BowArm,
    CheckPhoto,
    Cord,
    CordReset,
    CordSpec,
    Deferral,
    FactoryReference,
    Fitting,
    Hire,
    Hold,
    Incident,
    MeasuringTool,
    Notice,
    NoticeMatch,
    Person,
    Place,
    ReferenceMeasurement,
    ReferenceSet,
    Relaxation,
    Release,
    ResultMeasurement,
    Retirement,
    SetUp,
    Shots,
    SignedResult,
    Site,
    SpecSheet,
    SpecSheetCord,
    Stay,
    TemperatureReading,
    TurnaroundCheck,
    VehicleParking,
)
from fleet.record.kernel import plain


@dataclass(frozen=True)
class Table:
    """One kind of row: which of them tell about a bow, and by which fields a row is known in any book.

    A row with `known_by` that the other book already has is the same thing there (a cord spec, a place); one
    without is the bow's own and is always added.
    """

    model: type[models.Model]
    rows: Callable[[Bow], QuerySet[Any]]
    known_by: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """How the record calls it: the model's name with underscores."""
        return str(self.model._meta.verbose_name).replace(" ", "_")


def _of_bow(model: type[models.Model], *path: str) -> Table:
    """Rows that point at the bow through a path of foreign keys."""
    lookup = "__".join((*path, "bow"))
    return Table(model, lambda bow: model._default_manager.filter(**{lookup: bow}))


def _specs(bow: Bow) -> QuerySet[CordSpec]:
    return CordSpec.objects.filter(Q(cords__fittings__bow=bow) | Q(fits__spec_sheet=bow.spec_sheet)).distinct()


def _tools(bow: Bow) -> QuerySet[MeasuringTool]:
    used = [
        ReferenceMeasurement.objects.filter(reference_set__bow=bow).values("tool"),
        ResultMeasurement.objects.filter(result__bow=bow).values("tool"),
        BowArm.objects.filter(bow=bow).values("tool"),
    ]
    return MeasuringTool.objects.filter(Q(pk__in=used[0]) | Q(pk__in=used[1]) | Q(pk__in=used[2]))


def _readings(bow: Bow) -> QuerySet[TemperatureReading]:
    """The readings of the places where it stood while it stood there, one more on either side to join on to."""
    chosen = Q(pk__in=[])
    for stay in bow.stays.all():
        of_place = TemperatureReading.objects.filter(place=stay.place_id)
        before = of_place.filter(at__lte=stay.start).order_by("-at").values_list("at", flat=True).first()
        during = Q(place=stay.place_id, at__gte=before or stay.start)
        if stay.end is not None:
            after = of_place.filter(at__gte=stay.end).order_by("at").values_list("at", flat=True).first()
            during &= Q(at__lte=after or stay.end)
        chosen |= during
    return TemperatureReading.objects.filter(chosen)


TABLES: tuple[Table, ...] = (
    Table(CordSpec, _specs, ("code",)),
    Table(SpecSheet, lambda bow: SpecSheet.objects.filter(pk=bow.spec_sheet_id), ("code",)),
    Table(
        SpecSheetCord,
        lambda bow: SpecSheetCord.objects.filter(spec_sheet=bow.spec_sheet_id),
        ("spec_sheet", "position"),
    ),
    Table(
        FactoryReference,
        lambda bow: FactoryReference.objects.filter(spec_sheet=bow.spec_sheet_id),
        ("spec_sheet", "kind", "position"),
    ),
    Table(MeasuringTool, _tools, ("code",)),
    Table(Place, lambda bow: Place.objects.filter(stays__bow=bow).distinct(), ("site", "name")),
    Table(TemperatureReading, _readings, ("place", "at")),
    Table(Bow, lambda bow: Bow.objects.filter(pk=bow.pk)),
    _of_bow(SetUp),
    _of_bow(BowArm),
    _of_bow(BenchVisit),
    _of_bow(Release),
    _of_bow(Hold),
    _of_bow(Retirement),
    _of_bow(Deferral),
    Table(Cord, lambda bow: Cord.objects.filter(fittings__bow=bow).distinct()),
    _of_bow(Fitting),
    _of_bow(CordReset, "fitting"),
    _of_bow(ReferenceSet),
    _of_bow(ReferenceMeasurement, "reference_set"),
    _of_bow(SignedResult),
    _of_bow(ResultMeasurement, "result"),
    Table(Booking, lambda bow: Booking.objects.filter(Q(bow=bow) | Q(hires__bow=bow)).distinct(), ("reference",)),
    _of_bow(Hire),
    _of_bow(Shots),
    _of_bow(Stay),
    _of_bow(VehicleParking),
    _of_bow(Relaxation),
    _of_bow(TurnaroundCheck),
    _of_bow(CheckPhoto, "check_made"),
    _of_bow(Incident),
    Table(Notice, lambda bow: Notice.objects.filter(matches__bow=bow).distinct(), ("title", "issued_on")),
    _of_bow(NoticeMatch),
)


def row_of(instance: models.Model) -> dict[str, Any]:
    """One row as plain values: people by user name, sites by code, other rows by number."""
    row: dict[str, Any] = {}
    for field in instance._meta.concrete_fields:
        if field.is_relation and field.related_model in (Person, Site):
            related = getattr(instance, field.name)
            row[field.name] = None if related is None else _natural(related)
        elif isinstance(field, models.FileField):
            row[field.name] = str(getattr(instance, field.name))
        else:
            row[field.name] = plain(getattr(instance, field.attname))
    return row


def _natural(related: models.Model) -> str:
    return related.username if isinstance(related, Person) else str(getattr(related, "code", ""))


def rows_of(bow: Bow) -> dict[str, list[dict[str, Any]]]:
    """Every row about a bow, table by table."""
    return {table.name: [row_of(one) for one in _with_names(table, table.rows(bow).order_by("pk"))] for table in TABLES}


def _with_names(table: Table, rows: QuerySet[Any]) -> Iterable[Any]:
    """The rows with the people and sites they name, in one query."""
    named = [
        field.name
        for field in table.model._meta.concrete_fields
        if field.is_relation and field.related_model in (Person, Site)
    ]
    return rows.select_related(*named) if named else rows


def people_of(tables: dict[str, list[dict[str, Any]]]) -> dict[str, str]:
    """User name -> display name of everybody whom the rows name."""
    columns = {
        table.name: [
            field.name
            for field in table.model._meta.concrete_fields
            if field.is_relation and field.related_model is Person
        ]
        for table in TABLES
    }
    named = {row[column] for name, rows in tables.items() for row in rows for column in columns[name] if row[column]}
    return dict(Person.objects.filter(username__in=named).values_list("username", "display_name"))


def files_of(tables: dict[str, list[dict[str, Any]]]) -> dict[str, bytes]:
    """The photos that the rows name, by name; one that is gone from the disk is left out."""
    found: dict[str, bytes] = {}
    for table in TABLES:
        for field in table.model._meta.concrete_fields:
            if isinstance(field, models.FileField):
                for row in tables[table.name]:
                    name = row[field.name]
                    if name and field.storage.exists(name):
                        with field.storage.open(name) as file:
                            found[name] = file.read()
    return found
