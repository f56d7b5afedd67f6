"""`manage.py due`: every fitted cord in three formats, as of now or of a day, with its account on demand."""

import csv
import json
import re
from datetime import date, datetime, timedelta
from io import StringIO

import pytest

from fleet import record
from fleet.models import Cord
from service import decide
from service.models import CordWear
from tests import personas
from tests.service.commands import refused, run

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("standing_clock")]


@pytest.fixture
def shop(db: None) -> personas.Shop:
    """Three bows: worn out, half worn, and one of another site."""
    shop = personas.shop()
    worn, half = personas.fitted_bow(shop, tag="L-WORN"), personas.fitted_bow(shop, tag="L-HALF")
    personas.shoot(shop, worn, 4_800)
    personas.shoot(shop, half, 2_500)
    camp = personas.shop("camp", time_zone="Pacific/Auckland")
    personas.fitted_bow(camp, kind="recurve", tag="C-1")
    decide.rebuild(personas.NOW)
    return shop


def rows(*words: str) -> list[dict[str, object]]:
    return json.loads(run("due", "--format", "json", *words))


def test_every_fitted_cord_once_the_soonest_first(shop: personas.Shop) -> None:
    found = rows()
    assert [row["tag"] for row in found].count("L-WORN") == 3
    assert len(found) == 3 + 3 + 1
    # Past their point: the most used first, as their dates are the same or earlier.
    assert {row["tag"] for row in found[:3]} == {"L-WORN"}
    dates = [row["replace_on"] for row in found]
    assert dates == sorted(dates, key=lambda on: (on is None, on))


def test_the_shares_add_up_and_the_date_says_how_it_is_known(shop: personas.Shop) -> None:
    for row in rows():
        assert row["life_used"] == pytest.approx(row["shots"] + row["time"] + row["heat"], abs=1e-12)
        assert row["basis"]
        assert f"at {row['life_used']:.2f} of rated life" in row["reason"]
    string = next(row for row in rows() if row["tag"] == "L-HALF" and row["position"] == "string")
    # 2,500 of 5,000 rated shots.
    assert string["shots"] == pytest.approx(0.5)
    assert string["replace_from"] <= string["replace_on"]


def test_the_bounds_stand_in_order_be_the_date_past_or_ahead(shop: personas.Shop) -> None:
    now = personas.NOW.date().isoformat()
    found = [[row["replace_from"], row["replace_on"], row["replace_until"]] for row in rows()]
    assert any(str(on) < now for _, on, _ in found)
    assert any(str(on) > now for _, on, _ in found)
    for bounds in found:
        told = [day for day in bounds if day is not None]
        assert told == sorted(told, key=str)


def test_csv_is_the_same_list(shop: personas.Shop) -> None:
    found = list(csv.DictReader(StringIO(run("due", "--format", "csv"))))
    assert [(row["tag"], row["position"]) for row in found] == [(row["tag"], row["position"]) for row in rows()]
    assert [float(row["life_used"]) for row in found] == [row["life_used"] for row in rows()]


def test_csv_is_safe_in_a_spreadsheet(shop: personas.Shop) -> None:
    Cord.objects.filter(fittings__bow__tag="L-WORN", fittings__position="string").update(serial="=1+1")
    serials = [row["serial"] for row in csv.DictReader(StringIO(run("due", "--format", "csv")))]
    assert "'=1+1" in serials and "=1+1" not in serials


def test_the_table_is_for_people(shop: personas.Shop) -> None:
    text = run("due")
    assert "7 fitted cords." in text
    for words in ("L-WORN", "life used", "replace on", "10 %", "90 %", "upper cable"):
        assert words in text


def test_one_site_alone(shop: personas.Shop) -> None:
    assert {row["tag"] for row in rows("--site", "camp")} == {"C-1"}
    assert {row["site"] for row in rows("--site", "larkspur")} == {"larkspur"}


def test_fitted_on_is_the_day_at_the_site(shop: personas.Shop) -> None:
    """Fitted at 15:00 UTC: in Auckland it was the next day already."""
    utc = personas.before(100).date()
    assert rows("--site", "camp")[0]["fitted_on"] == (utc + timedelta(days=1)).isoformat()
    assert rows("--site", "larkspur")[0]["fitted_on"] == utc.isoformat()


def test_as_of_an_earlier_day_only_what_had_happened_counts(shop: personas.Shop) -> None:
    day = personas.before(50).date()
    found = {(row["tag"], row["position"]): row for row in rows("--on", day.isoformat(), "--site", "larkspur")}
    string = found["L-WORN", "string"]
    assert string["shots"] == 0.0
    # Fitted 50 days and some hours before the end of that day, after 100 days on the shelf at a quarter each.
    end = datetime(day.year, day.month, day.day, 6, tzinfo=personas.NOW.tzinfo) + timedelta(days=1)
    tension_d = (end - personas.before(100)).total_seconds() / 86_400
    made = personas.before(200).replace(hour=12, minute=0)
    shelf_d = (personas.before(100) - made).total_seconds() / 86_400
    assert string["time"] == pytest.approx((tension_d + 0.25 * shelf_d) / 365.25, abs=1e-9)
    assert CordWear.objects.filter(as_of=personas.NOW).count() == 7, "what is saved stays as it is"


def test_a_fact_that_just_came_in_is_counted(shop: personas.Shop) -> None:
    before = {row["tag"]: row["shots"] for row in rows() if row["position"] == "string"}
    personas.shoot(shop, record_bow("L-HALF"), 500, days_ago=0.2)
    after = {row["tag"]: row["shots"] for row in rows() if row["position"] == "string"}
    assert after["L-HALF"] - before["L-HALF"] == pytest.approx(0.1)
    assert after["L-WORN"] == before["L-WORN"]


def test_a_retired_bow_is_not_due(shop: personas.Shop) -> None:
    record.retire(by=shop.manager, bow=record_bow("L-WORN"), at=personas.NOW, why="limb cracked")
    assert "L-WORN" not in {row["tag"] for row in rows()}
    assert "L-WORN" not in {row["tag"] for row in rows("--on", "2026-07-02")}


def test_the_account_of_one_bow(shop: personas.Shop) -> None:
    text = run("due", "--explain", "L-HALF")
    assert "string" in text
    assert "2,500" in text or "2500" in text


def test_the_account_names_the_weekdays_on_which_the_site_is_open(shop: personas.Shop) -> None:
    shop.site.opening_weekdays = [1, 5]
    shop.site.save()
    text = run("due", "--explain", "L-HALF")
    assert re.search(r"weekdays Tue x\d\.\d\d, Sat x\d\.\d\d; season", text)


def test_the_account_says_how_long_the_temperature_was_not_read(shop: personas.Shop) -> None:
    # Fitted 100 days ago and on the logged rack ever since; then the logger's file comes, with ten hours missing.
    told = "h at places without a reading, taken at the site's indoor temperature, 69.8 °F"
    assert f"2400.0 {told}" in run("due", "--explain", "L-HALF")
    at = [personas.NOW - timedelta(hours=hour) for hour in range(2_400, -1, -1) if not 50 < hour < 60]
    rows = [record.TemperatureRow(shop.rack, moment, 20.0) for moment in at]
    record.add_many_readings(by=shop.technician, rows=rows, source="log")
    decide.rebuild(personas.NOW)
    assert f" 10.0 {told}" in run("due", "--explain", "L-HALF")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--site", "nowhere"), "There is no site 'nowhere'; the book has: camp, larkspur."),
        (("--on", "1.7.2026"), "'1.7.2026' is not a day: give it as YYYY-MM-DD"),
        (("--on", "2026-02-30"), "'2026-02-30' is not a day"),
        (("--explain", "L-NONE"), "There is no bow 'L-NONE' with fitted cords: see `manage.py due`"),
        (("--format", "pdf"), "choose from"),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(shop: personas.Shop, words: tuple[str, ...], said: str) -> None:
    assert said in refused("due", *words)


def test_an_empty_book_is_an_empty_list(db: None) -> None:
    assert rows() == []
    assert "0 fitted cords." in run("due")
    assert run("due", "--format", "csv").count("\n") == 1


def record_bow(tag: str) -> "personas.Bow":
    return personas.Bow.objects.get(tag=tag)


def test_on_a_day_is_the_end_of_that_day_at_the_site(shop: personas.Shop) -> None:
    """A day ends in Auckland eleven to thirteen hours before it ends in UTC."""
    on = date(2026, 6, 1).isoformat()
    here = rows("--on", on, "--site", "camp")[0]["time"]
    utc = next(row for row in rows("--on", on) if row["tag"] == "C-1")["time"]
    assert (utc - here) * 365.25 * 24 == pytest.approx(12.0)
