"""The backup file: a zip of one JSON-lines member per table, the photos, and a manifest with a checksum of each.

The file does not know which engine wrote it, so a book moves from SQLite to PostgreSQL by a backup and a restore.
"""

import hashlib
import json
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path, PurePosixPath
from typing import IO, Any

FORMAT = 1
MANIFEST = "manifest.json"
CHUNK_BYTES = 1024 * 1024


class BackupRefused(Exception):
    """A backup that cannot be made, read or restored; the text says why and what to do."""


@dataclass(frozen=True)
class Member:
    """One member of the file: how long it is unpacked, its SHA-256 (hex), and for a table how many rows it holds."""

    size_bytes: int
    sha256: str
    rows: int = 0


@dataclass(frozen=True)
class Manifest:
    """What a backup holds.

    `migrations` are the applied ones by app; `tables` maps a model's label to its member; `photos` a photo's path
    below the photo folder to its member; `left_out` names tables that are not carried; `lost_photos` are named by a
    row but were not in the folder.
    """

    made_at: str
    engine: str
    migrations: dict[str, list[str]]
    tables: dict[str, Member] = field(default_factory=dict)
    photos: dict[str, Member] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)
    lost_photos: list[str] = field(default_factory=list)

    @property
    def rows(self) -> int:
        """Rows of all tables."""
        return sum(member.rows for member in self.tables.values())

    def as_json(self) -> bytes:
        """The manifest with a checksum of its own."""
        content = {"what": "bracebook backup", "format": FORMAT, **asdict(self)}
        return json.dumps({**content, "sha256": _digest(content)}, indent=1, sort_keys=True).encode()


def table_member(label: str) -> str:
    """The member's name of a table."""
    return f"tables/{label}.jsonl"


def photo_member(name: str) -> str:
    """The member's name of a photo."""
    return f"photos/{name}"


def _digest(content: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def read_manifest(archive: zipfile.ZipFile) -> Manifest:
    """The manifest; BackupRefused if it is missing, altered or of a format that this version does not know."""
    try:
        content = json.loads(archive.read(MANIFEST))
        said = content.pop("sha256")
        known = content["format"]
    except (KeyError, ValueError, AttributeError, zipfile.BadZipFile, zlib.error) as fault:
        raise BackupRefused(f"This is no backup of Bracebook: its {MANIFEST} cannot be read ({fault}).") from fault
    if known != FORMAT:
        raise BackupRefused(
            f"The backup has format {known!r}; this Bracebook reads format {FORMAT}: restore it with the Bracebook "
            "that made it, or a newer one."
        )
    if said != _digest(content):
        raise BackupRefused(f"The backup is damaged: its {MANIFEST} does not match its own checksum. Take another one.")
    content = {name: value for name, value in content.items() if name in Manifest.__dataclass_fields__}
    for kind in ("tables", "photos"):
        content[kind] = {name: Member(**member) for name, member in content[kind].items()}
    return Manifest(**content)


def verify(path: Path) -> Manifest:
    """Read the whole file and hold every member to the manifest; BackupRefused names the first that differs."""
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = read_manifest(archive)
            wanted = {table_member(label): member for label, member in manifest.tables.items()}
            wanted |= {photo_member(name): member for name, member in manifest.photos.items()}
            odd = set(archive.namelist()) ^ {MANIFEST, *wanted}
            if odd:
                raise BackupRefused(f"The backup {path} is damaged: {sorted(odd)[0]} is missing or does not belong.")
            for name, member in wanted.items():
                if _measured(archive, name) != (member.size_bytes, member.sha256):
                    raise BackupRefused(f"The backup {path} is damaged: {name} does not match its checksum.")
    except FileNotFoundError:
        raise BackupRefused(f"There is no file {path}.") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError) as fault:
        raise BackupRefused(f"The backup {path} is damaged or no backup ({fault}): take another one.") from fault
    for name in manifest.photos:
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            raise BackupRefused(f"The backup {path} is not to be trusted: the photo {name!r} lies outside its folder.")
    return manifest


def _measured(archive: zipfile.ZipFile, name: str) -> tuple[int, str]:
    size, digest = 0, hashlib.sha256()
    with archive.open(name) as stream:
        for chunk in chunks(stream):
            size += len(chunk)
            digest.update(chunk)
    return size, digest.hexdigest()


def chunks(stream: IO[bytes]) -> Iterator[bytes]:
    """A stream in pieces of CHUNK_BYTES."""
    while chunk := stream.read(CHUNK_BYTES):
        yield chunk


class Writer:
    """Writes one member and measures it; use as a context manager, then ask for `member()`."""

    def __init__(self, archive: zipfile.ZipFile, name: str) -> None:
        self._stream = archive.open(name, "w", force_zip64=True)
        self._digest = hashlib.sha256()
        self._size = 0
        self.rows = 0

    def __enter__(self) -> "Writer":
        return self

    def __exit__(self, *_: object) -> None:
        self._stream.close()

    def write(self, data: bytes) -> None:
        """Append bytes."""
        self._stream.write(data)
        self._digest.update(data)
        self._size += len(data)

    def member(self) -> Member:
        """What was written."""
        return Member(self._size, self._digest.hexdigest(), self.rows)
