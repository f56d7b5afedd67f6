"""The due list narrowed by each filter, kept as a view, taken away as a file."""

import csv
import io
from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client
from openpyxl import load_workbook

from fleet import record
from fleet.models import SavedView
from service import decide
from service.models import CordWear
from tests import personas
from tests.pages.reading import Page
from tests.personas import Shop


def tags(response: HttpResponse) -> set[str]:
    """The tags of the rows."""
    return {wear.fitting.bow.tag for wear in response.context["wears"]}


@pytest.fixture
def mixed(shop: Shop, computed: Callable[[], int]) -> Shop:
    """A compound worn past its life, a recurve on the rack, a held compound in a trailer."""
    worn = personas.fitted_bow(shop, "single", "L-901")
    for part in range(3):
        personas.shoot(shop, worn, 1_800, days_ago=20 - part)
    personas.fitted_bow(shop, kind="recurve", tag="L-902")
    held = personas.fitted_bow(shop, "hybrid", "L-903")
    record.hold(by=shop.manager, bow=held, reason="person", detail="odd noise", since=personas.NOW)
    trailer = record.put_place(by=shop.owner, site=shop.site, name="Trailer", temperature_source="logger")
    record.move_to_place(by=shop.manager, bow=held, place=trailer, at=personas.before(1), now=personas.NOW)
    computed()
    return shop


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ({"kind": "recurve"}, {"L-902"}),
        ({"kind": "compound"}, {"L-901", "L-903"}),
        ({"state": "held"}, {"L-903"}),
        ({"state": "ready"}, {"L-901", "L-902"}),
        ({"spec": "QW-control_cable"}, {"L-903"}),
        ({"until": "2026-07-01"}, {"L-901"}),
        ({"from": "2026-07-02"}, {"L-902", "L-903"}),
        ({"from": "2026-07-02", "until": "2026-07-03"}, set()),
        ({"rests": "assumed"}, {"L-901", "L-902", "L-903"}),
        ({"rests": "known"}, set()),
        ({"kind": "compound", "state": "ready", "cord": "string"}, {"L-901"}),
    ],
)
def test_a_filter_narrows_the_list(
    query: dict[str, str], found: set[str], mixed: Shop, signed_in: Callable[..., Client]
) -> None:
    assert tags(signed_in(mixed.counter).get("/due/", query)) == found


def test_a_place_narrows_to_the_bows_that_are_there_now(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(mixed.counter)
    trailer = mixed.site.places.get(name="Trailer")
    assert tags(client.get("/due/", {"place": str(trailer.pk)})) == {"L-903"}
    assert tags(client.get("/due/", {"place": str(mixed.rack.pk)})) == {"L-901", "L-902"}


def test_an_assumed_coefficient_narrows_to_what_rests_on_it(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    named = {name for wear in CordWear.objects.all() for name in wear.assumed}
    client = signed_in(mixed.counter)
    for name in named:
        expected = {wear.pk for wear in CordWear.objects.all() if name in wear.assumed}
        assert {wear.pk for wear in client.get("/due/", {"rests": name}).context["wears"]} == expected, name


def test_a_geometry_nobody_measured_narrows_to_its_bows(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    bow = mixed.site.bows.get(tag="L-901")
    for drift in bow.drifts.all():
        drift.assumed = [name for name in drift.assumed if name != "arms"]
        drift.save()
    assert tags(signed_in(mixed.counter).get("/due/", {"rests": "arms"})) == {"L-902", "L-903"}


def test_what_cannot_be_read_narrows_nothing_and_says_so(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(mixed.counter).get("/due/", {"from": "soon", "kind": "crossbow", "place": "999999"})
    assert tags(response) == {"L-901", "L-902", "L-903"}
    text = Page(response).text
    assert "write it as YYYY-MM-DD" in text
    assert "crossbow is not one of the available choices" in text


@pytest.mark.parametrize("when", ["", "past"])
def test_the_file_holds_what_the_list_shows(when: str, mixed: Shop, signed_in: Callable[..., Client]) -> None:
    client, query = signed_in(mixed.counter), {"kind": "compound", "when": when}
    shown = [wear.fitting.cord.serial for wear in client.get("/due/", query).context["wears"]]
    response = client.get("/due/file.csv", query)
    assert response["Content-Disposition"] == 'attachment; filename="due-larkspur-2026-07-01.csv"'
    rows = list(csv.DictReader(io.StringIO(response.content.decode())))
    assert [row["serial"] for row in rows] == shown
    shares = [sum(float(row[name]) for name in ("shots", "time", "heat")) for row in rows]
    assert shares == pytest.approx([float(row["life_used"]) for row in rows])
    sheet = load_workbook(io.BytesIO(client.get("/due/file.xlsx", query).content)).active
    assert sheet is not None
    assert [row[4] for row in sheet.iter_rows(min_row=2, values_only=True)] == shown


def test_a_file_of_another_kind_is_not_there(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    response = signed_in(mixed.counter).get("/due/file.pdf")
    assert response.status_code == 404
    assert "take csv or xlsx" in response.content.decode()


def test_a_serial_like_a_formula_goes_out_as_text(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    spec = personas.cord_spec(mixed.owner)
    fitting = mixed.site.bows.get(tag="L-901").fittings.get(position="string")
    record.remove_cord(by=mixed.technician, fitting=fitting, at=personas.before(2), why="planned", now=personas.NOW)
    cord = personas.cord(mixed, spec)
    personas.fit(
        mixed, fitting.bow, record.put_cord(by=mixed.owner, serial="=HYPERLINK(1)", spec=cord.spec), days_ago=1
    )
    decide.rebuild(personas.NOW)
    content = signed_in(mixed.counter).get("/due/file.csv").content.decode()
    assert ",'=HYPERLINK(1)," in content
    assert ",=HYPERLINK" not in content


def test_a_view_is_kept_shown_and_forgotten(mixed: Shop, signed_in: Callable[..., Client]) -> None:
    client = signed_in(mixed.manager)
    asked = {"list": "due", "name": "Held here", "query": "state=held&find=&page=3&site=larkspur"}
    response = client.post("/views/save/", asked, follow=True)
    assert response.redirect_chain[0][0] == "/due/?state=held"
    assert tags(response) == {"L-903"}
    view = SavedView.objects.get()
    assert (view.person, view.query) == (mixed.manager, "state=held")
    assert [(one.name, one.current) for one in response.context["views"]] == [("Held here", True)]
    assert [one.current for one in client.get("/due/").context["views"]] == [False]
    assert signed_in(mixed.counter).get("/due/").context["views"] == []
    client.post(f"/views/{view.pk}/forget/")
    assert not SavedView.objects.exists()


def test_a_view_without_a_name_is_refused_with_the_list_as_it_was(
    mixed: Shop, signed_in: Callable[..., Client]
) -> None:
    response = signed_in(mixed.manager).post(
        "/views/save/", {"list": "due", "name": " ", "query": "state=held"}, follow=True
    )
    assert "needs a name" in Page(response).text
    assert tags(response) == {"L-903"}
