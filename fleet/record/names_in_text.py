"""Finding a name wherever people typed it, and putting a number in its place.

Records say who by number; but anybody may write a name into a note, a reason or the name of a view. Every text of every
table is looked through, so that a new table needs no line here. What cannot be changed without breaking what it stands
for (a word of a list, a unique code such as a bow's tag) is told to the caller instead.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import IntegrityError, models, transaction
from django.db.models.functions import Cast

from fleet.chain import blanked, is_blanked
from fleet.models import AuditEntry, Person
from fleet.vocabulary import Role

# Their rows are the erased person's own (but for devices, which are called as somebody typed), or go as a whole.
NOT_SEARCHED = frozenset({"fleet.person", "fleet.guestname", "fleet.auditentry", "sessions.session"})
NAME_LETTERS = Person._meta.get_field("display_name").max_length
# A user name like these is a word of the book, and would take it out of every text.
WORDS_OF_THE_BOOK = frozenset(Role.values)


@dataclass(frozen=True)
class Name:
    """The spellings of a name, and what is to stand in their place."""

    spellings: tuple[str, ...]
    stand_in: str

    def within(self, text: str) -> bool:
        """Whether one of the spellings stands in a text as a word."""
        return any(self._pattern(one).search(text) for one in self.spellings)

    def taken_out(self, value: Any) -> Any:
        """A text, or a JSON value, with the stand-in wherever the name was."""
        if isinstance(value, str):
            for one in self.spellings:
                value = self._pattern(one).sub(self.stand_in, value)
            return value
        if isinstance(value, dict):
            return {self.taken_out(key): self.taken_out(one) for key, one in value.items()}
        if isinstance(value, list):
            return [self.taken_out(one) for one in value]
        return value

    @staticmethod
    def _pattern(spelling: str) -> re.Pattern[str]:
        # A name of one word may be a word of the language too (May, Rose): then its capital letter counts.
        how = re.IGNORECASE if " " in spelling else 0
        return re.compile(rf"(?<!\w){re.escape(spelling)}(?!\w)", how)


def name_of(person: Person, also: tuple[str, ...] = ()) -> Name:
    """How the book may call a person: by the name shown, the sign-in name, the address, and as the caller knows."""
    known = (person.display_name, person.email, person.username, *also)
    spellings = {one.strip() for one in known if one.strip() and one.strip().lower() not in WORDS_OF_THE_BOOK}
    return Name(tuple(sorted(spellings, key=lambda one: (-len(one), one))), f"person {person.pk}")


def take_out(name: Name) -> list[str]:
    """Put the stand-in in every text of the book but the audit trail; returns where the name has to stay."""
    left: list[str] = []
    for model in apps.get_models(include_auto_created=True):
        if model._meta.label_lower not in NOT_SEARCHED and model._meta.managed and not model._meta.proxy:
            for field in _texts(model):
                left += _take_out_of(model, field, name)
    for device in Person.objects.exclude(device_token=None):
        if name.within(device.display_name):
            Person.objects.filter(pk=device.pk).update(display_name=name.taken_out(device.display_name)[:NAME_LETTERS])
    return left


def blank_audit_rows(name: Name) -> list[int]:
    """Take out of the audit trail every detail that has the name in it; returns the numbers of the rows."""
    rows: list[int] = []
    for row in _holding(AuditEntry, AuditEntry._meta.get_field("detail"), name):
        if not is_blanked(row.detail) and name.within(json.dumps(row.detail, ensure_ascii=False)):
            blank_detail(row)
            rows.append(row.pk)
    return sorted(rows)


def blank_detail(row: AuditEntry) -> None:
    """Put the digest of an audit row's detail in its place."""
    AuditEntry.objects.filter(pk=row.pk).update(detail=blanked(row.salt, row.detail))


def numbers_with(model: type[models.Model], name: Name) -> list[int]:
    """The numbers of a table's rows that have a name in one of their texts."""
    found = {
        int(row.pk)
        for field in _texts(model)
        for row in _holding(model, field, name)
        if name.taken_out(getattr(row, field.attname)) != getattr(row, field.attname)
    }
    return sorted(found)


def _texts(model: type[models.Model]) -> list[Any]:
    kinds = (models.CharField, models.TextField, models.JSONField)
    return [field for field in model._meta.concrete_fields if isinstance(field, kinds) and not field.choices]


def _take_out_of(model: type[models.Model], field: Any, name: Name) -> list[str]:
    left: list[str] = []
    for row in _holding(model, field, name):
        before = getattr(row, field.attname)
        after = name.taken_out(before)
        if after == before:
            continue
        if field.unique:
            left.append(f"{model._meta.verbose_name} {row.pk}, {field.verbose_name}")
            continue
        if not any(_changed(model, row.pk, field, one) for one in (after, f"{after} ({row.pk})")):
            left.append(f"{model._meta.verbose_name} {row.pk}, {field.verbose_name}")
    return left


def _changed(model: type[models.Model], number: int, field: Any, value: Any) -> bool:
    """Change a text; False where another row has the new one and only one may (two devices of one person)."""
    if isinstance(value, str) and field.max_length:
        value = value[: field.max_length]
    try:
        with transaction.atomic():
            model._base_manager.filter(pk=number).update(**{field.attname: value})
    except IntegrityError:
        return False
    return True


def _holding(model: type[models.Model], field: Any, name: Name) -> Iterator[Any]:
    """Rows that may hold the name in a field: the database looks first, for it holds far more than will be found."""
    asked = models.Q()
    for spelling in _as_kept(name):
        asked |= models.Q(text_of_it__icontains=spelling)
    rows = model._base_manager.annotate(text_of_it=Cast(field.attname, models.TextField())).filter(asked)
    return iter(list(rows)) if name.spellings else iter(())


def _as_kept(name: Name) -> set[str]:
    """The spellings as a column may hold them: SQLite folds no case beyond ASCII, and JSON escapes what is not."""
    found: set[str] = set()
    for one in name.spellings:
        for cased in (one, one.lower(), one.upper(), one.title()):
            found |= {cased, json.dumps(cased)[1:-1]}
    return found
