"""The audit trail in words: what a verb did, with its instants in the reader's zone."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import formats

from fleet.models import AuditEntry
from fleet.signed_contents import CONTENTS

NOTHING: tuple[Any, ...] = ("", None, [], {})


def told(entry: AuditEntry, zone: str) -> str:
    """One entry as a line: "add shots: count 40, start ...". What changed reads "before → after"."""
    # The digest of what was signed is for `verify_record`, and nothing to read.
    told_of = {name: value for name, value in entry.detail.items() if name != CONTENTS and value not in NOTHING}
    details = [f"{_words(name)} {_value(value, zone)}" for name, value in told_of.items()]
    verb = _words(entry.verb)
    return f"{verb}: {', '.join(details)}" if details else verb


def _words(name: str) -> str:
    return name.replace("_", " ")


def _value(value: Any, zone: str) -> str:
    if isinstance(value, dict):
        return "; ".join(f"{_words(name)} {_value(one, zone)}" for name, one in value.items())
    if isinstance(value, list):
        return _list(value, zone)
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _instant(value, zone) if isinstance(value, str) else str(value)


def _list(values: list[Any], zone: str) -> str:
    """A pair is before and after; a record that is new has nothing before."""
    if len(values) == 2 and values[0] is None:
        return _value(values[1], zone)
    joint = " → " if len(values) == 2 else ", "
    return joint.join("–" if value in NOTHING else _value(value, zone) for value in values)


def _instant(text: str, zone: str) -> str:
    """An ISO instant as local time; any other text as it is."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return text
    if moment.tzinfo is None:
        return text
    return formats.date_format(moment.astimezone(ZoneInfo(zone)), "DATETIME_FORMAT")
