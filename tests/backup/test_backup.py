"""A backup carries every table and photo, on both engines; a bad one is refused before anything is touched."""

import hashlib
import json
import shutil
import stat
import zipfile
from datetime import timedelta
from pathlib import Path

import pytest
import time_machine
from django.apps import apps
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from fleet import record
from fleet.models import AuditEntry, Bow, GuestName, Incident, Shots
from service import decide
from service.backup.archive import MANIFEST, BackupRefused, Manifest, verify
from service.backup.make import make_backup
from service.backup.restore import restore
from tests import personas
from tests.backup.conftest import PHOTO
from tests.committed import forget_audit
from tests.personas import NOW
from tests.service.commands import refused, run

pytestmark = pytest.mark.both_engines


@pytest.fixture
def backup(book: personas.Shop, folders: Path) -> Path:
    path, _manifest = make_backup(folders / "backups", NOW)
    return path


def digests(manifest: Manifest) -> dict[str, str]:
    """The checksum of every table's rows."""
    return {label: member.sha256 for label, member in manifest.tables.items()}


def altered(backup: Path, name: str, content: bytes | None, *, extra: str = "") -> Path:
    """A copy of the backup in which one member is another (or missing), with a zip that is whole in itself."""
    other = backup.with_name(f"altered-{backup.name}")
    with zipfile.ZipFile(backup) as before, zipfile.ZipFile(other, "w") as after:
        for member in before.namelist():
            if member != name:
                after.writestr(member, before.read(member))
            elif content is not None:
                after.writestr(member, content)
        if extra:
            after.writestr(extra, b"x")
    return other


def with_manifest(backup: Path, **changes: object) -> Path:
    """A copy whose manifest says something else, under a checksum that is right."""
    with zipfile.ZipFile(backup) as archive:
        content = {**json.loads(archive.read(MANIFEST)), **changes}
    content.pop("sha256")
    content["sha256"] = hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
    return altered(backup, MANIFEST, json.dumps(content).encode())


class TestWhatItCarries:
    def test_every_table_but_the_sessions(self, backup: Path) -> None:
        manifest = verify(backup)
        tables = {m._meta.label_lower for m in apps.get_models(include_auto_created=True) if not m._meta.proxy}
        assert set(manifest.tables) == tables - {"sessions.session"}
        assert manifest.tables["fleet.bow"].rows == 1
        assert manifest.tables["fleet.temperaturereading"].rows == 40
        assert set(manifest.photos) == {Incident.objects.get().photo.name}

    def test_comes_back_the_same_to_the_last_byte(self, book: personas.Shop, backup: Path, folders: Path) -> None:
        before = verify(backup)
        personas.shoot(book, Bow.objects.get(), 7)
        shutil.rmtree(folders / "photos")
        restore(backup, NOW, replace=True)
        _path, after = make_backup(folders / "again", NOW)
        assert digests(after) == digests(before)
        assert Path(Incident.objects.get().photo.path).read_bytes() == PHOTO
        assert decide.differences() == []

    def test_an_empty_book_takes_it_without_being_told(self, backup: Path, folders: Path) -> None:
        before = verify(backup)
        _wipe()
        restore(backup, NOW)
        _path, after = make_backup(folders / "again", NOW)
        assert digests(after) == digests(before)

    def test_numbering_goes_on_and_the_book_is_still_held_to_its_rules(self, book: personas.Shop, backup: Path) -> None:
        restore(backup, NOW, replace=True)
        bow, last = Bow.objects.get(), Shots.objects.latest("pk").pk
        assert personas.shoot(book, bow, 3).pk > last
        with pytest.raises(IntegrityError, match="audit rows are never changed"), transaction.atomic():
            AuditEntry.objects.update(verb="nothing")
        with pytest.raises(record.Refused, match="overlaps"):
            record.add_stay(by=book.technician, bow=bow, place=book.rack, start=personas.before(9), now=NOW)

    def test_sessions_end_with_a_restore(self, backup: Path) -> None:
        Session.objects.create(session_key="k", session_data="d", expire_date=NOW + timedelta(days=9))
        restore(backup, NOW, replace=True)
        assert not Session.objects.exists()

    def test_a_name_whose_time_is_over_is_erased_again(self, backup: Path) -> None:
        restore(backup, NOW, replace=True)
        assert GuestName.objects.get().display_name == "Ada"
        restore(backup, NOW + timedelta(days=99), replace=True)
        assert not GuestName.objects.exists()

    def test_a_photo_that_is_not_there_is_named(self, book: personas.Shop, folders: Path) -> None:
        name = Incident.objects.get().photo.name
        shutil.rmtree(folders / "photos")
        path, manifest = make_backup(folders / "backups", NOW)
        assert manifest.lost_photos == [name]
        assert verify(path).photos == {}

    def test_only_its_owner_reads_it(self, backup: Path) -> None:
        assert stat.S_IMODE(backup.stat().st_mode) == 0o600
        assert [path.name for path in backup.parent.iterdir()] == ["bracebook-20260701T150000Z.zip"]


class TestWhileInUse:
    def test_sees_one_instant(self, book: personas.Shop, folders: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """Shots written after the first table was read are in no table of the backup."""
        from service.backup import make

        write, bow = make.write_rows, Bow.objects.get()
        shots, entries = Shots.objects.count(), AuditEntry.objects.count()

        def write_and_shoot(*args: object) -> None:
            write(*args)
            personas.shoot(book, bow, 1)

        monkeypatch.setattr(make, "write_rows", write_and_shoot)
        _path, manifest = make_backup(folders / "backups", NOW)
        assert (manifest.tables["fleet.shots"].rows, manifest.tables["fleet.auditentry"].rows) == (shots, entries)
        assert Shots.objects.count() == shots + len(manifest.tables)

    def test_a_full_disk_leaves_nothing_behind(
        self, book: personas.Shop, folders: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from service.backup import make

        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(make, "write_rows", full)
        assert "No space left on device" in refused("backup")
        assert list((folders / "backups").iterdir()) == []


class TestRefused:
    def nothing_changed(self) -> bool:
        return bool(Bow.objects.count() == 1 and Shots.objects.count() == 1)

    def test_a_book_in_use(self, backup: Path) -> None:
        with pytest.raises(BackupRefused, match=r"not empty .*--replace"):
            restore(backup, NOW)
        assert self.nothing_changed()

    @pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
    def test_a_file_cut_short(self, backup: Path, share: float) -> None:
        backup.write_bytes(backup.read_bytes()[: int(backup.stat().st_size * share)])
        with pytest.raises(BackupRefused, match="damaged"):
            restore(backup, NOW, replace=True)
        assert self.nothing_changed()

    @pytest.mark.parametrize("name", [MANIFEST, "tables/fleet.shots.jsonl", "tables/axes.accesslog.jsonl", "photos/"])
    def test_a_byte_gone_wrong(self, backup: Path, name: str) -> None:
        with zipfile.ZipFile(backup) as archive:
            (member,) = [one for one in archive.infolist() if one.filename.startswith(name)]
        content = bytearray(backup.read_bytes())
        header_bytes, extra_at = 30, 28  # APPNOTE.TXT 4.3.7: a local header, and where it says how long its extra is
        extra = int.from_bytes(content[member.header_offset + extra_at :][:2], "little")
        begin = member.header_offset + header_bytes + len(member.filename) + extra
        content[begin + member.compress_size // 2] ^= 0x10
        backup.write_bytes(content)
        with pytest.raises(BackupRefused):
            restore(backup, NOW, replace=True)
        assert self.nothing_changed()

    def test_rows_edited_in_a_whole_zip(self, backup: Path) -> None:
        with zipfile.ZipFile(backup) as archive:
            rows = archive.read("tables/fleet.shots.jsonl")
        for content in (rows.replace(b"40", b"41"), None):
            with pytest.raises(BackupRefused, match=r"fleet\.shots\.jsonl"):
                restore(altered(backup, "tables/fleet.shots.jsonl", content), NOW, replace=True)

    def test_a_member_that_does_not_belong(self, backup: Path) -> None:
        with pytest.raises(BackupRefused, match="does not belong"):
            restore(altered(backup, "", None, extra="photos/../../evil"), NOW, replace=True)

    def test_a_photo_outside_its_folder(self, backup: Path) -> None:
        name = "../../evil"
        with zipfile.ZipFile(backup) as archive:
            photos = json.loads(archive.read(MANIFEST))["photos"]
        photos[name] = {"size_bytes": 1, "sha256": hashlib.sha256(b"x").hexdigest(), "rows": 0}
        wrong = altered(backup, "", None, extra=f"photos/{name}")
        with pytest.raises(BackupRefused, match="outside its folder"):
            restore(with_manifest(wrong, photos=photos), NOW, replace=True)

    def test_one_of_a_newer_bracebook(self, backup: Path) -> None:
        migrations = {**verify(backup).migrations}
        migrations["fleet"] = [*migrations["fleet"], "9999_what_is_to_come"]
        with pytest.raises(BackupRefused, match=r"newer Bracebook.*fleet\.9999_what_is_to_come"):
            restore(with_manifest(backup, migrations=migrations), NOW, replace=True)
        with pytest.raises(BackupRefused, match="format 2"):
            restore(with_manifest(backup, format=2), NOW, replace=True)
        assert self.nothing_changed()

    def test_rows_that_do_not_come_out_as_they_went_in(self, backup: Path) -> None:
        with zipfile.ZipFile(backup) as archive:
            tables = json.loads(archive.read(MANIFEST))["tables"]
        tables["fleet.shots"]["rows"] = 2
        with pytest.raises(BackupRefused, match=r"fleet\.shots came out with 1 rows and went in with 2"):
            restore(with_manifest(backup, tables=tables), NOW, replace=True)
        assert self.nothing_changed()
        assert AuditEntry.objects.exists()

    def test_what_is_no_backup_at_all(self, book: personas.Shop, folders: Path) -> None:
        other = folders / "notes.zip"
        other.write_text("not a zip")
        with pytest.raises(BackupRefused, match="damaged or no backup"):
            restore(other, NOW, replace=True)
        with pytest.raises(BackupRefused, match="There is no file"):
            restore(folders / "missing.zip", NOW, replace=True)


class TestCommands:
    def test_both_say_what_is_in_it(self, book: personas.Shop, folders: Path) -> None:
        with time_machine.travel(NOW, tick=False):
            said = run("backup", "--to", str(folders / "elsewhere"))
        path = folders / "elsewhere" / "bracebook-20260701T150000Z.zip"
        assert str(path) in said and "1 photos" in said
        assert "is whole" in run("restore", str(path), "--check")
        assert "not empty" in refused("restore", str(path))
        assert f"is restored: {verify(path).rows} rows" in run("restore", str(path), "--replace")

    def test_a_bad_file_is_an_error(self, folders: Path, db: None) -> None:
        with pytest.raises(CommandError, match="There is no file"):
            call_command("restore", str(folders / "none.zip"))


def _wipe() -> None:
    """Empty the book."""
    forget_audit()
    call_command("flush", interactive=False, verbosity=0)
