"""More guests and hotter days through the wear model; absences and late deliveries through the bench. Nothing saved."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleet import record
from fleet.models import Bow
from service import decide
from service.models import CordWear, Need, NeedKind, Plan
from service.planning.comparison import Change, compare
from service.planning.facts import Facts
from service.planning.other_conditions import Conditions, facts_under
from service.wear.arrhenius import acceleration_factor
from tests import personas
from tests.personas import NOW

pytestmark = pytest.mark.django_db

TODAY = date(2026, 7, 1)


@pytest.fixture
def shop(db: None) -> personas.Shop:
    return personas.shop(labour_rate_per_hour=Decimal(30), rental_value_per_day=Decimal(40))


@pytest.fixture
def used(shop: personas.Shop) -> Bow:
    """A bow on a rack without readings, shot every third day for three months."""
    bow = personas.fitted_bow(shop, "twin", "U")
    for n in range(30):
        personas.shoot(shop, bow, 90, days_ago=3.0 * n + 1)
    decide.rebuild(NOW)
    return bow


def key(facts: Facts) -> dict[tuple[int, str], tuple[date, date | None, str]]:
    return {(need.bow_id, need.kind): (need.due_on, need.latest_on, need.reason) for need in facts.needs}


def wear_of(facts: Facts, bow: Bow) -> CordWear:
    return next(wear for wear in facts.wears if wear.fitting.bow_id == bow.pk and wear.fitting.position == "string")


def test_as_things_stand_it_gives_what_is_saved(shop: personas.Shop, used: Bow) -> None:
    saved = Need.objects.filter(bow__site=shop.site)
    assert key(facts_under(shop.site, Conditions(), NOW)) == key(Facts(list(saved), []))


def test_more_guests_shoot_more_and_the_past_stays(shop: personas.Shop, used: Bow) -> None:
    now, busier = (wear_of(facts_under(shop.site, Conditions(f), NOW), used) for f in (1.0, 1.3))
    assert busier.life_used == now.life_used
    assert busier.shots_per_day == pytest.approx(1.3 * now.shots_per_day)
    assert busier.life_per_day - now.life_per_day == pytest.approx(0.3 * now.shots_per_day / 5_000)
    assert now.replace_on is not None and busier.replace_on is not None
    assert busier.replace_on < now.replace_on


def test_hotter_days_age_by_the_arrhenius_factor_and_the_past_stays(shop: personas.Shop, used: Bow) -> None:
    now, hotter = (wear_of(facts_under(shop.site, Conditions(warmer_c=w), NOW), used) for w in (0.0, 5.0))
    assert hotter.life_used == now.life_used
    assert hotter.shots_per_day == now.shots_per_day
    # Without readings the rack is at the site's assumed 21 degC; HMPE counts heat in full.
    factor = [float(acceleration_factor(t + 273.15, 118_000.0, 296.15)) for t in (21.0, 26.0)]
    by_time = [wear.life_per_day - wear.shots_per_day / 5_000 for wear in (now, hotter)]
    assert by_time[1] / by_time[0] == pytest.approx(factor[1] / factor[0], rel=1e-6)


@pytest.mark.parametrize(("conditions", "said"), [((9.0, 0.0), "900 %"), ((1.0, 40.0), "-20 to 20 degC")])
def test_a_change_out_of_range_is_refused_with_the_range(conditions: tuple[float, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Conditions(*conditions)


def test_both_plans_side_by_side_and_nothing_is_saved(shop: personas.Shop, used: Bow) -> None:
    before = (list(Need.objects.values()), list(CordWear.objects.values()), Plan.objects.count())
    found = compare(shop.site, TODAY, 28, Change(Conditions(1.3, 5.0)), NOW)
    assert (list(Need.objects.values()), list(CordWear.objects.values()), Plan.objects.count()) == before
    assert found.name == "use +30 %, +9.0 °F"
    assert found.then.objective >= found.now.objective
    assert found.extra == pytest.approx(found.then.objective - found.now.objective)


def test_somebody_away_moves_the_work(shop: personas.Shop, used: Bow) -> None:
    away = (shop.technician.username, TODAY, TODAY + timedelta(days=8))
    found = compare(shop.site, TODAY, 28, Change(away=away), NOW)
    assert found.extra > 0
    assert all(one.then is None or one.then > away[2] for one in found.changes)
    assert shop.technician.absences.count() == 0


def test_a_late_delivery_moves_the_set(shop: personas.Shop) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner), "R")
    spec = personas.cord_spec(shop.owner, "string", "OC-S58")
    record.put_supplier_order(
        by=shop.manager,
        site=shop.site,
        cord_spec=spec,
        reference="PO-1",
        quantity=1,
        ordered_on=TODAY,
        expected_on=TODAY + timedelta(days=2),
    )
    Need.objects.all().delete()
    Need.objects.create(
        bow=bow,
        kind=NeedKind.REPLACEMENT,
        reason="due",
        earliest_on=TODAY,
        due_on=TODAY,
        minutes=75,
        skill="press",
        needs_press=True,
        holds=True,
        parts={"OC-S58": 1},
    )
    found = compare(shop.site, TODAY, 28, Change(late=("OC-S58", 7)), NOW)
    (replaced,) = [one for one in found.changes if one.need == "R replacement"]
    assert (replaced.now, replaced.then) == (TODAY + timedelta(days=2), TODAY + timedelta(days=9))
    assert found.then.risk.held_days == 9 > found.now.risk.held_days
    with pytest.raises(ValueError, match="has no stock record"):
        compare(shop.site, TODAY, 28, Change(late=("nothing", 7)), NOW)
