"""A field is emptied on purpose, by its tick box or the word for it in a file; left alone, it stays as it is."""

from collections.abc import Callable
from datetime import date

import pytest
from django.test import Client

from fleet.models import AuditEntry, CordSpec, FactoryReference, MeasuringTool, SpecSheet
from service.intake.columns import EMPTIED
from tests import personas
from tests.intake.book import only_problem, preview, take
from tests.pages.reading import Page
from tests.personas import Shop


@pytest.fixture
def manager(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.manager)


def known(client: Client, address: str) -> dict[str, str]:
    """What stands on a form when it opens, selects among it."""
    form = client.get(address).context["form"]
    return {one.header: one.text for one in form.fields if not one.fixed}


def test_a_tick_empties_a_field_and_the_trail_says_so(shop: Shop, manager: Client) -> None:
    address = f"/house/tools/{shop.tool_codes['rule']}/change/"
    assert 'name="empty-calibration_due_on"' in manager.get(address).content.decode()
    typed = known(manager, address)
    assert manager.post(address, {**typed, "empty-calibration_due_on": "1"}).status_code == 302
    tool = MeasuringTool.objects.get(code=shop.tool_codes["rule"])
    assert tool.calibration_due_on is None and tool.resolution is not None
    entry = AuditEntry.objects.filter(verb="put_tool").latest("pk")
    assert entry.detail["changed"] == {"calibration_due_on": ["2026-12-31", None]}
    assert "empty-calibration_due_on" not in manager.get(address).content.decode()


def test_a_field_left_as_it_is_stays_and_one_that_was_only_cleared_is_asked_about(shop: Shop, manager: Client) -> None:
    address = f"/house/tools/{shop.tool_codes['rule']}/change/"
    typed = known(manager, address)
    manager.post(address, typed)
    cleared = manager.post(address, {**typed, "calibration_due_on": ""})
    assert cleared.status_code == 422
    assert "tick the box to empty it for good, or type it again" in Page(cleared).text
    both = manager.post(address, {**typed, "calibration_due_on": "2027-01-31", "empty-calibration_due_on": "1"})
    assert "something else is typed" in Page(both).text
    assert MeasuringTool.objects.get(code=shop.tool_codes["rule"]).calibration_due_on == date(2026, 12, 31)


def test_emptying_meets_the_refusals_of_the_verbs(shop: Shop, manager: Client) -> None:
    manager.post("/house/places/new/", {"name": "Shed", "site": "larkspur", "temperature_source": "fixed",
                                        "fixed_temperature_f": "70"})  # fmt: skip
    address = "/house/places/Shed/change/"
    refused = manager.post(address, {**known(manager, address), "empty-fixed_temperature_f": "1"})
    assert refused.status_code == 422
    assert "A fixed place needs its temperature" in Page(refused).text
    taken = {**known(manager, address), "temperature_source": "logger", "empty-fixed_temperature_f": "1"}
    assert manager.post(address, taken).status_code == 302
    assert shop.site.places.get(name="Shed").fixed_temperature_c is None


@pytest.mark.django_db
def test_a_file_says_it_by_the_word() -> None:
    take("sites", "code,name,time_zone\nwold,Wold,Europe/Lisbon\n")
    take("tools", "code,kind,resolution_mm,calibration_due_on\nRule 1,rule,0.5,2027-01-31\n")
    file = "code,kind,resolution_mm,calibration_due_on\nRule 1,rule,,{}\n"
    assert preview("tools", file.format("")).unchanged == 1
    take("tools", file.format(EMPTIED))
    tool = MeasuringTool.objects.get()
    assert tool.calibration_due_on is None and tool.resolution == pytest.approx(0.0005)
    problem = only_problem("tools", f"code,kind\nRule 1,{EMPTIED}\n")
    assert "cannot be emptied" in problem.why and "scale" in problem.allowed


def test_a_make_of_cord_and_one_of_bow_are_typed_and_changed(shop: Shop, manager: Client) -> None:
    cord = {
        "code": "WB-S", "maker": "Wold Braid", "position": "string", "length_in": "58 1/4", "strands": "24",
        "fibre": "hmpe", "rated_shots": "6000", "rated_months": "12", "diameter_in": "0.1",
    }  # fmt: skip
    assert manager.post("/house/cord-specs/new/", cord).status_code == 302
    short = manager.post("/house/cord-specs/new/", {**cord, "code": "WB-T", "length_in": "5820"})
    assert "5820 in is above the range" in Page(short).text
    address = "/house/cord-specs/WB-S/change/"
    manager.post(address, {**known(manager, address), "price": "41.50", "empty-diameter_in": "1"})
    spec = CordSpec.objects.get(code="WB-S")
    assert (spec.diameter_m, float(spec.price), spec.length_m) == (None, 41.5, pytest.approx(58.25 * personas.INCH_M))
    bow = {
        "code": "SH-62", "maker": "Sedgewren", "model": "Heron 62", "bow_kind": "recurve", "hands": "both",
        "draw_length_min_in": "24", "draw_length_max_in": "31", "peak_weight_min_lb": "20", "peak_weight_max_lb": "44",
        "string_cord": "WB-S", "brace_height_in": "8 1/2", "brace_height_tolerance_in": "1/4", "tiller_in": "1/8",
        "tiller_tolerance_in": "1/16",
    }  # fmt: skip
    assert manager.post("/house/spec-sheets/new/", bow).status_code == 302
    sheet = SpecSheet.objects.get(code="SH-62")
    assert [one.cord_spec for one in sheet.cords.all()] == [spec]
    address = "/house/spec-sheets/SH-62/change/"
    manager.post(address, {**known(manager, address), "empty-tiller_in": "1", "empty-tiller_tolerance_in": "1"})
    assert list(FactoryReference.objects.filter(spec_sheet=sheet).values_list("kind", flat=True)) == ["brace_height"]
    lacking = manager.post("/house/spec-sheets/new/", {**bow, "code": "SH-63", "model": ""})
    assert "A spec_sheet needs it" in Page(lacking).text
