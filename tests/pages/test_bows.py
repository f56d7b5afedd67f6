"""The list of bows: where each is, and the one answer whether it may go out."""

from collections.abc import Callable

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet import record
from fleet.models import Bow
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


def tags(response: object) -> list[str]:
    return [bow.tag for bow, _verdict in response.context["lines"]]  # type: ignore[attr-defined]


def inspected_bow(shop: Shop, tag: str) -> Bow:
    """A bow that came a few days ago, so that nothing is due."""
    return personas.fitted_bow(shop, "single", tag, days_ago=3, in_service_on=personas.before(3).date())


def test_each_bow_has_its_answer_in_words(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    dropped = inspected_bow(shop, "L-910")
    record.report_incident(
        by=shop.counter,
        bow=dropped,
        kind="dry_fire",
        happened_at=personas.before(hours=2),
        note="no arrow",
        key="incident-1",
        now=personas.NOW,
    )
    computed()
    page = Page(signed_in(shop.counter).get("/bows/"))
    assert "held" in page.words
    assert "dry fire" in page.text


def test_a_bow_is_found_by_tag_or_serial(shop: Shop, signed_in: Callable[..., Client]) -> None:
    personas.fitted_bow(shop, "single", "L-911", serial="ZZ77")
    personas.fitted_bow(shop, "single", "L-912")
    client = signed_in(shop.counter)
    assert tags(client.get("/bows/", {"find": "l-911"})) == tags(client.get("/bows/", {"find": "zz7"})) == ["L-911"]


def test_retired_bows_show_only_when_asked_for(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.fitted_bow(shop, "single", "L-913")
    personas.fitted_bow(shop, "single", "L-914")
    record.retire(by=shop.manager, bow=bow, at=personas.NOW, why="limb cracked")
    client = signed_in(shop.counter)
    assert tags(client.get("/bows/")) == ["L-914"]
    assert tags(client.get("/bows/", {"state": "retired"})) == ["L-913"]
    assert tags(client.get("/bows/", {"state": "no such state"})) == ["L-914"]


def test_the_word_ready_is_only_the_verdicts(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    """A bow that no event holds but whose inspection is past is not called ready anywhere in its row."""
    personas.fitted_bow(shop, "single", "L-915")
    computed()
    response = signed_in(shop.counter).get("/bows/")
    [(_, verdict)] = response.context["lines"]
    assert not verdict.may_go
    assert "ready" not in Page(response).words
    assert "in the shop" in Page(response).words


def test_an_empty_site_and_no_match_say_what_to_do(shop: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.manager)
    assert "Take in specs first" in Page(client.get("/bows/")).text
    assert "No bow matches" in Page(client.get("/bows/", {"find": "nothing"})).text


def test_thirty_bows_take_as_many_queries_as_three(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    for _ in range(3):
        personas.fitted_bow(shop, "single")
    computed()
    client = signed_in(shop.counter)
    client.get("/bows/")
    with CaptureQueriesContext(connection) as few:
        client.get("/bows/")
    for _ in range(27):
        personas.fitted_bow(shop, "single")
    computed()
    with CaptureQueriesContext(connection) as many:
        response = client.get("/bows/")
    assert len(response.context["lines"]) == 30
    assert len(many) == len(few)


def test_settings_of_the_site_decide_the_settle_in_answer(
    shop: Shop, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    """Fresh cords: staff shoot them in, unless the house lets guests do it with a warning."""
    inspected_bow(shop, "L-916")
    computed()
    client = signed_in(shop.counter)
    [(_, strict)] = client.get("/bows/").context["lines"]
    record.put_site(by=shop.owner, code=shop.site.code, guests_shoot_in=True)
    [(_, lenient)] = client.get("/bows/").context["lines"]
    assert (strict.may_go, lenient.may_go) == (False, True)
    assert lenient.warnings
