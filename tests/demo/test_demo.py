"""The demo shop's facts: all kinds of bow, whole, plausible, with its troubles, and nobody's real name."""

import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import Sum

from fleet import lookups
from fleet.models import (
    AuditEntry,
    Bow,
    CordSpec,
    Fitting,
    GuestName,
    Hire,
    Hold,
    Incident,
    MeasuringTool,
    Person,
    ReferenceSet,
    Shots,
    SignedResult,
    Site,
    SpecSheet,
    StockMovement,
    SupplierOrder,
    TemperatureReading,
    VehicleParking,
)
from fleet.vocabulary import POSITIONS_BY_CAM_SYSTEM, Fibre, RemovalReason, Role
from service import decide
from service.demo import roster
from service.demo.cords import RECALLABLE_LOT
from service.demo.signins import SIGN_INS
from service.demo.weather import HEAT_WAVE_DAYS_AGO
from service.models import CordWear, Need, NeedKind
from service.use_ahead import calibration_of
from service.verdicts import verdicts_of
from tests.demo.loaded import loaded

# The mark makes the test database even where these tests are the only ones that are run.
pytestmark = pytest.mark.django_db

NOW = datetime(2026, 7, 1, 15, tzinfo=UTC)
BOWS = 60

# SHA-256, cut to twelve digits, of brand words of the archery trade, from memory: the names themselves stay out of
# the project, and none of them may turn up in what the demo's makers are called.
BRAND_WORDS = set(Path(__file__).with_name("brand_words.sha256").read_text().split())


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """The demo shop, loaded once for the module and rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic():
        loaded(NOW)
        decide.rebuild(NOW)
        yield
        transaction.set_rollback(True)


def test_nothing_lies_in_the_future(demo: None) -> None:
    assert Shots.objects.filter(end__gt=NOW).count() == 0
    assert Hire.objects.filter(out_at__gt=NOW).count() == 0
    assert Fitting.objects.filter(fitted_at__gt=NOW).count() == 0
    assert TemperatureReading.objects.filter(at__gt=NOW).count() == 0
    assert Shots.objects.filter(end__gt=NOW - timedelta(days=2)).exists()


def test_every_bow_in_use_has_all_its_cords_and_references(demo: None) -> None:
    for bow in Bow.objects.select_related("spec_sheet"):
        positions = sorted(lookups.fitted(bow).values_list("position", flat=True))
        assert positions == sorted(POSITIONS_BY_CAM_SYSTEM[bow.spec_sheet.cam_system]), bow.tag
        assert lookups.current_reference_set(bow) is not None, bow.tag
        assert bow.stays.filter(end=None).count() == 1, bow.tag


def test_each_bow_stands_where_the_story_left_it(demo: None) -> None:
    states = {bow.tag: bow.state for bow in lookups.with_state(Bow.objects.all())}

    assert {tag for tag, state in states.items() if state == "held"} == {
        roster.DRY_FIRED,
        roster.SENT_TO_TIMING,
        roster.UNKNOWN_USE,
    }
    assert {tag for tag, state in states.items() if state == "out"} == set(roster.OUT_NOW)
    assert {tag for tag, state in states.items() if state == "retired"} == {roster.RETIRED}
    assert Counter(states.values())["ready"] == 54


def test_the_two_shops_are_as_unlike_as_the_design_wants(demo: None) -> None:
    kinds = set(Site.objects.values_list("units", "paper"))
    assert kinds == {("imperial", "letter"), ("metric", "a4")}
    assert len(set(Site.objects.values_list("time_zone", "currency"))) == 2
    assert set(CordSpec.objects.values_list("fibre", flat=True)) == set(Fibre.values)
    assert SpecSheet.objects.values("maker").distinct().count() == 4
    assert SpecSheet.objects.exclude(string_arm_lower_m=None).exists()
    assert SpecSheet.objects.filter(bow_kind="compound", string_arm_lower_m=None).exists()
    assert set(ReferenceSet.objects.values_list("origin", flat=True)) == {"maker", "draw_board", "after_service"}
    assert MeasuringTool.objects.filter(calibration_due_on__lt=NOW.date()).count() == 1
    assert Person.objects.exclude(absences=None).count() == 1


def test_removed_cords_teach_something(demo: None) -> None:
    reasons = Counter(Fitting.objects.exclude(removed_at=None).values_list("removed_why", flat=True))

    assert set(reasons) == set(RemovalReason.values)
    assert reasons["planned"] >= 60
    assert reasons["condemned"] >= 8


def test_a_lot_that_could_be_recalled_sits_on_several_bows(demo: None) -> None:
    carriers = Fitting.objects.filter(cord__lot=RECALLABLE_LOT, removed_at=None).values("bow").distinct()

    assert carriers.count() >= 2


def test_the_heat_wave_is_the_hottest_week_and_the_car_stood_in_it(demo: None) -> None:
    begin, end = (NOW - timedelta(days=days) for days in HEAT_WAVE_DAYS_AGO)
    for place in ("Store", "Trailer"):
        hottest = TemperatureReading.objects.filter(place__name=place).order_by("-celsius")[0]
        assert begin - timedelta(days=1) <= hottest.at <= end + timedelta(days=1), place
    parking = VehicleParking.objects.get()
    assert begin <= parking.start < parking.end <= end


def test_shots_are_clumped_as_rental_shots_are(demo: None) -> None:
    bow = Bow.objects.get(tag="HW-03")
    by_day = Counter[Any]()
    for start, count in bow.shots.values_list("start", "count"):
        by_day[start.date()] += count

    assert len(by_day) < 100  # of two hundred days
    assert min(by_day.values()) >= 30
    assert max(by_day.values()) > 60


def test_the_shelves_add_up_and_something_is_on_its_way(demo: None) -> None:
    for site in Site.objects.all():
        for spec in CordSpec.objects.all():
            moved = StockMovement.objects.filter(site=site, cord_spec=spec)
            assert lookups.on_hand(site, spec) == (moved.aggregate(total=Sum("quantity"))["total"] or 0) >= 0
    coming = SupplierOrder.objects.filter(received_at=None, cancelled_at=None)
    assert coming.exists()
    assert all(order.expected_on >= NOW.date() for order in coming)


def test_guests_names_are_kept_no_longer_than_their_sites_days(demo: None) -> None:
    assert GuestName.objects.exists()
    assert not GuestName.objects.filter(erase_on__lte=NOW.date()).exists()
    assert AuditEntry.objects.filter(verb="erase_guest_names").count() == 1


def test_every_sign_in_works_and_every_role_has_one(demo: None) -> None:
    for username, password, purpose in SIGN_INS:
        person = Person.objects.get(username=username)
        assert person.check_password(password), username
        assert purpose
    assert set(Person.objects.values_list("username", flat=True)) == {username for username, _, _ in SIGN_INS}
    assert set(Person.objects.values_list("posts__role", flat=True)) == set(Role.values)


def test_no_maker_or_model_is_called_by_a_brands_word(demo: None) -> None:
    names = [
        *SpecSheet.objects.values_list("maker", "model"),
        *CordSpec.objects.values_list("maker"),
        *Site.objects.values_list("name"),
    ]
    words = {word for row in names for text in row for word in re.findall(r"[a-z]+", text.lower())}

    assert len(words) > 10
    assert len(BRAND_WORDS) > 100
    assert not {word for word in words if hashlib.sha256(word.encode()).hexdigest()[:12] in BRAND_WORDS}


def test_sixty_bows_of_every_kind_and_cam_system(demo: None) -> None:
    assert Bow.objects.count() == BOWS
    assert Site.objects.count() == 2
    kinds = set(Bow.objects.values_list("spec_sheet__bow_kind", "spec_sheet__cam_system"))
    assert {system for kind, system in kinds if kind == "compound"} == {"single", "hybrid", "twin", "binary"}
    assert {"recurve", "longbow"} <= {kind for kind, _ in kinds}


def test_the_season_has_its_troubles(demo: None) -> None:
    assert Incident.objects.filter(kind="dry_fire").count() == 1
    assert Hold.objects.filter(released=None).exists()
    assert Fitting.objects.filter(removed_why="condemned").exclude(finding="").exists()
    assert SignedResult.objects.exclude(released_at=None).exists()
    assert Bow.objects.exclude(retirement=None).exists()


def test_a_bow_past_its_replacement_date_may_not_go_out(demo: None) -> None:
    verdicts = verdicts_of(list(Bow.objects.select_related("site", "spec_sheet")), NOW)
    overdue = Need.objects.filter(kind=NeedKind.REPLACEMENT, latest_on__lt=NOW.date())
    assert overdue.exists()
    assert not any(verdicts[need.bow_id].may_go for need in overdue)


def test_it_goes_into_an_empty_book_only(demo: None) -> None:
    with pytest.raises(CommandError, match="empty book only"):
        call_command("demo")


@pytest.mark.parametrize("site", ["hw", "tc"])
def test_the_forecast_keeps_its_word_on_the_demos_history(demo: None, site: str) -> None:
    """Held-back months: the 10 to 90 % band covers 80 % within its stated margin, and the mean beats last-30-days."""
    report = calibration_of(Site.objects.get(code=site), NOW)
    assert report is not None
    assert report.count > 60
    assert report.keeps_its_word, report.account()
    assert report.gain > 0.0, report.account()


def test_what_the_bench_found_has_taught_the_cords_creep(demo: None) -> None:
    """Compounds and string bows alike: the demo's cords creep near the coefficient, and what was learned says so."""
    wears = CordWear.objects.select_related("fitting__bow__spec_sheet")
    taught = [wear for wear in wears if wear.creep_pairs]
    assert {wear.fitting.bow.spec_sheet.cam_system for wear in taught} == {"", "single", "hybrid", "twin", "binary"}
    assert len(taught) > 0.8 * len(wears)
    assert all(0.5e-4 < wear.creep_per_month < 8e-4 for wear in taught)
