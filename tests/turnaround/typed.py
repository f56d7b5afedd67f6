"""A check as a phone sends it: everything fine unless told otherwise."""

from typing import Any
from uuid import uuid4

from django.http import QueryDict

from service.turnaround.short_list import SHORT_LISTS


def fine(bow_kind: str = "compound", **changes: str | None) -> dict[str, str]:
    """The form's fields; a change of None leaves the field out."""
    given: dict[str, str | None] = {
        "key": str(uuid4()),
        "use": "1",
        "vehicle": "no",
        "dropped": "no",
        "dry_fired": "no",
        **{f"topic-{topic.key}": "fine" for topic in SHORT_LISTS[bow_kind]},
        **{name.replace("topic_", "topic-").replace("what_", "what-"): value for name, value in changes.items()},
    }
    return {name: value for name, value in given.items() if value is not None}


def sent(fields: dict[str, Any]) -> QueryDict:
    """The fields as a request holds them."""
    data = QueryDict(mutable=True)
    data.update(fields)
    return data
