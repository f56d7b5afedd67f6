"""The outlook: weeks, cards and prices as the manager sees them; moving, publishing, planning anew, what if."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client

from fleet import record
from fleet.models import Bow
from service import decide, schedule
from service.models import Need, NeedKind, Plan
from service.plan.problem import ProblemError
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop
from tests.service.test_schedule import need

TODAY = date(2026, 7, 1)


@pytest.fixture
def manager(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    record.put_site(
        by=shop.owner,
        code=shop.site.code,
        name=shop.site.name,
        labour_rate_per_hour=Decimal(30),
        rental_value_per_day=Decimal(40),
    )
    return signed_in(shop.manager)


@pytest.fixture
def bow(shop: Shop) -> Bow:
    """A bow whose inspection is due in a week."""
    one = personas.bare_bow(shop, personas.spec_sheet(shop.owner), "L-940")
    decide.refresh_stale(personas.NOW)
    Need.objects.all().delete()
    week = TODAY + timedelta(days=7)
    need(one, NeedKind.INSPECTION, earliest_on=TODAY, due_on=week, latest_on=week)
    return one


def move_of(day: str, **changes: str) -> dict[str, str]:
    return {"bow": "L-940", "from": "2026-07-08", "by": "larkspur-technician", "day": day, **changes}


def test_each_job_is_a_card_on_its_day_with_its_reason(bow: Bow, manager: Client) -> None:
    response = manager.get("/outlook/")
    weeks = response.context["outlook"].weeks
    cards = {day.day: [card.job.bow.tag for card in day.cards] for week in weeks for day in week.days if day.cards}
    assert cards == {date(2026, 7, 8): ["L-940"]}
    page = Page(response)
    assert "Proven best" in page.text
    assert "Tue 7 Jul 2026 would cost" in page.text
    assert not page.inline


def test_load_stands_against_what_there_is(bow: Bow, manager: Client) -> None:
    weeks = manager.get("/outlook/").context["outlook"].weeks
    second = weeks[1]
    assert (second.first, second.last) == (date(2026, 7, 6), date(2026, 7, 12))
    person, press = second.loads
    # Five days of 240 minutes; a set-up of 10 and an inspection of 15. The press is not needed.
    assert (person.used, person.there, person.percent) == (25, 1200, 2)
    assert (press.is_press, press.used) == (True, 0)


def test_the_price_comes_first_and_the_move_is_kept(bow: Bow, manager: Client) -> None:
    manager.get("/outlook/")
    asked = manager.get("/outlook/move/", move_of("2026-07-03"))
    assert asked.context["move"].extra == pytest.approx(2.08, abs=0.011)
    assert "more than where it stands" in Page(asked).text
    assert Plan.objects.get().jobs.get().day == date(2026, 7, 8)
    done = manager.post("/outlook/move/", move_of("2026-07-03"), follow=True)
    assert "L-940 is on July 3, 2026 with Larkspur Technician now" in Page(done).text
    assert "costs 2.08 USD more" in Page(done).text or "costs 2.09 USD more" in Page(done).text
    assert Plan.objects.get().jobs.get().day == date(2026, 7, 3)
    cards = [card for week in done.context["outlook"].weeks for day in week.days for card in day.cards]
    assert [card.by_hand for card in cards] == ["Larkspur Manager"]


@pytest.mark.parametrize(
    ("day", "said"),
    [
        ("2026-07-04", "Sat 4 Jul 2026 with Larkspur Technician is not possible: technician absent"),
        ("2026-07-05", "closed days"),
        ("2026-07-09", "its latest day is Wed 8 Jul 2026"),
        ("2027-07-09", "is outside the plan"),
    ],
)
def test_a_move_that_a_limit_forbids_says_which(bow: Bow, manager: Client, day: str, said: str) -> None:
    manager.get("/outlook/")
    text = Page(manager.get("/outlook/move/", move_of(day))).text
    assert "Not possible" in text
    assert said in text
    assert said in Page(manager.post("/outlook/move/", move_of(day), follow=True)).text
    assert Plan.objects.get().jobs.get().day == date(2026, 7, 8)


@pytest.mark.parametrize("changes", [{"bow": ""}, {"from": "soon"}, {"day": "soon"}, {"by": "nobody"}, {"bow": "L-0"}])
def test_a_wrong_move_leads_back_with_a_reason(bow: Bow, manager: Client, changes: dict[str, str]) -> None:
    manager.get("/outlook/")
    response = manager.get("/outlook/move/", {**move_of("2026-07-03"), **changes}, follow=True)
    assert response.redirect_chain[0][0] == "/outlook/"
    assert 'role="alert"' in response.content.decode()


def test_publishing_says_who_and_when_and_the_queue_shows_it(bow: Bow, manager: Client) -> None:
    manager.get("/outlook/")
    done = manager.post("/outlook/publish/", {"until": "2026-07-10"}, follow=True)
    page = Page(done)
    assert "1 job is published" in page.text
    assert "by Larkspur Manager" in page.text
    assert [c.told for week in done.context["outlook"].weeks for day in week.days for c in day.cards] == [True]
    bench = manager.get("/queue/?day=2026-07-08").context["bench"]
    assert [job.bow.tag for job in bench.planned] == ["L-940"]


def test_what_cannot_be_planned_is_told_as_it_is(bow: Bow, manager: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def short(*_args: object, **_kwargs: object) -> None:
        raise ProblemError("cord spec K8: on hand is -2; 0 or more. Count the stock and correct it.")

    monkeypatch.setattr(schedule, "draft", short)
    text = Page(manager.post("/outlook/plan/", {"days": "28"}, follow=True)).text
    assert "Count the stock and correct it" in text and "not a number of days" not in text


def test_the_horizon_is_chosen_and_a_wrong_one_refused(bow: Bow, manager: Client) -> None:
    manager.post("/outlook/plan/", {"days": "60"})
    assert Plan.objects.get().days == 60
    for given in ("6", "91", "many", ""):
        text = Page(manager.post("/outlook/plan/", {"days": given}, follow=True)).text
        assert "is not a number of days from 7 to 90" in text
    assert Plan.objects.get().days == 60


def test_an_empty_bench_says_what_is_missing(bow: Bow, shop: Shop, manager: Client) -> None:
    record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={})
    text = Page(manager.get("/outlook/")).text
    assert "Nobody has bench hours at this site" in text
    assert "L-940 inspection" in text
    Need.objects.all().delete()
    record.set_bench_hours(by=shop.owner, person=shop.technician, minutes_by_weekday={0: 60})
    assert "no bow here needs anything" in Page(manager.get("/outlook/")).text


def test_what_if_stands_side_by_side_and_saves_nothing(bow: Bow, shop: Shop, manager: Client) -> None:
    manager.get("/outlook/")
    asked = {
        "ask": "1",
        "use": "0",
        "warmer": "0",
        "away": shop.technician.username,
        "away_from": "2026-07-06",
        "away_to": "2026-07-12",
    }
    response = manager.get("/outlook/what-if/", asked)
    found = response.context["found"]
    assert [(one.now, one.then) for one in found.changes] == [(date(2026, 7, 8), date(2026, 7, 3))]
    assert "It would cost 2.0" in Page(response).text
    assert shop.technician.absences.count() == 0
    manager.post("/outlook/what-if/enter/", asked)
    assert shop.technician.absences.count() == 1


def test_what_if_is_asked_and_told_in_the_degrees_of_the_site(bow: Bow, shop: Shop, manager: Client) -> None:
    manager.get("/outlook/")
    response = manager.get("/outlook/what-if/", {"ask": "1", "warmer": "9"})
    assert response.context["change"].conditions.warmer_c == pytest.approx(5.0)
    text = Page(response).text
    assert "Warmer by, °F" in text and "+9.0 °F" in text and "°C" not in text.partition("Side by side")[0]
    record.put_site(by=shop.owner, code=shop.site.code, units="metric")
    assert "+5.0 °C" in Page(manager.get("/outlook/what-if/", {"ask": "1", "warmer": "5"})).text


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"use": "900"}, "allowed are 10 to 300 %"),
        ({"warmer": "60"}, "-36 to 36 °F: give another difference"),
        ({"use": "much"}, "is not a number"),
        ({"away": "nobody", "away_from": "2026-07-06", "away_to": "2026-07-08"}, "technician nobody is not at site"),
        ({"away": "x", "away_from": "2026-07-08", "away_to": "2026-07-06"}, "swap the days"),
        ({"late": "none-such", "late_days": "3"}, "has no stock record"),
    ],
)
def test_a_wrong_what_if_says_what_is_right(manager: Client, asked: dict[str, str], said: str) -> None:
    assert said in Page(manager.get("/outlook/what-if/", {"ask": "1", **asked})).text
