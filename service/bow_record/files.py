"""A bow's record as files: one CSV per table in a ZIP, for whoever reads it in a spreadsheet."""

import json
import zipfile
from io import BytesIO
from typing import Any

from service.export import csv_text

# Files in the archive carry this day, so that the same record gives the same bytes.
FIXED_DAY = (1980, 1, 1, 0, 0, 0)


def as_zip(document: dict[str, Any]) -> bytes:
    """Every table that has rows, the history, and the document itself."""
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, rows in {**document["tables"], "history": document["history"]}.items():
            if rows:
                _put(
                    archive, f"{name}.csv", csv_text(list(rows[0]), ([_cell(v) for v in row.values()] for row in rows))
                )
        _put(archive, "record.json", json.dumps(document, ensure_ascii=False, indent=1))
    return packed.getvalue()


def _put(archive: zipfile.ZipFile, name: str, text: str) -> None:
    archive.writestr(zipfile.ZipInfo(name, FIXED_DAY), text.encode(), zipfile.ZIP_DEFLATED)


def _cell(value: Any) -> Any:
    return json.dumps(value, ensure_ascii=False) if isinstance(value, list | dict) else value
