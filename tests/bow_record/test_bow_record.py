"""A bow's whole record leaves the book and comes into another: same wear, nothing merged, damage refused."""

import base64
import csv
import io
import json
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.management import CommandError, call_command
from django.db.models import ForeignKey
from PIL import Image

from fleet import lookups, record
from fleet.models import AuditEntry, Bow, CordSpec, Person, SignedResult
from fleet.record import Refused
from fleet.record.bow_rows import TABLES
from service import decide
from service.bow_record.files import as_zip
from service.bow_record.record import _digest, as_json, bring, document_of, read
from service.models import CordWear
from tests import personas
from tests.personas import NOW, Shop, before

UNIQUE = {"tag", "serial", "key", "order_number"}


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


@pytest.fixture
def bow(shop: Shop) -> Bow:
    """A twin-cam bow that was shot, stood in a warm rack, was parked, hired out, dropped and worked on."""
    bow = personas.fitted_bow(shop, "twin", tag="L-1")
    for days in range(30):
        personas.shoot(shop, bow, 40 + days, days_ago=days + 1)
    locker = record.put_place(
        by=shop.manager, site=shop.site, name="Locker", temperature_source="fixed", fixed_temperature_c=31.0
    )
    record.move_to_place(by=shop.counter, bow=bow, place=locker, at=before(10), now=NOW)
    readings = [record.TemperatureRow(shop.rack, before(hours=float(hour)), 20 + hour % 24) for hour in range(1500)]
    record.add_many_readings(by=shop.counter, rows=readings, source="rack logger")
    record.hand_out(by=shop.counter, bow=bow, reference="G-1", at=before(4), known={"verdict": "ready"})
    record.take_back(by=shop.counter, bow=bow, at=before(3))
    record.report_incident(by=shop.counter, bow=bow, kind="drop", happened_at=before(1), key="drop-1", now=NOW)
    record.issue_notice(
        by=shop.manager, title="Limbs", issued_on=before(9).date(), at=before(9), spec_sheet=bow.spec_sheet
    )
    return bow


def renamed(document: dict[str, Any], **names: str) -> dict[str, Any]:
    """The document as another book would hold it: other tags, serials and keys, sealed anew."""
    copy = json.loads(as_json(document))
    copy.pop("sha256")
    for table, rows in copy["tables"].items():
        for row in rows:
            for field in UNIQUE & set(row):
                if row[field] and not (table == "cord" and field == "key"):
                    row[field] = f"{row[field]}{names.get('suffix', '-b')}"
    return {**copy, "sha256": _digest(copy)}


def life(bow: Bow) -> dict[str, float]:
    wears = CordWear.objects.filter(fitting__bow=bow).select_related("fitting")
    return {wear.fitting.position: wear.life_used for wear in wears}


def test_a_bow_brought_into_a_book_wears_as_it_did(shop: Shop, bow: Bow) -> None:
    document = document_of(bow, NOW)
    copy = bring(read(as_json(renamed(document))), by=shop.owner, site=shop.site)
    decide.rebuild(NOW)

    assert copy.tag == "L-1-b"
    assert life(copy) == pytest.approx(life(bow), rel=1e-9)
    assert all(used > 0.05 for used in life(bow).values())
    assert lookups.state_of(copy) == lookups.state_of(bow) == "held"
    assert copy.incidents.get().kind == "drop" and copy.hires.get().reference == "G-1"
    assert AuditEntry.objects.get(verb="bring_bow").detail["record"] == renamed(document)["sha256"]


def test_what_went_out_and_in_goes_out_the_same(shop: Shop, bow: Bow) -> None:
    """Apart from the row numbers, which count only within a record, and the acts of the book itself."""
    document = document_of(bow, NOW)
    copy = bring(renamed(document), by=shop.owner, site=shop.site)
    again = document_of(copy, NOW)
    for table in TABLES:
        was = [without_numbers(table.model, row) for row in renamed(document)["tables"][table.name]]
        now = [without_numbers(table.model, row) for row in again["tables"][table.name]]
        assert sorted(now, key=str) == sorted(was, key=str), table.name


def without_numbers(model: Any, row: dict[str, Any]) -> dict[str, Any]:
    plain = {field.name for field in model._meta.concrete_fields if not field.is_relation} - {"id"}
    return {name: value for name, value in row.items() if name in plain}


def test_a_cord_takes_along_what_it_went_through_on_another_bow(shop: Shop) -> None:
    first, second = personas.fitted_bow(shop, "single", "L-1"), personas.fitted_bow(shop, "single", "L-2")
    personas.shoot(shop, first, 900, days_ago=50)
    moved = first.fittings.get(position="string").cord
    for bow in (first, second):
        fitting = bow.fittings.get(position="string", removed_at=None)
        record.remove_cord(by=shop.technician, fitting=fitting, at=before(30), why="planned", now=NOW)
    record.fit_cord(
        by=shop.technician,
        cord=moved,
        bow=second,
        position="string",
        at=before(20),
        now=NOW,
        half_twists=40,
        again_because="looked over, sound",
    )
    personas.shoot(shop, second, 300, days_ago=5)
    decide.rebuild(NOW)

    copy = bring(renamed(document_of(second, NOW)), by=shop.owner, site=shop.site)
    decide.rebuild(NOW)
    fitting = copy.fittings.get(position="string", removed_at=None)
    assert fitting.cord.prior_shots == pytest.approx(900)
    # The day on which the cord was made is told to the day: half a shelf day at a quarter of a day's worth.
    half_a_day = 0.5 * 0.25 / (second.fittings.first().cord.spec.rated_months * 30.4)
    assert life(copy)["string"] == pytest.approx(life(second)["string"], abs=half_a_day)


def test_a_bow_that_is_there_already_is_refused_and_nothing_is_half_brought(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"bow tag 'L-1' is in this book already"):
        bring(document_of(bow, NOW), by=shop.owner, site=shop.site)
    document = renamed(document_of(bow, NOW))
    document["tables"]["shots"][0]["key"] = bow.shots.first().key
    with pytest.raises(Refused, match=r"shots key .* is in this book already"):
        bring(document, by=shop.owner, site=shop.site)
    assert Bow.objects.count() == 1


def test_the_same_name_for_another_spec_is_refused(shop: Shop, bow: Bow) -> None:
    document = renamed(document_of(bow, NOW))
    CordSpec.objects.filter(code=document["tables"]["cord_spec"][0]["code"]).update(rated_shots=77)
    told = r"cord_spec .* has rated_shots '77' in this book and '5000' in the record: rename one of them"
    with pytest.raises(Refused, match=told):
        bring(document, by=shop.owner, site=shop.site)


def test_people_of_another_book_keep_their_names_and_cannot_sign_in(shop: Shop, bow: Bow) -> None:
    document = renamed(document_of(bow, NOW))
    text = json.dumps(document["tables"]).replace(shop.counter.username, "elsewhere-counter")
    document["tables"] = json.loads(text)
    document["people"] = {**document["people"], "elsewhere-counter": "Elsa Counter"}
    copy = bring(document, by=shop.owner, site=shop.site)

    stranger = Person.objects.get(username="elsewhere-counter")
    assert copy.incidents.get().reported_by == stranger
    assert (stranger.display_name, stranger.is_active, stranger.has_usable_password()) == ("Elsa Counter", False, False)


def test_photos_come_along_and_nothing_else_does(shop: Shop, bow: Bow, settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(picture, "JPEG")
    photo = ContentFile(picture.getvalue(), "limb.jpg")
    record.report_incident(
        by=shop.counter, bow=bow, kind="crushed", happened_at=before(1), key="c-1", now=NOW, photo=photo
    )
    document = renamed(document_of(bow, NOW))
    copy = bring(document, by=shop.owner, site=shop.site)
    there = copy.incidents.get(kind="crushed").photo
    assert there.read() == picture.getvalue()
    assert there.name != bow.incidents.get(kind="crushed").photo.name

    [name] = document["files"]
    for content in (b"<script>", b""):
        other = renamed(document_of(bow, NOW), suffix="-c")
        other["files"] = {name: base64.b64encode(content).decode()}
        with pytest.raises(Refused, match="is no picture that can be kept"):
            bring(other, by=shop.owner, site=shop.site)


@pytest.mark.parametrize(
    ("damage", "told"),
    [
        (lambda text: text.replace('"count": 41', '"count": 40'), "changed or damaged"),
        (lambda text: text[:-40], "not a bow's record as JSON"),
        (lambda text: '{"what": "a poem"}', "JSON, but not a bow's record"),
        (lambda text: text.replace('"version": 1', '"version": 2', 1), "this program reads version 1"),
    ],
)
def test_a_damaged_or_newer_record_is_refused(bow: Bow, damage: Any, told: str) -> None:
    text = as_json(document_of(bow, NOW)).decode()
    assert damage(text) != text
    with pytest.raises(Refused, match=told):
        read(damage(text).encode())


def test_a_record_that_lacks_a_row_or_a_field_is_refused(shop: Shop, bow: Bow) -> None:
    document = renamed(document_of(bow, NOW))
    del document["tables"]["set_up"][0]["peak_weight_n"]
    with pytest.raises(Refused, match=r"A row of set_up lacks peak_weight_n"):
        bring(document, by=shop.owner, site=shop.site)
    document = renamed(document_of(bow, NOW))
    document["tables"]["cord"] = []
    with pytest.raises(Refused, match=r"fitting, cord: row '\d+' is not in the record"):
        bring(document, by=shop.owner, site=shop.site)
    document = renamed(document_of(bow, NOW))
    document["tables"]["shots"][0]["start"] = "yesterday"
    with pytest.raises(Refused, match=r"shots, start: 'yesterday' cannot be read"):
        bring(document, by=shop.owner, site=shop.site)


def test_every_kind_of_row_about_a_bow_is_in_the_record() -> None:
    """A table added to the register later must be carried too, or be named here with its reason."""
    left_out = {
        "auditentry": "the history is written out for reading; the other book's trail holds its own acts",
        "heldtogether": "says only that holds of several bows were put on in one act",
    }
    carried = {table.model for table in TABLES}
    about_bows = {Bow}
    for _ in range(4):
        about_bows |= {
            model
            for model in apps.get_app_config("fleet").get_models()
            for field in model._meta.concrete_fields
            if isinstance(field, ForeignKey) and field.related_model in about_bows
        }
    missing = {model._meta.model_name for model in about_bows - carried} - set(left_out)
    assert missing == {"guestname"}, "guests' names stay behind; everything else is carried"


def test_the_tables_as_csv_are_safe_in_a_spreadsheet(shop: Shop, bow: Bow) -> None:
    record.put_bow(by=shop.manager, tag=bow.tag, spec_sheet=bow.spec_sheet, serial="=1+1")
    archive = zipfile.ZipFile(io.BytesIO(as_zip(document_of(Bow.objects.get(), NOW))))
    [row] = csv.DictReader(io.StringIO(archive.read("bow.csv").decode()))
    assert row["serial"] == "'=1+1"
    shots = list(csv.DictReader(io.StringIO(archive.read("shots.csv").decode())))
    assert sum(int(one["count"]) for one in shots) == sum(bow.shots.values_list("count", flat=True))
    assert read(archive.read("record.json"))["bow"] == "L-1"


def test_the_command_writes_and_brings(shop: Shop, bow: Bow, tmp_path: Path) -> None:
    target = tmp_path / "b.json"
    call_command("bow_record", "--out", "L-1", str(target))
    target.write_bytes(as_json(renamed(read(target.read_bytes()))))
    call_command("bow_record", "--bring", str(target), "--site", shop.site.code)
    assert Bow.objects.filter(tag="L-1-b").exists()
    with pytest.raises(CommandError, match=r"choose \.json, \.zip, \.pdf"):
        call_command("bow_record", "--out", "L-1", str(tmp_path / "b.doc"))
    with pytest.raises(CommandError, match="There is no bow 'L-9'"):
        call_command("bow_record", "--out", "L-9", str(target))
    with pytest.raises(CommandError, match="Say either"):
        call_command("bow_record")
    with pytest.raises(CommandError, match="Say with --site"):
        call_command("bow_record", "--bring", str(target))


def test_readings_before_and_after_a_stay_come_along(shop: Shop, bow: Bow) -> None:
    """The integral of heat joins the last reading before a stay to the first one in it."""
    stay = bow.stays.get(place=shop.rack)
    instants = sorted(row["at"] for row in document_of(bow, NOW)["tables"]["temperature_reading"])
    assert instants[-1] >= stay.end.isoformat()
    assert len(instants) < 1500 and stay.end - timedelta(hours=2) > stay.start


def test_signed_work_comes_along(shop: Shop, bow: Bow) -> None:
    assert not SignedResult.objects.exists()
    result = record.sign_result(
        by=shop.technician,
        bow=bow,
        order_number="LARK-1",
        reference_set=bow.reference_sets.get(),
        work=[{"kind": "incident", "reason": "dropped"}],
        readings=[],
        at=before(hours=2),
        cords_changed=[],
        steps_done=[1],
        note="limbs looked at",
    )
    copy = bring(renamed(document_of(bow, NOW)), by=shop.owner, site=shop.site)
    assert copy.results.get().note == result.note
    assert copy.results.get().performed_by == shop.technician
