"""What every verb shares: one transaction, one acting person, one audit row, one word to those who compute."""

import functools
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, ParamSpec, TypeVar

from django.db import IntegrityError, models, transaction

from fleet.models import AuditEntry, Bow, Person
from fleet.refusal import Refused
from fleet.signals import bows_touched

P = ParamSpec("P")
R = TypeVar("R")

# A device clock may run a little fast; anything later than this is a slip of the keyboard.
FUTURE_ALLOWANCE_S = 300


def verb(function: Callable[P, R]) -> Callable[P, R]:
    """Run a verb in one transaction; a clash that only the database saw becomes a refusal."""

    @functools.wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            with transaction.atomic():
                return function(*args, **kwargs)
        except IntegrityError as clash:
            raise Refused(
                f"The book already holds an entry that this one contradicts ({clash}): "
                "reload the page, look at what is there, and enter it again."
            ) from clash

    return run


def audit(by: Person, name: str, subject: models.Model | None, /, *, bow: Bow | None = None, **detail: Any) -> None:
    """Write the audit row of a verb. `detail` holds what changed, as plain values."""
    AuditEntry.objects.create(
        at=datetime.now(UTC),
        person=by,
        verb=name,
        subject_kind=(subject._meta.model_name or "") if subject is not None else "",
        subject_id=subject.pk if subject is not None else None,
        bow=bow,
        detail={key: plain(value) for key, value in detail.items()},
    )


def plain(value: Any) -> Any:
    """A value as JSON can hold it."""
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
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


def not_in_future(what: str, moment: datetime, now: datetime) -> datetime:
    """Refuse an event that has not happened yet, or an instant without a time zone."""
    if moment.tzinfo is None:
        raise Refused(f"{what} {moment.isoformat()} has no time zone: give it in the site's zone or in UTC.")
    if (moment - now).total_seconds() > FUTURE_ALLOWANCE_S:
        raise Refused(
            f"{what} {moment:%Y-%m-%d %H:%M} lies in the future (it is {now:%Y-%m-%d %H:%M} UTC): "
            "only what has happened can be recorded; check the day and the year."
        )
    return moment


def put(instance: models.Model, values: dict[str, Any]) -> dict[str, list[Any]]:
    """Set the values on a record and save it if any differs; return {field: [before, after]} of what changed."""
    changed = {
        field: [plain(getattr(instance, field)), plain(value)]
        for field, value in values.items()
        if getattr(instance, field) != value
    }
    if changed or instance.pk is None:
        for field, value in values.items():
            setattr(instance, field, value)
        instance.save()
    return changed
