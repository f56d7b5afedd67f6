"""A bow's reference set typed by hand: the next version, refusals, the history, and orders that keep theirs."""

from collections.abc import Callable

import pytest
from django.test import Client

from fleet import lookups
from fleet.models import Bow
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import INCH_M, Shop


@pytest.fixture
def bow(shop: Shop) -> Bow:
    return personas.fitted_bow(shop, "single", "L-940")


def opened(client: Client, bow: Bow) -> dict[str, str]:
    """The form as it opens."""
    return {one.header: one.text for one in client.get(f"/bows/{bow.tag}/references/").context["form"].fields}


def test_the_technician_types_the_next_version_and_the_old_ones_stay(
    shop: Shop, bow: Bow, signed_in: Callable[..., Client], computed: Callable[[], int]
) -> None:
    computed()
    order = orders.issued(shop, bow)
    client, before = signed_in(shop.technician), lookups.current_reference_set(bow)
    assert before is not None
    typed = opened(client, bow)
    typed |= {"origin": "draw_board", "length_tool": shop.tool_codes["rule"], "brace_height_in": "7 5/64"}
    response = client.post(f"/bows/{bow.tag}/references/", typed, follow=True)
    text = Page(response).text
    assert "Version 2 is the reference of L-940 now." in text
    assert text.index("Version 2") < text.index("current") < text.index("Version 1") and "replaced" in text
    current = lookups.current_reference_set(bow)
    assert current is not None and (current.version, current.taken_by) == (2, shop.technician)
    brace = current.measurements.get(kind="brace_height")
    assert brace.value == pytest.approx(7.078125 * INCH_M) and brace.tool is not None
    untouched = {m.kind: m.value for m in before.measurements.exclude(kind="brace_height").exclude(kind="twists")}
    assert {m.kind: m.value for m in current.measurements.all() if m.kind in untouched} == pytest.approx(untouched)
    order.refresh_from_db()
    assert order.reference_set == before


def test_what_cannot_be_is_told_beside_its_field(shop: Shop, bow: Bow, signed_in: Callable[..., Client]) -> None:
    client = signed_in(shop.technician)
    typed = opened(client, bow) | {"origin": "draw_board"}
    for slip, said in (
        ({"brace_height_in": "70"}, "70 in is above the range"),
        ({"taken_at": "2027-01-01T09:00"}, "in the future"),
        ({"origin": ""}, "Fill it in"),
        ({"length_tool": "another-sites-rule"}, "none of those to choose from at this site"),
        ({"centre_shot_in": "13/16"}, "no house default for its tolerance"),
    ):
        response = client.post(f"/bows/{bow.tag}/references/", typed | slip)
        assert response.status_code == 422, slip
        assert said in Page(response).text
    assert bow.reference_sets.count() == 1


def test_a_bow_without_cams_is_not_asked_for_cams(shop: Shop, signed_in: Callable[..., Client]) -> None:
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner, kind="recurve"), "L-941")
    client = signed_in(shop.technician)
    assert "Type the first version" in Page(client.get("/bows/L-941/references/")).text
    headers = set(opened(client, bow))
    assert {"brace_height_in", "tiller_in", "string_twists_half_turns"} <= headers
    assert not {one for one in headers if "hole" in one or "mark" in one or "cable" in one}
    typed = {"origin": "maker", "taken_at": "2026-06-30T09:00", "brace_height_in": "8 1/2"}
    assert client.post("/bows/L-941/references/", typed).status_code == 302
    one = lookups.current_reference_set(bow).measurements.get()  # type: ignore[union-attr]
    assert one.tolerance == pytest.approx(INCH_M / 8)
