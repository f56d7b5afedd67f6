"""`manage.py rebuild`: everything anew; `--check` changes nothing and fails where something is off."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from fleet import record
from service import decide
from service.models import BowUse, CordWear, Need, SiteUse, SpecLife, StaleBow
from tests import personas
from tests.service.commands import refused, run

pytestmark = pytest.mark.django_db
EQUAL = "What is saved equals a rebuild to 1e-9."


@pytest.fixture
def shop(db: None) -> personas.Shop:
    shop = personas.shop()
    for tag in ("L-1", "L-2"):
        personas.shoot(shop, personas.fitted_bow(shop, tag=tag), 700)
    return shop


def check() -> tuple[str, str]:
    """(what a failing check lists, what it ends with)"""
    listed = StringIO()
    with pytest.raises(CommandError) as problem:
        call_command("rebuild", "--check", stdout=StringIO(), stderr=listed)
    return listed.getvalue(), str(problem.value)


def test_it_computes_everything_from_the_register_alone(shop: personas.Shop) -> None:
    text = run("rebuild")
    assert text.startswith("6 fitted cords computed in ")
    saved = sorted(CordWear.objects.values_list("fitting", "life_shots"))
    for derived in (CordWear, Need, SpecLife, SiteUse, BowUse):
        assert derived.objects.exists(), derived
        derived.objects.all().delete()
    run("rebuild")
    assert sorted(CordWear.objects.values_list("fitting", "life_shots")) == saved
    assert not StaleBow.objects.exists()


def test_a_fresh_rebuild_checks(shop: personas.Shop) -> None:
    run("rebuild")
    assert run("rebuild", "--check").strip() == EQUAL


@pytest.mark.parametrize("off", [1e-6, -0.3])
def test_a_life_that_is_off_is_named_with_both_numbers(shop: personas.Shop, off: float) -> None:
    run("rebuild")
    wear = CordWear.objects.get(fitting__bow__tag="L-2", fitting__position="string")
    true = wear.life_used
    CordWear.objects.filter(pk=wear.pk).update(life_used=true + off)
    listed, said = check()
    assert listed.strip() == f"L-2 string: saved {true + off!r}, computed {true!r}"
    assert said == "1 cords differ from a rebuild: run `manage.py rebuild`."
    assert CordWear.objects.get(pk=wear.pk).life_used == true + off, "a check changes nothing"
    run("rebuild")
    assert run("rebuild", "--check").strip() == EQUAL


def test_less_than_the_tolerance_is_equal(shop: personas.Shop) -> None:
    run("rebuild")
    wear = CordWear.objects.first()
    CordWear.objects.filter(pk=wear.pk).update(life_used=wear.life_used + 1e-11)
    assert run("rebuild", "--check").strip() == EQUAL


def test_cords_that_were_never_computed_are_not_equal_to_anything(shop: personas.Shop) -> None:
    StaleBow.objects.all().delete()
    listed, said = check()
    assert listed.count("never computed") == 6
    assert "6 cords differ" in said


def test_one_cord_that_is_missing_is_found(shop: personas.Shop) -> None:
    run("rebuild")
    CordWear.objects.filter(fitting__bow__tag="L-1", fitting__position="lower_cable").delete()
    listed, _said = check()
    assert "L-1 lower cable" in listed


def test_wear_of_a_cord_taken_off_is_found(shop: personas.Shop) -> None:
    run("rebuild")
    fitting = CordWear.objects.get(fitting__bow__tag="L-1", fitting__position="string").fitting
    record.remove_cord(by=shop.technician, fitting=fitting, at=personas.NOW, why="planned", now=personas.NOW)
    StaleBow.objects.all().delete()
    assert check()[0].strip() == "L-1 string: saved, but no longer fitted"


def test_bows_that_wait_are_counted_and_not_wrong(shop: personas.Shop) -> None:
    decide.rebuild(personas.NOW)
    # Inside a test's transaction nothing commits, so the mark of the new entry stays.
    personas.shoot(shop, personas.Bow.objects.get(tag="L-1"), 60, days_ago=0.1)
    # The calibration of the site and the history of each of its three cord specs.
    figures = "4 saved figures of pages are older than the last fact and were left out."
    told = f"{EQUAL} 1 bows wait for their refresh and were left out. {figures}"
    assert run("rebuild", "--check").strip() == told


def test_an_unknown_word_is_refused(db: None) -> None:
    assert "unrecognized arguments: --all" in refused("rebuild", "--all")
