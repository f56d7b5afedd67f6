"""Files between preview and take-in: kept under a random name for the person who sent them, for a day at most."""

import json
import re
import secrets
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from fleet.models import Person, Site

KEPT_S = 24 * 3600
_TOKEN = re.compile(r"[A-Za-z0-9_-]{32}")


@dataclass(frozen=True)
class Upload:
    """One kept file: whose it is, for which site, of which kind, and what it was called."""

    token: str
    owner: int
    site: str
    kind: str
    name: str

    @property
    def path(self) -> Path:
        """Where its bytes are."""
        return _folder() / self.token


def keep(file: "UploadedFile[Any]", *, owner: Person, site: Site, kind: str) -> Upload:
    """Put a file away, readable by the service alone; files that were forgotten for a day go."""
    folder = _folder()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _forget_old(folder)
    upload = Upload(secrets.token_urlsafe(24), owner.pk, site.code, kind, Path(file.name or "file").name[:120])
    upload.path.touch(mode=0o600)
    with upload.path.open("wb") as kept:
        for chunk in file.chunks():
            kept.write(chunk)
    _about(upload.token).touch(mode=0o600)
    _about(upload.token).write_text(json.dumps(asdict(upload)), encoding="utf-8")
    return upload


def find(token: str, owner: Person) -> Upload | None:
    """The kept file of this name, if it is this person's and still there."""
    if not _TOKEN.fullmatch(token) or not _about(token).exists():
        return None
    upload = Upload(**json.loads(_about(token).read_text(encoding="utf-8")))
    return upload if upload.owner == owner.pk and upload.path.exists() else None


def forget(upload: Upload) -> None:
    """Delete a kept file."""
    upload.path.unlink(missing_ok=True)
    _about(upload.token).unlink(missing_ok=True)


def _folder() -> Path:
    return Path(settings.DATA_DIR) / "uploads"


def _about(token: str) -> Path:
    return _folder() / f"{token}.json"


def _forget_old(folder: Path) -> None:
    for path in _older_than(folder, time.time() - KEPT_S):
        path.unlink(missing_ok=True)


def _older_than(folder: Path, instant_s: float) -> Iterator[Path]:
    return (path for path in folder.iterdir() if path.is_file() and path.stat().st_mtime < instant_s)
