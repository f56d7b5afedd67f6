"""Holding many bows from a page: whom it would concern, doing it, taking it back."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import lookups, record
from fleet.models import Bow, Hold, HoldAction
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


@pytest.fixture
def lot(shop: Shop) -> Shop:
    """L-911 and L-912 carry a cord of LOT-Z, L-912 is out; L-913 does not; a cord of it lies on the shelf."""
    spec = personas.cord_spec(shop.owner)
    sheet = personas.spec_sheet(shop.owner, kind="recurve")
    for tag, name in (("L-911", "LOT-Z"), ("L-912", "LOT-Z"), ("L-913", "LOT-A")):
        bow = personas.bare_bow(shop, sheet, tag)
        personas.fit(shop, bow, personas.cord(shop, spec, lot=name))
    personas.cord(shop, spec, lot="LOT-Z")
    record.hand_out(by=shop.counter, bow=Bow.objects.get(tag="L-912"), reference="B-7", at=personas.NOW, known={})
    return shop


def sealed(client: Client, query: dict[str, str]) -> dict[str, str]:
    """The hidden fields of the preview's form."""
    page = client.get("/hold/", query)
    return {**query, "seal": page.context["picked"].seal}


def test_the_preview_names_who_is_out_and_what_lies_on_the_shelf(lot: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(lot.manager).get("/hold/", {"list": "lot", "lot": "lot-z"})
    picked = response.context["picked"]
    assert [(bow.tag, bow.state) for bow in picked.named] == [("L-911", "ready"), ("L-912", "out")]
    assert picked.out == ("L-912",)
    assert picked.on_the_shelf == 1
    text = Page(response).text
    assert "Out with guests now: fetch these back." in text
    assert "One cord of this lot is on no bow: set it aside." in text
    assert not Hold.objects.exists()


def test_another_sites_bows_are_counted_and_not_held(lot: Shop, signed_in: Callable[..., Client]) -> None:
    camp = personas.shop("ridgecamp")
    bow = personas.bare_bow(camp, personas.spec_sheet(camp.owner, kind="recurve"), "R-001")
    personas.fit(camp, bow, personas.cord(camp, personas.cord_spec(camp.owner), lot="LOT-Z"))
    client, query = signed_in(lot.manager), {"list": "lot", "lot": "LOT-Z"}
    assert "One bow of another site carries this lot too." in Page(client.get("/hold/", query)).text
    client.post("/hold/", {**sealed(client, query), "detail": "frays"})
    assert lookups.state_of(bow) == "ready"


def test_what_was_shown_is_held_and_taken_back(lot: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(lot.manager)
    given = sealed(client, {"list": "lot", "lot": "LOT-Z"})
    response = client.post("/hold/", {**given, "detail": "serving frays"}, follow=True)
    assert "2 bows are held." in Page(response).text
    action = HoldAction.objects.get()
    assert (action.picked, action.detail) == ("every bow with a cord of lot LOT-Z", "serving frays")
    assert set(Hold.objects.filter(released=None).values_list("bow__tag", flat=True)) == {"L-911", "L-912"}
    record.report_incident(
        by=lot.counter,
        bow=Bow.objects.get(tag="L-911"),
        kind="drop",
        happened_at=personas.NOW,
        key="drop",
        now=personas.NOW,
    )
    page = client.get(f"/held/{action.pk}/")
    assert (page.context["ends"], page.context["kept"]) == (1, ["L-911"])
    text = Page(client.post(f"/held/{action.pk}/undo/", follow=True)).text
    assert "1 bow is released." in text
    assert "These got another reason meanwhile and stay held: L-911." in text
    assert "Taken back" in text
    assert "already: hold the bows anew" in Page(client.post(f"/held/{action.pk}/undo/", follow=True)).text


def test_a_list_that_changed_since_it_was_shown_holds_nothing(lot: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(lot.manager)
    given = sealed(client, {"list": "lot", "lot": "LOT-Z"})
    bow = personas.bare_bow(lot, personas.spec_sheet(lot.owner, kind="recurve"), "L-914")
    personas.fit(lot, bow, personas.cord(lot, personas.cord_spec(lot.owner), lot="LOT-Z"))
    response = client.post("/hold/", {**given, "detail": "frays"})
    assert "The list changed since you looked at it" in Page(response).text
    assert [one.tag for one in response.context["picked"].named] == ["L-911", "L-912", "L-914"]
    assert not Hold.objects.exists()


def test_without_a_reason_nothing_is_held(lot: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(lot.manager)
    given = sealed(client, {"list": "lot", "lot": "LOT-Z"})
    response = client.post("/hold/", {**given, "detail": "  "}, follow=True)
    assert "Say in words why these bows are held" in Page(response).text
    assert not Hold.objects.exists()


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ({"list": "due", "query": "find=L-913"}, ["L-913"]),
        ({"list": "bows", "query": "state=ready"}, ["L-911", "L-913"]),
        ({"list": "elsewhere", "query": ""}, []),
        ({"list": "lot", "lot": ""}, []),
    ],
)
def test_a_narrowed_list_is_what_is_held(
    query: dict[str, str],
    found: list[str],
    lot: Shop,
    signed_in: Callable[..., Client],
    computed: Callable[[], int],
) -> None:
    computed()
    response = signed_in(lot.manager).get("/hold/", query)
    assert [bow.tag for bow in response.context["picked"].named] == found


def test_how_they_were_picked_is_told_in_words(lot: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(lot.manager)
    due = client.get("/hold/", {"list": "due", "query": "kind=recurve&find=L-9&when=past"}).context["picked"].told
    assert due == "the due list, Tag, serial or lot: L-9; Kind of bow: recurve; to be replaced now"
    bows = client.get("/hold/", {"list": "bows", "query": "state=held"}).context["picked"].told
    assert bows == "the list of bows, held until released"
    assert client.get("/hold/", {"list": "bows", "query": ""}).context["picked"].told == "the list of bows, all of it"


def test_a_retired_bow_is_left_out(lot: Shop, signed_in: Callable[..., Client]) -> None:
    record.retire(by=lot.manager, bow=Bow.objects.get(tag="L-911"), at=personas.NOW, why="limb cracked")
    response = signed_in(lot.manager).get("/hold/", {"list": "lot", "lot": "LOT-Z"})
    assert [bow.tag for bow in response.context["picked"].named] == ["L-912"]


def test_a_preview_of_many_counts_all_and_names_some(
    lot: Shop, signed_in: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.pages.hold_many.NAMED", 1)
    page = signed_in(lot.manager).get("/hold/", {"list": "lot", "lot": "LOT-Z"})
    picked = page.context["picked"]
    assert [bow.tag for bow in picked.named] == ["L-911"]
    assert (len(picked.ids), picked.unnamed, picked.out, picked.held_already) == (2, 1, ("L-912",), 0)
    assert "and one more" in Page(page).text
