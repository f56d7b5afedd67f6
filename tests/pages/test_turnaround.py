"""Between two guests: the check's page, what a sent check puts into the book, and that it does so once."""

from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from fleet import lookups, record
from fleet.models import Bow, CheckPhoto, Hire, Hold, Incident, Shots, TurnaroundCheck, VehicleParking
from tests import personas
from tests.pages.reading import Page
from tests.personas import NOW, Shop, before
from tests.turnaround.pictures import with_place
from tests.turnaround.typed import fine

JSON = {"Accept": "application/json"}


@pytest.fixture
def bow(shop: Shop) -> Bow:
    """A settled bow with nothing due."""
    bow = personas.fitted_bow(shop, "twin", "L-014", days_ago=20.0)
    personas.shoot(shop, bow, 150, days_ago=15.0)
    for fitting in lookups.fitted(bow):
        record.reset_cord(by=shop.technician, fitting=fitting, at=before(10))
    return bow


@pytest.fixture
def counter(shop: Shop, signed_in: Callable[..., Client]) -> Client:
    return signed_in(shop.counter)


@pytest.fixture(autouse=True)
def _photos(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "photos"


def send(client: Client, bow: Bow, fields: dict[str, Any], **options: Any) -> HttpResponse:
    return client.post(f"/turnaround/{bow.tag}/", fields, headers=JSON, **options)


def go_out(shop: Shop, bow: Bow, hours_ago: float = 2.0) -> Hire:
    return record.hand_out(by=shop.counter, bow=bow, reference="B-1", at=before(hours=hours_ago), known={})


def test_a_check_is_kept_as_given_with_its_shots_and_is_the_return(shop: Shop, bow: Bow, counter: Client) -> None:
    hire = go_out(shop, bow)
    response = send(counter, bow, fine(use="1.5", note="squeaks"))
    answer, check = response.json(), TurnaroundCheck.objects.get()
    assert (answer["verdict"], answer["tag"], answer["because"]) == ("ready", "L-014", [])
    assert (check.verdict, check.by, check.answers["hours"], check.answers["note"]) == (
        *("ready", shop.counter, 1.5),
        "squeaks",
    )
    hire.refresh_from_db()
    assert (hire.back_at, hire.back_by) == (check.at, shop.counter)
    shots = Shots.objects.get(key=f"{check.key}-shots")
    # 45 an hour, the middle of 30 to 60 (a hire session, derived), spread evenly: a standard deviation of 8.66.
    assert (shots.count, shots.start, shots.end) == (68, hire.out_at, check.at)
    assert shots.count_sd == pytest.approx(1.5 * 8.6603, abs=1e-3)


def test_the_same_check_sent_again_gets_the_first_answer_whatever_it_says_now(
    shop: Shop, bow: Bow, counter: Client
) -> None:
    go_out(shop, bow)
    fields = fine()
    first = send(counter, bow, fields)
    again = send(counter, bow, {**fields, "dropped": "yes", "use": "3"})
    assert again.json() == first.json()
    assert (TurnaroundCheck.objects.count(), Incident.objects.count()) == (1, 0)
    assert Shots.objects.filter(key__startswith=fields["key"]).count() == 1


def test_a_key_of_another_bow_is_refused(shop: Shop, bow: Bow, counter: Client) -> None:
    other, fields = personas.fitted_bow(shop, "twin", "L-015"), fine()
    send(counter, bow, fields)
    response = send(counter, other, fields)
    assert response.status_code == 422
    assert "already taken for L-014" in response.json()["problems"]["key"]


def test_a_check_cut_off_after_its_shots_counts_them_once(shop: Shop, bow: Bow, counter: Client) -> None:
    """The phone sends again what the book had half taken."""
    fields = fine(use="2")
    record.add_shots(
        by=shop.counter,
        bow=bow,
        start=before(hours=2),
        end=before(),
        count=90,
        how_known="estimated",
        key=f"{fields['key']}-shots",
        now=NOW,
    )
    assert send(counter, bow, fields).json()["because"] == []
    assert Shots.objects.filter(key__startswith=fields["key"]).count() == 1


def test_dry_fired_holds_at_once_and_the_rest_need_not_be_answered(shop: Shop, bow: Bow, counter: Client) -> None:
    answer = send(counter, bow, fine(dry_fired="yes", topic_limbs=None, topic_cams=None)).json()
    assert (answer["verdict"], lookups.state_of(bow)) == ("hold", "held")
    assert (Incident.objects.get().kind, Hold.objects.get().reason) == ("dry_fire", "incident")


def test_a_finding_holds_and_a_good_check_after_it_does_not_release(shop: Shop, bow: Bow, counter: Client) -> None:
    send(counter, bow, fine(topic_cords="not_fine", what_cords="broken_strand"))
    assert Hold.objects.get().reason == "condemned"
    answer = send(counter, bow, fine()).json()
    assert answer["verdict"] == "hold"
    assert Hold.objects.count() == 1, "no second hold for what holds it already"


def test_timing_off_the_line_is_check_timing_and_holds(shop: Shop, bow: Bow, counter: Client) -> None:
    answer = send(counter, bow, fine(topic_timing_marks="not_fine")).json()
    assert answer["verdict"] == "check_timing"
    assert "not measured inside tolerance on every cam" in answer["because"][0]
    assert Hold.objects.get().reason == "turnaround"
    measured = {"measure-hole_distance_lower": "15/32", "measure-hole_distance_upper": "12.1 mm"}
    other = personas.fitted_bow(shop, "twin", "L-016")
    answer = send(counter, other, fine(topic_timing_marks="not_fine", **measured)).json()
    kept = TurnaroundCheck.objects.get(bow=other).measurements
    assert [one["kind"] for one in kept] == ["hole_distance_upper", "hole_distance_lower"]
    assert "but measured inside tolerance" in " ".join(answer["because"])


def test_a_hot_boot_is_entered_and_too_hot_holds(shop: Shop, bow: Bow, counter: Client) -> None:
    """45 degC outside and past an hour: 25 degC more by the published table, 70; 113 degF is 45 degC."""
    answer = send(counter, bow, fine(vehicle="yes", parked="120", outside="113.5")).json()
    parking = VehicleParking.objects.get()
    assert (parking.end - parking.start).total_seconds() == 120 * 60
    assert parking.outside_c == pytest.approx(45.28, abs=0.01)
    assert answer["verdict"] == "hold"
    assert "inspect the cords before the next hire" in answer["because"][0]
    assert Hold.objects.get().reason == "heat"


def test_a_vehicle_that_the_book_has_already_does_not_stop_the_check(shop: Shop, bow: Bow, counter: Client) -> None:
    send(counter, bow, fine(vehicle="yes", parked="60", outside="80"))
    answer = send(counter, bow, fine(vehicle="yes", parked="120", outside="80", dropped="yes")).json()
    assert answer["verdict"] == "hold"
    assert any("the hot vehicle was not entered" in line for line in answer["because"])
    assert VehicleParking.objects.count() == 1


def test_a_late_check_is_dated_when_it_was_answered_by_the_phones_own_wait(
    shop: Shop, bow: Bow, counter: Client
) -> None:
    go_out(shop, bow, hours_ago=5)
    send(counter, bow, fine(waited_s=str(3 * 3600)))
    check = TurnaroundCheck.objects.get()
    assert abs((check.at - before(hours=3)).total_seconds()) < 60
    assert Hire.objects.get().back_at == check.at


def test_a_late_check_from_before_it_went_out_again_leaves_it_with_its_guest(
    shop: Shop, bow: Bow, counter: Client
) -> None:
    go_out(shop, bow, hours_ago=1)
    answer = send(counter, bow, fine(waited_s=str(3 * 3600))).json()
    assert "answered before it went out as B-1; it is out now" in answer["because"]
    assert lookups.state_of(bow) == "out"


def test_a_check_typed_by_somebody_else_is_not_taken(
    shop: Shop, bow: Bow, counter: Client, signed_in: Callable[..., Client]
) -> None:
    fields = {**fine(), "typed_by": str(shop.counter.pk)}
    assert send(signed_in(shop.technician), bow, fields).status_code == 409
    assert not TurnaroundCheck.objects.exists()
    assert send(counter, bow, fields).status_code == 200


def test_what_is_missing_is_named_and_nothing_is_kept(shop: Shop, bow: Bow, counter: Client) -> None:
    response = send(counter, bow, fine(topic_rest=None))
    assert response.status_code == 422
    assert response.json()["problems"] == {"topic-rest": "Rest: not answered yet. Choose one."}
    page = counter.post(f"/turnaround/{bow.tag}/", fine(topic_rest=None, use="2"))
    assert page.status_code == 422
    assert 'value="2" checked' in page.content.decode()
    assert not TurnaroundCheck.objects.exists()


def test_without_a_script_the_answer_is_a_page_of_its_own(shop: Shop, bow: Bow, counter: Client) -> None:
    response = counter.post(f"/turnaround/{bow.tag}/", fine(topic_limbs="not_fine", what_limbs="crack"), follow=True)
    assert response.redirect_chain[0][0].startswith("/turnaround/L-014/answers/")
    text = Page(response).text
    assert "Hold" in text and "Limbs: crack, splinter or lifted layer" in text and "do not draw it" in text


def test_a_picture_is_kept_beside_the_finding_for_people_of_the_site_alone(
    shop: Shop, camp: Shop, bow: Bow, counter: Client, signed_in: Callable[..., Client]
) -> None:
    picture = SimpleUploadedFile("../../IMG 1.jpg", with_place(), "image/jpeg")
    send(counter, bow, {**fine(topic_limbs="not_fine"), "photo-limbs": picture})
    photo = CheckPhoto.objects.get()
    assert photo.topic == "limbs"
    assert photo.image.name.startswith("checks/2026/07/")
    address = f"/turnaround/L-014/pictures/{photo.pk}/"
    response = counter.get(address)
    assert response["Content-Type"] == "image/jpeg"
    assert "no-store" in response["Cache-Control"]
    assert b"Invented" not in b"".join(response.streaming_content)  # type: ignore[arg-type]
    assert signed_in(camp.owner).get(address).status_code == 200, "the owner of both sites"
    assert signed_in(camp.manager).get(address).status_code == 404
    other = personas.fitted_bow(shop, "twin", "L-017")
    assert counter.get(f"/turnaround/{other.tag}/pictures/{photo.pk}/").status_code == 404


def test_a_picture_that_cannot_be_read_never_stops_the_hold(shop: Shop, bow: Bow, counter: Client) -> None:
    broken = SimpleUploadedFile("x.jpg", b"no picture", "image/jpeg")
    answer = send(counter, bow, {**fine(topic_limbs="not_fine"), "photo-limbs": broken}).json()
    assert answer["verdict"] == "hold"
    assert any("cannot be read" in line for line in answer["because"])
    assert not CheckPhoto.objects.exists()


def test_hand_out_keeps_what_was_known(shop: Shop, bow: Bow, counter: Client) -> None:
    send(counter, bow, fine())
    response = counter.post("/turnaround/L-014/hand-over/", {"reference": "W-7"}, follow=True)
    assert "L-014 is out as W-7" in Page(response).text
    hire, check = Hire.objects.get(), TurnaroundCheck.objects.get()
    known = hire.known_at_hand_out
    assert (known["state"], known["answer"]) == ("ready", "ready")
    assert known["last_check"] == {
        "at": check.at.isoformat(),
        "by": shop.counter.pk,
        "verdict": "ready",
        "key": check.key,
    }
    counter.post("/turnaround/L-014/hand-over/", {"reference": "W-7"})
    assert Hire.objects.count() == 1, "two taps are one hand-out"


def test_a_held_or_unchecked_bow_is_not_handed_out_and_the_reason_is_told(
    shop: Shop, bow: Bow, counter: Client
) -> None:
    def told() -> str:
        return Page(counter.post("/turnaround/L-014/hand-over/", {"reference": "W-8"}, follow=True)).text

    go_out(shop, bow)
    record.take_back(by=shop.counter, bow=bow, at=before(hours=1))
    assert "came back and was not checked since: do the check first" in told()
    assert "Not checked since it came back" in Page(counter.get("/turnaround/L-014/")).text
    send(counter, bow, fine(dropped="yes"))
    assert "is held: " in told() and "drop on 2026-07-01" in told()
    assert Hire.objects.filter(back_at=None).count() == 0


def test_a_hand_out_needs_a_reference(shop: Shop, bow: Bow, counter: Client) -> None:
    response = counter.post("/turnaround/L-014/hand-over/", {"reference": "  "}, follow=True)
    assert "Say for whom" in Page(response).text


def test_a_booking_is_offered_and_its_hire_names_it(shop: Shop, bow: Bow, counter: Client) -> None:
    for reference, start, chosen in (("B-7", before(hours=-1), None), ("B-8", before(hours=-2), bow)):
        record.put_booking(
            by=shop.counter,
            site=shop.site,
            reference=reference,
            start=start,
            end=before(hours=-3),
            hand="right",
            bow=chosen,
        )
    html = counter.get("/turnaround/L-014/").content.decode()
    assert 'value="B-7"' in html and 'value="B-8" selected' in html
    counter.post("/turnaround/L-014/hand-over/", {"booking": "B-8"})
    assert Hire.objects.get().booking.reference == "B-8"


def promised(shop: Shop, bow: Bow, reference: str, in_hours: float) -> None:
    start, end = before(hours=-in_hours), before(hours=-in_hours - 1)
    record.put_booking(
        by=shop.counter, site=shop.site, reference=reference, start=start, end=end, hand="right", bow=bow
    )


def test_a_promised_bow_does_not_go_to_a_walk_in_while_its_guest_would_wait(
    shop: Shop, bow: Bow, counter: Client
) -> None:
    def told(**fields: str) -> str:
        return Page(counter.post("/turnaround/L-014/hand-over/", fields, follow=True)).text

    promised(shop, bow, "B-8", 0.5)
    record.put_booking(by=shop.counter, site=shop.site, reference="B-7", start=NOW, end=before(hours=-1), hand="right")
    for fields in ({"reference": "W-7"}, {"booking": "B-7"}):
        refusal = told(**fields)
        assert "L-014 is promised to B-8 from " in refusal and "cancel B-8 or promise it another bow" in refusal
    assert not Hire.objects.exists()
    assert "L-014 is out as B-8" in told(booking="B-8")


def test_a_walk_in_is_told_to_whom_the_bow_is_promised_later(shop: Shop, bow: Bow, counter: Client) -> None:
    promised(shop, bow, "B-8", 4)
    told = Page(counter.post("/turnaround/L-014/hand-over/", {"reference": "W-7"}, follow=True)).text
    assert "L-014 is out as W-7" in told
    assert "L-014 is promised to B-8 from 1:00 PM: it must be back and checked by then" in told


def test_the_list_shows_what_is_out_first_and_finds_by_tag(shop: Shop, bow: Bow, counter: Client) -> None:
    go_out(shop, bow)
    personas.fitted_bow(shop, "twin", "L-020")
    text = Page(counter.get("/turnaround/")).text
    assert text.index("Out: check when it comes back") < text.index("L-014") < text.index("L-020")
    assert "L-014" not in Page(counter.get("/turnaround/", {"find": "L-020"})).text


def test_pages_are_not_kept_by_anything_but_the_worker(shop: Shop, bow: Bow, counter: Client) -> None:
    for address in ("/turnaround/", "/turnaround/L-014/", "/line/", "/no-line/"):
        assert "no-store" in counter.get(address)["Cache-Control"]
    worker = Client().get("/turnaround/worker.js")
    assert worker["Content-Type"].startswith("text/javascript")


def test_a_late_form_needs_a_token_of_its_own(shop: Shop, bow: Bow, signed_in: Callable[..., Client]) -> None:
    strict = signed_in(shop.counter, enforce_csrf_checks=True)
    assert send(strict, bow, fine()).status_code == 403
    line = strict.get("/line/").json()
    assert line["person"] == shop.counter.pk
    response = strict.post("/turnaround/L-014/", fine(), headers={**JSON, "X-CSRFToken": line["token"]})
    assert response.status_code == 200


def test_the_page_asks_as_much_of_the_database_however_large_the_fleet(
    shop: Shop, bow: Bow, counter: Client, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    counter.get("/turnaround/L-014/")
    for number in range(12):
        personas.fitted_bow(shop, "twin", f"L-1{number:02d}")
    for address, most in (("/turnaround/L-014/", 32), ("/turnaround/", 16)):
        with django_assert_max_num_queries(most):
            assert counter.get(address).status_code == 200


def test_a_number_that_is_none_is_refused(shop: Shop, bow: Bow, counter: Client) -> None:
    response = send(counter, bow, fine(key="1; drop"))
    assert response.status_code == 422
    assert "Reload it" in response.json()["problems"]["key"]
    assert str(uuid4()) not in response.content.decode()
