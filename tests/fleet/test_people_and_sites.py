"""People, their roles per site, and the house settings of a site."""

import pytest
from django.db import IntegrityError, transaction

from fleet import lookups, record
from fleet.models import AuditEntry, Person, Post, Site
from fleet.record import Refused
from tests import personas
from tests.personas import NOW, PASSWORD, Shop


@pytest.fixture
def camp(shop: Shop) -> Site:
    return record.put_site(
        by=shop.owner, code="camp", name="Alder Camp", time_zone="Europe/Oslo", units="metric", paper="a4"
    )


def test_a_role_holds_at_its_own_site_only(shop: Shop, camp: Site) -> None:
    assert lookups.role_at(shop.technician, shop.site) == "technician"
    assert lookups.role_at(shop.technician, camp) is None
    assert list(lookups.sites_of(shop.technician)) == [shop.site]


def test_an_owner_is_owner_everywhere(shop: Shop, camp: Site) -> None:
    assert lookups.role_at(shop.owner, camp) == "owner"
    assert set(lookups.sites_of(shop.owner, "owner")) == {shop.site, camp}


def test_one_person_may_have_different_roles_at_two_sites(shop: Shop, camp: Site) -> None:
    record.put_person(
        by=shop.owner, username=shop.counter.username, display_name="Lark Counter", site=camp, role="manager"
    )

    assert lookups.role_at(shop.counter, shop.site) == "counter"
    assert lookups.role_at(shop.counter, camp) == "manager"
    assert set(lookups.sites_of(shop.counter)) == {shop.site, camp}
    assert list(lookups.sites_of(shop.counter, "technician")) == [camp]


def test_the_greater_of_two_roles_counts(shop: Shop, camp: Site) -> None:
    record.put_person(
        by=shop.owner,
        username=shop.technician.username,
        display_name="Lark Technician",
        site=shop.site,
        role="counter",
        role_everywhere=True,
    )

    assert lookups.role_at(shop.technician, shop.site) == "technician"
    assert lookups.role_at(shop.technician, camp) == "counter"


def test_the_database_keeps_one_role_per_person_and_site(shop: Shop) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Post.objects.create(person=shop.counter, site=shop.site, role="owner")
    with pytest.raises(IntegrityError), transaction.atomic():
        Post.objects.create(person=shop.owner, site=None, role="counter")


def test_a_role_outside_the_list_is_refused(shop: Shop) -> None:
    with pytest.raises(Refused, match=r"role 'boss' is not one of counter, technician, manager, owner"):
        personas.person(shop.owner, shop.site, "boss", "b")


def test_a_password_is_set_hashed_and_not_written_to_the_audit(shop: Shop) -> None:
    person = Person.objects.get(username="larkspur-counter")

    assert person.check_password(PASSWORD)
    assert PASSWORD not in repr(list(AuditEntry.objects.values()))


def test_a_person_without_a_password_cannot_sign_in(shop: Shop) -> None:
    person = record.put_person(
        by=shop.owner, username="guest-tech", display_name="Guest Tech", site=shop.site, role="technician"
    )

    assert not person.has_usable_password()


def test_skills_and_hours_replace_what_was_said_before(shop: Shop) -> None:
    record.set_skills(by=shop.owner, person=shop.technician, skills=["press"])
    record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={0: 120, 5: 60, 6: 0})

    assert list(shop.technician.skills.values_list("skill", flat=True)) == ["press"]
    assert dict(shop.technician.bench_hours.values_list("weekday", "minutes")) == {0: 120, 5: 60}


def test_bench_times_that_cannot_be_are_refused(shop: Shop) -> None:
    me, technician = shop.owner, shop.technician
    with pytest.raises(Refused, match=r"skill 'juggling' is not one of inspection, press, timing, limbs"):
        record.set_skills(by=me, person=technician, skills=["juggling"])
    with pytest.raises(Refused, match=r"weekday 7 is outside 0 \(Monday\) to 6 \(Sunday\): give one of these"):
        record.set_bench_hours(by=me, person=technician, minutes_by_weekday={7: 60})
    with pytest.raises(Refused, match=r"bench minutes 1500 minutes a day is outside 0 to 1440 minutes a day"):
        record.set_bench_hours(by=me, person=technician, minutes_by_weekday={0: 1500})
    with pytest.raises(Refused, match=r"the absence ends on 2026-06-30 before it begins on 2026-07-01: swap the days"):
        record.add_absence(by=me, person=technician, first_day=NOW.date(), last_day=personas.before(1).date())


def test_a_day_is_closed_once(shop: Shop) -> None:
    first = record.close_day(by=shop.owner, site=shop.site, day=NOW.date(), why="stocktaking")

    assert record.close_day(by=shop.owner, site=shop.site, day=NOW.date()) == first


@pytest.mark.parametrize(
    ("settings", "text"),
    [
        ({"time_zone": "Mars/Olympus"}, r"time zone 'Mars/Olympus' is not known: give an IANA name such as"),
        ({"units": "furlongs"}, r"units 'furlongs' of the site: .*not a valid choice"),
        ({"paper": "a3"}, r"paper 'a3' of the site: .*not a valid choice"),
        ({"opening_weekdays": [0, 7]}, r"opening weekdays \[0, 7\]: each is 0 \(Monday\) to 6 \(Sunday\)"),
        ({"indoor_temperature_c": 200.0}, r"temperature 200 degC is outside -50 to 95 degC"),
        ({"currency": "EURO"}, r"currency 'EURO' of the site: .*at most 3 characters"),
    ],
)
def test_settings_that_cannot_be_are_refused(shop: Shop, settings: dict[str, object], text: str) -> None:
    with pytest.raises(Refused, match=text):
        record.put_site(by=shop.owner, code=shop.site.code, **settings)


def test_a_new_press_place_and_checklist_are_written_down(shop: Shop) -> None:
    record.set_checklist(by=shop.owner, site=shop.site, bow_kind="compound", lines=["limbs", "cams", "cords"])
    record.set_checklist(by=shop.owner, site=shop.site, bow_kind="compound", lines=["cams", "cords"])

    assert list(shop.site.checklist.values_list("place_in_list", "text")) == [(1, "cams"), (2, "cords")]
    with pytest.raises(Refused, match=r"bow kind 'crossbow' is not one of compound, recurve, longbow"):
        record.set_checklist(by=shop.owner, site=shop.site, bow_kind="crossbow", lines=["x"])
