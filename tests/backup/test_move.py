"""From SQLite to PostgreSQL, and back, by a backup and a restore: every row and photo, as real commands."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet import record
from fleet.models import GuestName
from service import schedule
from service.backup.archive import Manifest, verify
from service.backup.make import make_backup
from service.models import FailedJob, NeedKind, NightlyRun, StaleBow
from service.planning.publishing import publish
from tests import personas
from tests.machinery import REPOSITORY, database_url
from tests.pages import orders
from tests.service.test_schedule import need

pytestmark = pytest.mark.broker


def manage(data: Path, database: str, *words: str) -> str:
    """Run one command on a data directory and a database, as a shell would."""
    return python(data, database, "manage.py", *words)


def python(data: Path, database: str, *words: str) -> str:
    """Run Python on a data directory and a database."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("BRACEBOOK_")}
    env = {**clean, "DJANGO_SETTINGS_MODULE": "service.settings", "BRACEBOOK_DATA_DIR": str(data)}
    env |= {"BRACEBOOK_DATABASE_URL": database} if database else {}
    done = subprocess.run(
        [sys.executable, *words], cwd=REPOSITORY, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def contents(folder: Path) -> tuple[dict[str, str], dict[str, str]]:
    """The checksums of every table and photo in the one backup of a folder."""
    (path,) = folder.glob("*.zip")
    found: Manifest = verify(path)
    tables, photos = ({name: member.sha256 for name, member in kind.items()} for kind in (found.tables, found.photos))
    return tables, photos


# Not carried: sign-ins end with a move.
OF_A_RESTORE = {"django_session"}
ROWS = """
import django
django.setup()
import hashlib, json
from django.apps import apps
from django.db import connection
from service.backup.rows import _line
found = {}
for model in apps.get_models(include_auto_created=True):
    rows = [_line(row) for row in model._base_manager.order_by("pk").values_list()]
    found[model._meta.db_table] = [len(rows), hashlib.sha256(b"".join(rows)).hexdigest()]
with connection.cursor() as cursor:
    tables = connection.introspection.table_names(cursor)
print(json.dumps({"rows": found, "tables": sorted(name for name in tables if not name.startswith("sqlite_"))}))
"""


def fill(shop: personas.Shop) -> None:
    """What a book in use has besides: an issued order, a published plan, tokens, second factors, the queue's tables."""
    # A restore erases names whose time is over, which test_there_and_back has; here nothing may differ.
    GuestName.objects.all().delete()
    order = orders.issued(shop, orders.worn_bow(shop))
    need(order.bow, NeedKind.INSPECTION, earliest_on=personas.NOW.date(), due_on=personas.NOW.date())
    draft = schedule.draft(shop.site, personas.NOW.date(), 14, personas.NOW)
    if draft.jobs.exists():
        publish(shop.site, draft.jobs.latest("day").day, by=shop.manager, now=personas.NOW)
    record.make_device_token(by=shop.owner, site=shop.site, name="Lane 3", scopes=["shots"], now=personas.NOW)
    record.make_feed(by=shop.manager, site=shop.site, technician=None, now=personas.NOW)
    device = StaticDevice.objects.create(user=shop.owner, name="recovery")
    StaticToken.objects.create(device=device, token="abcd-efgh")
    TOTPDevice.objects.create(user=shop.owner, name="phone", confirmed=True)
    FailedJob.objects.create(task="bracebook.back_up", task_id="t", at=personas.NOW, error="full")
    NightlyRun.objects.create(site=shop.site, night=personas.NOW.date(), started_at=personas.NOW, tries=1)
    StaleBow.objects.update_or_create(bow=order.bow, defaults={"since": personas.NOW})


def read(data: Path, database: str) -> dict[str, Any]:
    """Every table's rows, as counted and digested by a process of that database."""
    return dict(json.loads(python(data, database, "-c", ROWS)))


def test_every_row_of_every_table_is_on_the_other_side(
    book: personas.Shop, folders: Path, postgresql_database: str
) -> None:
    fill(book)
    before = read(folders, database_url())
    path, _manifest = make_backup(folders / "first", personas.NOW)
    manage(folders / "large", postgresql_database, "restore", str(path))
    after = read(folders / "large", postgresql_database)
    assert before["tables"] == after["tables"]
    assert set(before["tables"]) == {*before["rows"], "django_migrations"}
    different = {name for name in before["rows"] if before["rows"][name] != after["rows"][name]}
    assert different <= OF_A_RESTORE, different
    for table in (
        "fleet_devicetoken", "fleet_feedkey", "service_plan", "service_workorder",
        "service_failedjob", "service_nightlyrun", "service_stalebow", "otp_totp_totpdevice", "otp_static_statictoken",
        "fleet_incident", "fleet_auditentry",
    ):  # fmt: skip
        assert after["rows"][table][0] > 0, table
    assert "The audit trail holds" in manage(folders / "large", postgresql_database, "verify_record")


def test_there_and_back(book: personas.Shop, folders: Path, postgresql_database: str) -> None:
    first, second, third = folders / "first", folders / "second", folders / "third"
    path, _manifest = make_backup(first, personas.NOW)
    manage(folders / "large", postgresql_database, "restore", str(path))
    manage(folders / "large", postgresql_database, "backup", "--to", str(second))
    (moved,) = second.glob("*.zip")
    manage(folders / "small", "", "restore", str(moved))
    assert "equals a rebuild" in manage(folders / "small", "", "rebuild", "--check")
    manage(folders / "small", "", "backup", "--to", str(third))
    tables, photos = contents(first)
    assert tables["fleet.shots"] and len(photos) == 1
    # The restore erases the guest's name, whose time is over: noted, and done by the night watch, who is a person.
    erased = {"fleet.guestname", "fleet.auditentry", "fleet.audithead", "fleet.erasure", "fleet.person"}
    for folder in (second, third):
        there, pictures = contents(folder)
        assert {name for name in tables if tables[name] != there[name]} <= erased
        assert pictures == photos
