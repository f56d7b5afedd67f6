"""The pages of a large site's plan: how many queries they take, and what they say of a draft that is behind."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from service import decide, schedule
from service.models import Need, NeedKind
from service.planning import outlook, standing_draft
from service.planning.publishing import publish
from tests import personas
from tests.pages.reading import Page
from tests.pages.test_page_queries import MOST_QUERIES, counted, used_bow
from tests.personas import Shop
from tests.service.test_schedule import need

OF_A_SAVED_DRAFT = ("/outlook/", "/outlook/?left=all", "/outlook/?week=2026-07-20", "/outlook/what-if/")


@pytest.fixture(autouse=True)
def large(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small site is planned when its page is opened; a large one's page reads the draft as it stands."""
    monkeypatch.setattr(standing_draft, "SOLVED_ON_SIGHT_NEEDS", -1)


def planned(shop: Shop) -> None:
    decide.rebuild(personas.NOW)
    schedule.draft(shop.site, schedule.today_at(shop.site, personas.NOW), schedule.DEFAULT_DAYS, personas.NOW)


def test_more_bows_and_more_published_plans_take_no_more_queries(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client, counts = signed_in(shop.owner), []
    today = schedule.today_at(shop.site, personas.NOW)
    for first, last in ((0, 2), (2, 10)):
        for number in range(first, last):
            used_bow(shop, f"L-{900 + number}")
        planned(shop)
        publish(shop.site, today + timedelta(days=6), by=shop.manager, now=personas.NOW + timedelta(minutes=first))
        counts.append([counted(client, address) for address in OF_A_SAVED_DRAFT])
    assert counts[1] == counts[0]
    assert max(counts[1]) <= MOST_QUERIES


def test_it_says_as_of_when_the_plan_is_and_that_facts_have_changed_since(
    shop: Shop, signed_in: Callable[..., Client]
) -> None:
    used_bow(shop, "L-900")
    planned(shop)
    client = signed_in(shop.manager)
    said = Page(client.get("/outlook/")).text
    assert "The plan as of July 1, 2026" in said
    assert "nothing that it rests on has changed since" in said
    used_bow(shop, "L-901")
    decide.refresh_stale(personas.NOW)
    said = Page(client.get("/outlook/")).text
    assert "This is the plan as of July 1, 2026" in said
    assert "Facts have changed since; it is being brought up to date" in said
    assert "nothing that it rests on has changed since" not in said


def test_weeks_beyond_the_first_show_their_jobs_when_asked(
    shop: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    today = schedule.today_at(shop.site, personas.NOW)
    bows = [used_bow(shop, f"L-{900 + number}") for number in range(2)]
    decide.rebuild(personas.NOW)
    for bow, days in zip(bows, (1, 16), strict=True):
        Need.objects.filter(bow=bow).delete()
        due = today + timedelta(days=days)
        need(bow, NeedKind.INSPECTION, earliest_on=due - timedelta(days=2), due_on=due, latest_on=due)
    schedule.draft(shop.site, today, schedule.DEFAULT_DAYS, personas.NOW)
    client = signed_in(shop.manager)
    whole = client.get("/outlook/").context["outlook"]
    busy = [week for week in whole.weeks[1:] if week.jobs]
    assert busy and all(week.is_shown for week in whole.weeks)
    monkeypatch.setattr(outlook, "MOST_CARDS", 0)
    response = client.get("/outlook/")
    bounded = response.context["outlook"]
    assert [week.is_shown for week in bounded.weeks] == [True] + [False] * (len(bounded.weeks) - 1)
    assert (bounded.jobs, [week.jobs for week in bounded.weeks]) == (whole.jobs, [week.jobs for week in whole.weeks])
    address = f"/outlook/?week={busy[0].last}"
    assert f"/outlook/?week={busy[0].first}" in response.content.decode()
    asked = next(week for week in client.get(address).context["outlook"].weeks if week.first == busy[0].first)
    assert [card.job.bow.tag for day in asked.days for card in day.cards] == [
        card.job.bow.tag for day in busy[0].days for card in day.cards
    ]
    assert client.get("/outlook/?week=soon").status_code == 200
