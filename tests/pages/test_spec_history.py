"""What the shop's history says of a cord spec: counts, curve, belief and fit side by side, another rated life."""

import re
from collections.abc import Callable
from itertools import pairwise

import pytest
from django.test import Client

from fleet import record
from fleet.models import CordSpec, Fitting
from service import decide
from service.learned import histories
from service.life_report import report_of
from service.models import CordWear, SpecLife
from service.rated_life import years_ahead
from service.wear.kaplan_meier import kaplan_meier
from service.wear.weibull import fit
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop

AT = "/cord-specs/QW-string/history/"


def worn_out(shop: Shop, *, shots: int, why: str = "condemned", tag: str = "") -> Fitting:
    """A recurve whose string was shot so far and came off 10 days ago for a reason."""
    bow = personas.fitted_bow(shop, kind="recurve", tag=tag)
    for part in range(0, shots, 2_000):
        personas.shoot(shop, bow, min(2_000, shots - part), days_ago=60 - part / 1_000)
    fitting = bow.fittings.get(position="string")
    finding = "broken_strand" if why == "condemned" else ""
    record.remove_cord(
        by=shop.technician, fitting=fitting, at=personas.before(10), why=why, finding=finding, now=personas.NOW
    )
    return fitting


@pytest.fixture
def spec(shop: Shop) -> CordSpec:
    """A string of which three were condemned, two replaced as planned, one lost, one removed by nobody knows whom."""
    for shots in (3_000, 3_900, 5_200):
        worn_out(shop, shots=shots)
    for why in ("planned", "planned", "incident", "unknown"):
        worn_out(shop, shots=3_500, why=why)
    for tag in ("L-960", "L-961"):
        bow = personas.fitted_bow(shop, kind="recurve", tag=tag)
        personas.shoot(shop, bow, 2_000, days_ago=5)
    decide.rebuild(personas.NOW)
    return CordSpec.objects.get(code="QW-string")


def test_the_cords_are_counted_by_how_their_story_stands(
    spec: CordSpec, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    response = signed_in(shop.manager).get(AT)
    report = response.context["report"]
    assert report.counts == {"condemned": 3, "planned": 2, "fitted": 2, "incident": 1, "unknown": 1}
    assert "The estimate rests on 3 condemned cords." in Page(response).text


def test_under_three_failures_the_prior_is_said_to_lead(shop: Shop, signed_in: Callable[..., Client]) -> None:
    for shots in (3_000, 5_200):
        worn_out(shop, shots=shots)
    page = Page(signed_in(shop.manager).get(AT))
    assert "The prior still leads" in page.text
    assert "2 cords of this spec were condemned; under 3 the belief" in page.text


def test_a_spec_without_any_cord_says_so(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.cord_spec(shop.owner)
    page = Page(signed_in(shop.manager).get(AT))
    for words in ("The prior still leads", "No fit to the history alone", "No bow of this site carries this cord."):
        assert words in page.text


def test_fit_and_belief_stand_side_by_side_with_their_intervals(
    spec: CordSpec, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    response = signed_in(shop.manager).get(AT)
    found = histories(personas.NOW, [spec.pk])[0]
    alone, learned = fit(found.history.data), found.posterior
    text = Page(response).text
    for value in (
        alone.life.b10,
        alone.life.eta,
        learned.planning_life.b10,
        learned.planning_life.eta,
        learned.credible_b10(0.9).lower,
        learned.credible_b10(0.9).upper,
        alone.profile_eta(0.95).lower,
    ):
        assert f"{value:.2f}" in text


def test_the_table_has_the_curves_numbers(spec: CordSpec) -> None:
    found = histories(personas.NOW, [spec.pk])[0]
    curve, report = kaplan_meier(found.history.data, 0.9), report_of(found)
    for row in report.rows:
        before = curve.survival[curve.age <= row.life_used]
        expected = float(before[-1]) if before.size else 1.0
        if row.seen is not None:
            assert row.seen == pytest.approx(expected)
        assert row.prior == pytest.approx(0.9 ** (row.life_used**3))
        assert row.learned_low <= row.learned <= row.learned_high
    assert any(row.seen is None for row in report.rows), "beyond the last cord the shop has seen nothing"


def test_the_picture_is_drawn_by_attributes_and_told_in_words(
    spec: CordSpec, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    response = signed_in(shop.manager).get(AT)
    html = response.content.decode()
    picture = html[html.index('<svg viewBox="0 0 480 300"') :]
    picture = picture[: picture.index("</svg>")]
    assert "style=" not in picture
    assert re.search(r"<title[^>]*>Share of QW-string cords still good", picture)
    assert "3 cords were condemned" in picture
    numbers = [float(one) for one in re.findall(r"-?\d+\.?\d*", " ".join(re.findall(r' d="([^"]+)"', picture)))]
    assert all(-10 <= one <= 480 for one in numbers)
    # Two replaced, two fitted, one lost, one unknown: no more marks than cords, for equal ones lie on each other.
    assert 1 <= picture.count('class="censored"') <= 6


@pytest.mark.parametrize("typed", ["10", "500", "longer", "nan"])
def test_a_rated_life_beyond_reason_is_refused_and_kept(
    typed: str, spec: CordSpec, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    response = signed_in(shop.manager).get(AT, {"percent": typed})
    assert response.status_code == 422
    page = Page(response)
    assert f"{typed}: give a number from 25 to 400" in page.text
    assert page.value("percent") == typed


def test_a_typed_rated_life_is_reckoned_among_the_others(
    spec: CordSpec, shop: Shop, signed_in: Callable[..., Client]
) -> None:
    years = signed_in(shop.manager).get(AT, {"percent": "115"}).context["years"]
    assert [year.percent for year in years] == [80, 90, 100, 110, 115, 125]
    assert (years[4].rated_shots, round(years[4].rated_months, 1)) == (5_750, 13.8)


def test_todays_rated_life_replaces_where_the_book_does_and_nothing_is_saved(spec: CordSpec, shop: Shop) -> None:
    def saved() -> list[object]:
        return [list(model.objects.order_by("pk").values()) for model in (CordWear, SpecLife, CordSpec)]

    before = saved()
    found = histories(personas.NOW, [spec.pk])[0]
    today = years_ahead(found, shop.site, [100.0])[0]
    wear = CordWear.objects.filter(fitting__cord__spec=spec).first()
    assert wear is not None
    assert today.point == pytest.approx(wear.replacement_point, rel=1e-6)
    assert saved() == before


def test_a_longer_rated_life_means_fewer_planned_changes(spec: CordSpec, shop: Shop) -> None:
    found = histories(personas.NOW, [spec.pk])[0]
    years = years_ahead(found, shop.site, [50.0, 75.0, 100.0, 150.0])
    for shorter, longer in pairwise(years):
        assert longer.point > shorter.point
        assert longer.sets <= shorter.sets
        assert longer.sets_low <= longer.sets <= longer.sets_high + 1
    with pytest.raises(ValueError, match="allowed is 25 to 400 %"):
        years_ahead(found, shop.site, [5.0])


def test_planned_changes_and_their_cost_can_be_counted_by_hand(shop: Shop) -> None:
    """Replaced at 0.3 of rated life hardly any is condemned: a cord is changed each time its rate brings it there."""
    record.put_site(by=shop.owner, code=shop.site.code, replacement_cap=0.3)
    shop.site.refresh_from_db()
    for tag in ("L-970", "L-971", "L-972"):
        personas.shoot(shop, personas.fitted_bow(shop, kind="recurve", tag=tag, days_ago=20), 300, days_ago=3)
    decide.rebuild(personas.NOW)
    spec = CordSpec.objects.get(code="QW-string")
    year = years_ahead(histories(personas.NOW, [spec.pk])[0], shop.site, [100.0])[0]
    by_hand = sum(
        int((wear.life_used + 365 * wear.life_per_day) / wear.replacement_point) for wear in CordWear.objects.all()
    )
    assert CordWear.objects.filter(life_used__gte=0.3).count() == 0
    assert year.planned + year.condemned == pytest.approx(by_hand, rel=0.05)
    assert year.condemned < 0.1 * by_hand
    labour = float(shop.site.labour_rate_per_hour) * (25 + 10) / 60
    assert year.cost >= year.sets * (float(spec.price) + labour) * 0.999
