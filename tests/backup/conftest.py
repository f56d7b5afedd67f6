"""A book with some of everything that a backup has to carry, committed, and a folder for its files."""

from pathlib import Path

import pytest
import time_machine
from django.core.files.base import ContentFile
from pytest_django.fixtures import Settings

from fleet import record
from fleet.models import Incident
from service import decide
from tests import personas
from tests.committed import committed_book

__all__ = ["committed_book"]
# Bytes that no text codec would leave alone.
PHOTO = bytes(range(256)) * 40


@pytest.fixture
def folders(tmp_path: Path, settings: Settings) -> Path:
    """Photos and backups of this test alone."""
    settings.MEDIA_ROOT = tmp_path / "photos"
    settings.BACKUP_DIR = tmp_path / "backups"
    return tmp_path


@pytest.fixture
def book(committed_book: None, folders: Path) -> personas.Shop:
    """A shop with a fitted bow, shots, readings, a guest's name, an incident with its photo, and computed wear."""
    shop = personas.shop()
    bow = personas.fitted_bow(shop, "hybrid", "L-1")
    personas.shoot(shop, bow, 40, key='ключ \N{BOW AND ARROW}\t"quoted"\\')
    readings = [record.TemperatureRow(shop.rack, personas.before(hours=h), 20.1 + h / 3) for h in range(40)]
    record.add_many_readings(by=shop.technician, rows=readings, source="logger")
    window = {"start": personas.before(1), "end": personas.before(0)}
    record.put_booking(by=shop.manager, site=shop.site, reference="B-1", bow=bow, guest_name="Ada", **window)
    record.report_incident(by=shop.counter, bow=bow, kind="drop", happened_at=personas.NOW, key="i", now=personas.NOW)
    incident = Incident.objects.get()
    incident.photo.save("limb.jpg", ContentFile(PHOTO))
    with time_machine.travel(personas.NOW, tick=False):
        decide.rebuild(personas.NOW)
    return shop
