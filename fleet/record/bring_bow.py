"""The verb that brings a bow's whole record from another book into this one."""

from io import BytesIO
from typing import Any

from django.core.exceptions import SuspiciousFileOperation, ValidationError
from django.core.files.base import ContentFile
from django.db import models
from django.utils.translation import gettext as _
from PIL import Image, UnidentifiedImageError

from fleet.models import Bow, Person, Site, TemperatureReading
from fleet.record.bow_rows import TABLES, Table, row_of
from fleet.record.kernel import audit, check_fields, touch, verb
from fleet.refusal import Refused

Rows = dict[str, list[dict[str, Any]]]
# A row that both books have and that may differ here without meaning another thing.
MAY_DIFFER = frozenset({"id", "site", "cancelled_at", "price", "lead_days", "reorder_point", "calibration_due_on"})


@verb
def bring_bow(
    *, by: Person, site: Site, tables: Rows, people: dict[str, str], files: dict[str, bytes], digest: str
) -> Bow:
    """Add a bow with its cords and all that happened to it, as its record tells; it belongs to `site` from now on.

    `tables` are the rows of `fleet.record.bow_rows`, `people` everybody they name, `files` the photos, `digest` the
    record's checksum, which the audit row keeps. A bow, cord or entry that this book has already is refused: nothing
    is merged.
    """
    bringer = _Bringer(by, site, people, files)
    for table in TABLES:
        rows = tables.get(table.name, [])
        if not isinstance(rows, list):
            raise Refused(_("%(name)s is not a list of rows: export the record again.") % {"name": table.name})
        for row in rows:
            bringer.bring(table, row)
    bow = bringer.bow
    if bow is None:
        raise Refused(_("The record holds no bow: export it again."))
    counts = {name: len(rows) for name, rows in tables.items() if rows}
    audit(by, "bring_bow", bow, bow=bow, record=digest, rows=counts)
    touch([bow.pk])
    return bow


class _Bringer:
    """Remembers under which number each row of the record stands in this book."""

    def __init__(self, by: Person, site: Site, people: dict[str, str], files: dict[str, bytes]) -> None:
        self.by, self.site, self.people, self.files = by, site, people, files
        self.bow: Bow | None = None
        self.numbers: dict[tuple[type[models.Model], int], int] = {}
        self.persons: dict[str, Person] = {}

    def bring(self, table: Table, row: dict[str, Any]) -> None:
        """Add one row, or find it where it is the same thing in both books."""
        values = self._values(table, row)
        there = self._there(table, values)
        if there is None:
            there = table.model(**values)
            if not isinstance(there, TemperatureReading):
                check_fields(there)
            self._refuse_known(table, there)
            there.save(force_insert=True)
        self.numbers[table.model, row["id"]] = there.pk
        if isinstance(there, Bow):
            self.bow = there

    def _there(self, table: Table, values: dict[str, Any]) -> models.Model | None:
        if not table.known_by:
            return None
        key = {
            name if name in values else f"{name}_id": values.get(name, values.get(f"{name}_id"))
            for name in table.known_by
        }
        there = table.model._default_manager.filter(**key).first()
        if there is not None:
            _refuse_other(table, there, values)
        return there

    def _refuse_known(self, table: Table, new: models.Model) -> None:
        """A tag or serial that this book has already, in words instead of a constraint's name."""
        for field in new._meta.concrete_fields:
            value = getattr(new, field.attname)
            if field.primary_key or not field.unique or value is None:
                continue
            if table.model._default_manager.filter(**{field.attname: value}).exists():
                raise Refused(
                    _(
                        "%(name)s %(column)s '%(value)s' is in this book already: a record is brought into a book "
                        "that does not know the bow, its cords or its entries yet."
                    )
                    % {"name": table.name, "column": field.name, "value": value}
                )

    def _values(self, table: Table, row: dict[str, Any]) -> dict[str, Any]:
        fields = [field for field in table.model._meta.concrete_fields if not field.primary_key]
        missing = sorted({field.name for field in fields} - set(row))
        if missing or not isinstance(row.get("id"), int):
            raise Refused(
                _("A row of %(name)s lacks %(missing)s: export the record again.")
                % {"name": table.name, "missing": ", ".join(missing) or "its number"}
            )
        return dict(self._value(table, field, row[field.name]) for field in fields)

    def _value(self, table: Table, field: "models.Field[Any, Any]", given: Any) -> tuple[str, Any]:
        if field.is_relation:
            return self._related(table, field, given)
        if isinstance(field, models.FileField):
            return field.attname, self._file(field, str(given))
        try:
            return field.attname, field.to_python(given)
        except (ValidationError, ValueError, TypeError) as problem:
            raise Refused(
                _("%(name)s, %(column)s: '%(given)s' cannot be read as %(field)s: export the record again.")
                % {"name": table.name, "column": field.name, "given": given, "field": field.get_internal_type()}
            ) from problem

    def _related(self, table: Table, field: "models.Field[Any, Any]", given: Any) -> tuple[str, Any]:
        if given is None:
            return field.name, None
        related: Any = field.related_model
        if related is Person:
            return field.name, self._person(str(given))
        if related is Site:
            return field.name, self.site
        number = self.numbers.get((related, given))
        if number is None:
            raise Refused(
                _("%(name)s, %(column)s: row '%(given)s' is not in the record: export it again.")
                % {"name": table.name, "column": field.name, "given": given}
            )
        return field.attname, number

    def _file(self, field: models.FileField, name: str) -> str:
        """A photo under its own name, or another where that one is taken."""
        if name not in self.files:
            return ""
        try:
            with Image.open(BytesIO(self.files[name])) as image:
                image.verify()
            return field.storage.save(name, ContentFile(self.files[name]))
        except (UnidentifiedImageError, OSError, SyntaxError, SuspiciousFileOperation) as problem:
            raise Refused(
                _("file '%(name)s' of the record is no picture that can be kept: export it again.") % {"name": name}
            ) from problem

    def _person(self, username: str) -> Person:
        """Somebody of this book by user name, else a name without sign-in, so that the record keeps who did what."""
        if username not in self.persons:
            known = Person.objects.filter(username=username).first()
            self.persons[username] = known or self._stranger(username)
        return self.persons[username]

    def _stranger(self, username: str) -> Person:
        stranger = Person(username=username, display_name=self.people.get(username, username)[:80], is_active=False)
        stranger.set_unusable_password()
        stranger.save()
        audit(self.by, "name_person", stranger)
        return stranger


def _refuse_other(table: Table, there: models.Model, values: dict[str, Any]) -> None:
    """The same name for another thing would put wrong numbers under the bow."""
    if isinstance(there, TemperatureReading):
        return
    has = row_of(there)
    for field in there._meta.concrete_fields:
        if field.is_relation or field.name in MAY_DIFFER:
            continue
        given = values[field.attname]
        if getattr(there, field.attname) != given:
            known = ", ".join(str(has[name]) for name in table.known_by)
            raise Refused(
                _(
                    "%(name)s %(known)s has %(column)s '%(has)s' in this book and '%(given)s' in the record: "
                    "rename one of them, then bring the record again."
                )
                % {"name": table.name, "known": known, "column": field.name, "has": has[field.name], "given": given}
            )
