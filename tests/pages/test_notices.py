"""Notices and the trace from a lot or an incident: every bow, guest and order in one view."""

from collections.abc import Callable

from django.test import Client

from fleet import lookups, record
from fleet.models import Bow, Notice
from fleet.vocabulary import BowState
from tests import personas
from tests.pages import orders
from tests.pages.reading import Page
from tests.personas import NOW, Shop, before

TYPED = {"title": "Strings of LOT-B part", "issued_on": "2026-07-01", "cord_lot": "LOT-B", "holds": "on"}


def carrier(shop: Shop, tag: str, lot: str, days_ago: float = 40) -> Bow:
    """A bow with one string of a lot on it."""
    sheet = personas.spec_sheet(shop.owner, "single")
    bow = personas.bare_bow(shop, sheet, tag)
    personas.fit(shop, bow, personas.cord(shop, personas.cord_spec(shop.owner), lot=lot), days_ago=days_ago)
    return bow


def test_a_notice_is_seen_before_it_is_issued(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    bow, far = carrier(shop, "L-1", "LOT-B"), carrier(camp, "R-1", "LOT-B")
    carrier(shop, "L-2", "LOT-A")
    client = signed_in(shop.manager)

    seen = client.post("/notices/new/", {**TYPED, "action": "preview"})
    assert "It would match one bow of your sites. And one at another site." in Page(seen).text
    assert not Notice.objects.exists()
    assert lookups.state_of(bow) == BowState.READY

    issued = client.post("/notices/new/", {**TYPED, "action": "issue"}, follow=True)
    assert "2 bows are matched" in Page(issued).text
    assert lookups.state_of(bow) == lookups.state_of(far) == BowState.HELD
    assert "L-1" in Page(issued).text and "R-1" not in Page(issued).text
    assert "One more bow stands at a site that is not yours" in Page(issued).text


def test_a_notice_about_nothing_or_without_a_day_is_refused_and_stays_typed(
    shop: Shop, signed_in: Callable[..., Client]
) -> None:
    client = signed_in(shop.manager)
    nothing = client.post("/notices/new/", {**TYPED, "cord_lot": "", "action": "issue"})
    assert nothing.status_code == 422
    assert "a spec sheet, a serial range or a cord lot" in Page(nothing).text
    assert Page(nothing).value("title") == TYPED["title"]
    no_day = client.post("/notices/new/", {**TYPED, "holds": "", "action": "issue"})
    assert "Give the day by which each bow is answered" in Page(no_day).text
    assert not Notice.objects.exists()


def test_a_notice_is_answered_bow_by_bow_and_the_bench_still_releases(
    shop: Shop, signed_in: Callable[..., Client]
) -> None:
    bow = carrier(shop, "L-1", "LOT-B")
    notice = record.issue_notice(by=shop.manager, title="LOT-B", issued_on=NOW.date(), at=NOW, cord_lot="LOT-B")
    address = f"/bows/L-1/notices/{notice.matches.get().pk}/answer/"
    client = signed_in(shop.technician)

    assert "Say what was done" in Page(client.post(address, {"answer": " "}, follow=True)).text
    told = Page(client.post(address, {"answer": "string changed"}, follow=True)).text
    assert "string changed" in told and "answered" in told
    assert lookups.state_of(bow) == BowState.HELD


def test_who_had_a_bow_of_a_lot_and_who_is_promised_it(
    shop: Shop, computed: Callable[[], int], signed_in: Callable[..., Client]
) -> None:
    """Hires before the cord was fitted do not count; a bow that carried the lot once does."""
    bow = personas.fitted_bow(shop, "single", "L-1")
    string = bow.fittings.get(position="string")
    string.cord.lot = "LOT-C"
    string.cord.save()
    for reference, days_ago in (("G-OLD", 400.0), ("G-NEW", 1.0)):
        hire(shop, bow, reference, days_ago)
    booking(shop, bow, "G-NEXT")
    computed()
    order = orders.issued(shop, bow)

    text = Page(signed_in(shop.technician).get("/notices/trace/", {"lot": "LOT-C"})).text
    assert "carries string" in text and string.cord.serial in text
    assert "G-NEW" in text and "G-OLD" not in text
    assert "G-NEXT" in text and order.number in text
    assert "G-NEW, June 30, 2026, 6:00 AM – 9:00 AM" in text, "of one day: the day is said once"
    assert "G-NEXT, July 3, 2026, 9:00 AM – July 4, 2026, 9:00 AM" in text


def hire(shop: Shop, bow: Bow, reference: str, days_ago: float) -> None:
    known = {"verdict": "ready"}
    record.hand_out(by=shop.counter, bow=bow, reference=reference, at=before(days_ago, hours=3), known=known)
    record.take_back(by=shop.counter, bow=bow, at=before(days_ago))


def booking(shop: Shop, bow: Bow, reference: str) -> None:
    record.put_booking(by=shop.counter, site=shop.site, reference=reference, start=before(-2), end=before(-3), bow=bow)


def test_from_an_incident_to_the_other_bows_of_its_lots(shop: Shop, signed_in: Callable[..., Client]) -> None:
    mine, other = carrier(shop, "L-1", "LOT-D"), carrier(shop, "L-2", "LOT-D")
    gone = carrier(shop, "L-3", "LOT-D")
    fitting = gone.fittings.get()
    record.remove_cord(by=shop.technician, fitting=fitting, at=before(1), why="planned", now=NOW)
    incident = record.report_incident(
        by=shop.counter, bow=mine, kind="cut", happened_at=before(hours=2), key="i-1", now=NOW, note="strand parted"
    )

    page = Page(signed_in(shop.technician).get("/notices/trace/", {"incident": incident.pk}))
    assert "the bow of the incident" in page.text and "strand parted" in page.text
    assert {mine.tag, other.tag, gone.tag} <= set(page.words)
    assert "carried string" in page.text
    assert fitting.cord.serial in page.text, "the loose cord is named so that it leaves the shelf"


def test_an_incident_elsewhere_is_not_there(shop: Shop, camp: Shop, signed_in: Callable[..., Client]) -> None:
    incident = record.report_incident(
        by=camp.counter, bow=carrier(camp, "R-1", "LOT-E"), kind="drop", happened_at=before(1), key="i-2", now=NOW
    )
    client = signed_in(shop.technician)
    assert client.get("/notices/trace/", {"incident": incident.pk}).status_code == 404
    assert client.get("/notices/trace/", {"incident": "x"}).status_code == 404
