"""What every verb shares: one transaction, one acting person, one audit row, one word to those who compute."""

import functools
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any, ParamSpec, TypeVar

from django.core.exceptions import ValidationError
from django.db import DataError, IntegrityError, models, transaction
from django.utils.translation import gettext as _

from fleet.models import AuditEntry, Bow, Person, Shots
from fleet.record.sealing import begin_in_order, write_sealed
from fleet.refusal import Refused
from fleet.signals import bows_touched, shots_changed
from service.wording import moment_here

P = ParamSpec("P")
R = TypeVar("R")
M = TypeVar("M", bound=models.Model)

# A device clock may run a little fast; anything later than this is a slip of the keyboard.
FUTURE_ALLOWANCE_S = 300


def verb(function: Callable[P, R]) -> Callable[P, R]:
    """Run a verb in one transaction; a clash or a value that only the database saw becomes a refusal."""

    @functools.wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            with transaction.atomic():
                begin_in_order()
                return function(*args, **kwargs)
        except IntegrityError as clash:
            raise Refused(
                _(
                    "The book already holds an entry that this one contradicts (%(clash)s): reload the page, "
                    "look at what is there, and enter it again."
                )
                % {"clash": clash}
            ) from clash
        except DataError as unfit:
            raise Refused(
                _("The book cannot hold a value of this entry (%(unfit)s): shorten the text or check the number.")
                % {"unfit": unfit}
            ) from unfit

    return run


def audit(by: Person, name: str, subject: models.Model | None, /, *, bow: Bow | None = None, **detail: Any) -> None:
    """Write the audit row of a verb. `detail` holds what changed, as plain values, and no person's name."""
    entry = AuditEntry(
        at=datetime.now(UTC),
        person=by,
        verb=name,
        subject_kind=(subject._meta.model_name or "") if subject is not None else "",
        subject_id=subject.pk if subject is not None else None,
        bow=bow,
        detail={key: plain(value) for key, value in detail.items()},
    )
    write_sealed([entry])


def plain(value: Any) -> Any:
    """A value as JSON can hold it."""
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, Person):
        # By number: names are erased, the audit trail never is.
        return f"person {value.pk}"
    if isinstance(value, models.Model):
        return str(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    return value


def touch(bow_ids: Iterable[int]) -> None:
    """Tell those who compute that facts of these bows changed."""
    bows_touched.send(sender=None, bow_ids=set(bow_ids))


def touch_shots(bow_id: int, added: list[Shots], struck: list[Shots]) -> None:
    """Tell those who compute that nothing but these entries of a bow came or went."""
    shots_changed.send(sender=None, bow_id=bow_id, added=added, struck=struck)


def not_in_future(what: str, moment: datetime, now: datetime) -> datetime:
    """Refuse an event that has not happened yet, or an instant without a time zone."""
    if moment.tzinfo is None:
        raise Refused(
            _("%(what)s %(moment)s has no time zone: give it in the site's zone or in UTC.")
            % {"what": what, "moment": moment.isoformat()}
        )
    if (moment - now).total_seconds() > FUTURE_ALLOWANCE_S:
        raise Refused(
            _(
                "%(what)s %(moment)s lies in the future (it is %(now)s): only what has happened can "
                "be recorded; check the day and the year."
            )
            % {"what": what, "moment": moment_here(moment), "now": moment_here(now)}
        )
    return moment


def put(instance: models.Model, values: dict[str, Any]) -> dict[str, list[Any]]:
    """Set the values on a record and save it if it is new or any differs.

    Returns {field: [before, after]} of what changed; every field given of a new record, which is never empty.
    """
    values = {name: _as_stored(instance, name, value) for name, value in values.items()}
    if instance.pk is None:
        changed = {name: [None, plain(value)] for name, value in values.items()} or {"added": [False, True]}
    else:
        changed = {
            name: [plain(getattr(instance, name)), plain(value)]
            for name, value in values.items()
            if getattr(instance, name) != value
        }
    if changed:
        for name, value in values.items():
            setattr(instance, name, value)
        add(instance)
    return changed


def _as_stored(instance: models.Model, name: str, value: Any) -> Any:
    """The value for a field of this name (an unknown name is a programming error and raises)."""
    field = instance._meta.get_field(name)
    # A price given as the float 12.1 is the price that its digits say.
    return Decimal(str(value)) if isinstance(field, models.DecimalField) and isinstance(value, float) else value


def add(instance: M) -> M:
    """Save a record, or refuse it if a field does not fit (both engines refuse alike; SQLite alone would not)."""
    check_fields(instance)
    instance.save()
    return instance


def check_fields(instance: models.Model) -> None:
    """Refuse a text too long, a number too large or a word not in the list, by the record's own fields."""
    not_typed = [
        field
        for field in instance._meta.concrete_fields
        if field.is_relation or field.primary_key or isinstance(field, models.JSONField)
    ]
    try:
        instance.clean_fields(exclude={field.name for field in not_typed})
    except ValidationError as problem:
        name, messages = next(iter(problem.message_dict.items()))
        field = instance._meta.get_field(name)
        raise Refused(
            _("%(field)s '%(value)s' of the %(record)s: %(messages)s Correct it and enter it again.")
            % {
                "field": getattr(field, "verbose_name", name),
                "value": getattr(instance, name),
                "record": instance._meta.verbose_name,
                "messages": " ".join(messages),
            }
        ) from problem


def same_entry(key: str, there: dict[str, tuple[Any, Any]]) -> None:
    """Refuse a key that was used for another entry; `there` maps a field to (what the book has, what was given)."""
    for name, (known, given) in there.items():
        if known != given:
            raise Refused(
                _(
                    "key '%(key)s' was used for another entry, whose %(name)s is %(known)s and not "
                    "%(given)s: give this entry a key of its own."
                )
                % {"key": key, "name": name, "known": plain(known), "given": plain(given)}
            )
