"""What if, asked of a large site: put to the queue once, solved by a task, shown until the night."""

from datetime import date, timedelta

import pytest
from django.test import Client
from kombu.exceptions import OperationalError

from service import decide, tasks
from service.models import WhatIfAnswer
from service.night import run as night
from service.planning import standing_draft, what_ifs
from service.planning.comparison import Change, compare
from service.planning.other_conditions import Conditions
from service.planning.what_ifs import Question, ask
from tests import personas
from tests.pages.reading import Page
from tests.personas import NOW, Shop

pytestmark = pytest.mark.django_db
TODAY = date(2026, 7, 1)
ASKED = {"ask": "1", "use": "30", "warmer": "0"}
BUSIER = Question(TODAY, 28, Change(Conditions(1.3)))


@pytest.fixture
def shop(db: None) -> Shop:
    shop = personas.shop()
    bow = personas.fitted_bow(shop, "twin", "U")
    for n in range(30):
        personas.shoot(shop, bow, 90, days_ago=3.0 * n + 1)
    decide.rebuild(NOW)
    return shop


@pytest.fixture
def client(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Client:
    from tests.pages.conftest import BACKEND

    monkeypatch.setattr(standing_draft, "SOLVED_ON_SIGHT_NEEDS", -1)
    client = Client()
    client.force_login(shop.manager, backend=BACKEND)
    return client


def test_a_question_reads_back_as_it_was_asked() -> None:
    away, late = ("a b&c=d", TODAY, TODAY + timedelta(days=3)), ("K8 / 20 %", 4)
    for change in (
        Change(),
        Change(Conditions(1.3, -2.5)),
        Change(away=away),
        Change(late=late),
        Change(away=away, late=late),
    ):
        assert Question.of(Question(TODAY, 28, change).as_text()) == Question(TODAY, 28, change)


def test_it_is_sent_once_and_answered_as_if_it_had_been_solved_at_once(shop: Shop) -> None:
    sent: list[int] = []
    for minutes in (0, 1, 2):
        standing = ask(shop.site, BUSIER, NOW + timedelta(minutes=minutes), sent.append)
        assert (standing.asked_at, standing.answer) == (NOW, None)
    assert sent == [WhatIfAnswer.objects.get().pk]
    what_ifs.answer(sent[0], NOW)
    found = ask(shop.site, BUSIER, NOW, sent.append)
    assert found.answer == compare(shop.site, TODAY, 28, BUSIER.change, NOW)
    assert found.answer is not None and found.answer.extra > 0.0
    assert (found.answered_at, found.problem, len(sent)) == (NOW, "", 1)
    what_ifs.answer(sent[0], NOW + timedelta(hours=1))
    assert WhatIfAnswer.objects.get().answered_at == NOW, "a task that comes twice answers once"


def test_a_task_that_was_lost_is_sent_again_and_an_answer_is_made_anew_when_asked(shop: Shop) -> None:
    sent: list[int] = []
    ask(shop.site, BUSIER, NOW, sent.append)
    later = NOW + what_ifs.ASKED_AGAIN_AFTER + timedelta(minutes=1)
    ask(shop.site, BUSIER, later, sent.append)
    ask(shop.site, BUSIER, later, sent.append, anew=True)
    assert len(sent) == 2
    what_ifs.answer(sent[-1], later)
    assert ask(shop.site, BUSIER, later, sent.append, anew=True).answer is None
    assert len(sent) == 3


def test_what_cannot_be_answered_says_why(shop: Shop) -> None:
    sent: list[int] = []
    question = Question(TODAY, 28, Change(late=("none-such", 3)))
    ask(shop.site, question, NOW, sent.append)
    what_ifs.answer(sent[0], NOW)
    assert "has no stock record" in ask(shop.site, question, NOW, sent.append).problem


def test_without_a_queue_nothing_is_kept(shop: Shop) -> None:
    def away(_pk: int) -> None:
        raise OperationalError("no broker")

    with pytest.raises(ValueError, match="The work queue is away"):
        ask(shop.site, BUSIER, NOW, away)
    assert not WhatIfAnswer.objects.exists()


def test_the_night_forgets_it(shop: Shop) -> None:
    ask(shop.site, BUSIER, NOW, lambda _pk: None)
    night.compute(shop.site, NOW)
    assert not WhatIfAnswer.objects.exists()


def test_the_page_says_that_it_is_being_solved_and_then_shows_it(shop: Shop, client: Client) -> None:
    address = "/outlook/what-if/"
    assert "For example" in Page(client.get(address)).text
    page = client.get(address, ASKED)
    assert "Being solved since" in Page(page).text and "Side by side" not in Page(page).text
    assert "every 5s" in page.content.decode()
    tasks.answer_what_if(WhatIfAnswer.objects.get().pk)
    done = Page(client.get(address, ASKED))
    assert "Side by side use +30 %" in done.text and "As of" in done.text
    assert "more." in done.text
