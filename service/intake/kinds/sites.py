"""Files of sites and places."""

import zoneinfo

from fleet import record
from fleet.models import Place, Site
from fleet.ranges import LIFE, TEMPERATURE, Range
from fleet.vocabulary import TemperatureSource
from service.intake.changes import Change, Status, compare
from service.intake.columns import Column, may_be_emptied
from service.intake.desk import Desk, Values
from service.intake.kind import Kind
from service.intake.numbers import money, number, quantity, whole
from service.intake.problems import CellError, nearest
from service.intake.rows import Row
from service.intake.words import choice, site_column, text, weekdays, yes_no
from service.said import mark, say
from service.units import Dimension

RATE = Range(mark("labour rate"), 0, 999_999, mark("in the site's currency per hour"))
RENTAL = Range(mark("rental value"), 0, 999_999, mark("in the site's currency per day"))
GRACE = Range(mark("grace"), 0, 60, mark("days"))
INSPECTION = Range(mark("inspection interval"), 1, 366, mark("days"))
SIGNED_NAME_DAYS = Range(mark("days a name under signed work is kept"), 0, 7305, mark("days"))
NAME_DAYS = Range(mark("days a guest's name is kept"), 0, 366, mark("days"))
RISK = Range(mark("undetected risk target"), 0.0001, 0.2, mark("of one"))


def _read_zone(typed: str, _unit: str, _values: Values, _desk: Desk) -> str:
    zones = zoneinfo.available_timezones()
    if typed in zones:
        return typed
    meant = nearest(typed, zones)
    raise CellError(
        say("no such time zone"),
        allowed=say("a name of the IANA time zone database"),
        fix=say("did you mean %(meant)r?", meant=meant) if meant else say("write it like Europe/Lisbon"),
    )


SITE_COLUMNS = (
    text(
        "code",
        20,
        say("short name"),
        required=True,
        pattern=r"[-a-zA-Z0-9_]+",
        pattern_name=say("letters, digits, - and _"),
    ),
    text("name", 80, say("name as printed"), required=True),
    Column("time_zone", _read_zone, say("IANA time zone"), required=True, allowed=say("Europe/Lisbon, for example")),
    choice("units", {"imperial": say("imperial"), "metric": say("metric")}, say("units shown")),
    choice("paper", {"letter": say("Letter"), "a4": "A4"}, say("paper of the sheets")),
    weekdays("opening_weekdays", say("days on which the site is open")),
    quantity("indoor_temperature", TEMPERATURE, Dimension.TEMPERATURE, say("assumed where there is no logger")),
    text("currency", 3, say("ISO 4217 code"), pattern=r"[A-Z]{3}", pattern_name=say("three capital letters")),
    money("labour_rate_per_hour", RATE, say("cost of an hour at the bench")),
    money("rental_value_per_day", RENTAL, say("what a day without the bow costs")),
    whole("timing_grace_days", GRACE, say("days a bow may go out with a timing check overdue")),
    whole("inspection_max_days", INSPECTION, say("longest time between inspections")),
    number("replacement_cap", LIFE, say("share of rated life at which cords are replaced")),
    quantity("undetected_risk_target", RISK, Dimension.SHARE, say("chance of an unnoticed condemned cord")),
    yes_no("guests_shoot_in", say("guests may shoot the settle-in shots")),
    whole("guest_name_days", NAME_DAYS, say("days until a guest's name is erased")),
    whole("signed_name_days", SIGNED_NAME_DAYS, say("days for which the name of who signed is kept (house choice)")),
)
_ATTRIBUTES = {"indoor_temperature": "indoor_temperature_c"}


def _take_site(row: Row, desk: Desk) -> Change:
    site = Site.objects.filter(code=row["code"]).first()
    names = {column.field: _ATTRIBUTES.get(column.field, column.field) for column in SITE_COLUMNS}
    before = None if site is None else {field: getattr(site, name) for field, name in names.items()}
    change = compare(row, row["code"], before)
    if change.status is not Status.UNCHANGED:
        values = {names[field]: value for field, value in row.values.items() if field != "code"}
        record.put_site(by=desk.by, code=row["code"], **values)
    return change


PLACE_COLUMNS = (
    site_column(),
    text("name", 60, say("name of the rack, locker, trailer or vehicle"), required=True),
    choice(
        "temperature_source", dict(TemperatureSource.choices), say("where its temperature comes from"), required=True
    ),
    may_be_emptied(quantity("fixed_temperature", TEMPERATURE, Dimension.TEMPERATURE, say("for a fixed place"))),
    yes_no("shade", say("a vehicle parked in the shade")),
    yes_no("boot", say("bows lie in the vehicle's boot")),
)


def _take_place(row: Row, desk: Desk) -> Change:
    site = desk.site_of(row.values)
    place = Place.objects.filter(site=site, name=row["name"]).first()
    before = None if place is None else {
        "site": place.site,
        "name": place.name,
        "temperature_source": place.temperature_source,
        "fixed_temperature": place.fixed_temperature_c,
        "shade": place.shade,
        "boot": place.boot,
    }  # fmt: skip
    fixed = row.get("fixed_temperature", place.fixed_temperature_c if place else None)
    if row["temperature_source"] == TemperatureSource.FIXED and fixed is None:
        raise CellError(
            say("a fixed place needs its temperature"),
            allowed=say("-50 to 95 °C"),
            fix=say("fill in fixed_temperature_c"),
            column="fixed_temperature",
        )
    change = compare(row, f"{site.code}: {row['name']}", before)
    if change.status is not Status.UNCHANGED:
        record.put_place(
            by=desk.by,
            site=site,
            name=row["name"],
            temperature_source=row["temperature_source"],
            fixed_temperature_c=fixed,
            **row.given("shade", "boot"),
        )
    return change


SITES = Kind("sites", say("ranges, shops and camps with their house settings"), SITE_COLUMNS, ("code",), _take_site)
PLACES = Kind("places", say("racks, lockers, trailers and vehicles"), PLACE_COLUMNS, ("site", "name"), _take_place)
