"""A bow's whole record as one plain document, sealed with a checksum, and back."""

import base64
import hashlib
import json
from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Bow, Fitting, Person, Site
from fleet.record.bow_rows import files_of, people_of, rows_of
from fleet.refusal import Refused
from service.bow_record.earlier_use import earlier_use

WHAT = "bow record"
VERSION = 1
LARGEST_BYTES = 64 * 1024 * 1024


def document_of(bow: Bow, now: datetime) -> dict[str, Any]:
    """Everything the book knows of a bow. SI units and UTC instants; guests stand by their booking's reference."""
    tables = rows_of(bow)
    _carry_earlier_use(bow, tables["cord"], now)
    entries = bow.audit.select_related("person").order_by("pk")
    content = {
        "what": WHAT,
        "version": VERSION,
        "bow": bow.tag,
        "units": "SI: m, N; temperatures in degC; instants in UTC (ISO 8601)",
        "made_at": now.astimezone(UTC).isoformat(),
        "people": people_of(tables),
        "tables": tables,
        "files": {name: base64.b64encode(content).decode() for name, content in files_of(tables).items()},
        "history": [
            {"at": entry.at.isoformat(), "by": str(entry.person), "verb": entry.verb, "detail": entry.detail}
            for entry in entries
        ],
    }
    return {**content, "sha256": _digest(content)}


def _carry_earlier_use(bow: Bow, cords: list[dict[str, Any]], now: datetime) -> None:
    """A cord that served on another bow before takes that use with it: the other bow's entries stay where they are."""
    earlier = earlier_use(bow, now)
    first = dict(Fitting.objects.filter(bow=bow).order_by("-fitted_at").values_list("cord_id", "fitted_at"))
    for cord in cords:
        if cord["id"] not in earlier:
            continue
        use = earlier[cord["id"]]
        if cord["prior_use"] == "none":
            cord["prior_use"] = "known"
        cord["prior_shots"], cord["prior_tension_h"] = use.weighted_shots, use.tension_h
        cord["prior_heat_h"] = use.heat_h
        # Its age when it came to this bow, told as a date: what was not under tension lay on a shelf.
        cord["made_on"] = (first[cord["id"]] - timedelta(hours=use.shelf_h + use.tension_h)).date().isoformat()


def _digest(content: dict[str, Any]) -> str:
    canonical = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()


def as_json(document: dict[str, Any]) -> bytes:
    """The document as a file."""
    return json.dumps(document, ensure_ascii=False, indent=1).encode()


def read(content: bytes) -> dict[str, Any]:
    """A document out of a file; refused if it is damaged, another thing or newer than this program."""
    if len(content) > LARGEST_BYTES:
        raise Refused(
            _("The file has %(content)s bytes; a record has at most %(LARGEST_BYTES)s.")
            % {"content": f"{len(content):,}", "LARGEST_BYTES": f"{LARGEST_BYTES:,}"}
        )
    try:
        document = json.loads(content)
    except (ValueError, RecursionError) as problem:
        raise Refused(
            _("The file is not a bow's record as JSON (%(problem)s): export the record again.") % {"problem": problem}
        ) from problem
    if not isinstance(document, dict) or document.get("what") != WHAT:
        raise Refused(
            _("The file is JSON, but not a bow's record: choose the file that was exported from a bow's page.")
        )
    if document.get("version") != VERSION:
        raise Refused(
            _(
                "The record is of version '%(document)s'; this program reads version %(VERSION)s: bring "
                "the program up to date, or export the record again."
            )
            % {"document": document.get("version"), "VERSION": VERSION}
        )
    sealed = document.pop("sha256", None)
    if sealed != _digest(document):
        raise Refused(
            _("The record was changed or damaged after it was exported: its checksum differs. Export it again.")
        )
    return {**document, "sha256": sealed}


def bring(document: dict[str, Any], *, by: Person, site: Site) -> Bow:
    """Put a read document's bow into this book, at a site."""
    return record.bring_bow(
        by=by,
        site=site,
        tables=document["tables"],
        people=document["people"],
        files={name: base64.b64decode(content) for name, content in document["files"].items()},
        digest=document["sha256"],
    )
