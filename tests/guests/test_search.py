"""A search of many bows finds what a look at every bow finds: nothing that fits is hidden, nothing else is offered."""

from datetime import UTC, date, datetime, timedelta
from random import Random

import pytest

from fleet import record
from fleet.models import Bow
from service import decide, schedule
from service.guest_models import GuestBow
from service.guests import search
from service.guests.found import FitsInOrder
from service.guests.narrow import Wanted
from service.guests.search import Page, fits_of, found_for
from service.models import CordWear, Need, NeedKind
from service.plan.guests import GuestBooking
from tests import personas
from tests.guests.test_fitting import looked_over, ready_bow
from tests.personas import INCH_M, NOW, POUND_N, Shop

pytestmark = [pytest.mark.django_db, pytest.mark.both_engines]
TODAY = date(2026, 7, 1)
TOMORROW = datetime(2026, 7, 2, 16, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def shop(db: None) -> Shop:
    return personas.shop()


def need(bow: Bow, kind: NeedKind, on: date, *, holds: bool = False) -> None:
    Need.objects.create(
        bow=bow, kind=kind, reason="as told", earliest_on=on, due_on=on, latest_on=on, minutes=15, skill="inspection",
        needs_press=False, holds=holds,
    )  # fmt: skip


def every_kind(shop: Shop) -> list[Bow]:
    """A bow for each thing that keeps it back or lets it go, and a few that nothing keeps."""
    bows = [ready_bow(shop, f"L-{n:02}") for n in range(14)]
    bows += [ready_bow(shop, "L-LEFT", hand="left"), ready_bow(shop, "L-REC", kind="recurve")]
    held, out, late, promised, due, overdue, worn, planned, settling, bare, lost, renewed = bows[:12]
    record.hold(by=shop.manager, bow=held, reason="person", detail="creaks", since=NOW)
    record.hand_out(by=shop.counter, bow=out, reference="W", at=NOW - HOUR, known={})
    booking = record.put_booking(
        by=shop.counter, site=shop.site, reference="B-L", start=NOW - HOUR, end=NOW + 30 * HOUR, bow=late
    )
    record.hand_out(by=shop.counter, bow=late, reference="B-L", at=NOW - HOUR, known={}, booking=booking)
    record.put_booking(
        by=shop.counter, site=shop.site, reference="B-P", start=TOMORROW, end=TOMORROW + 2 * HOUR, bow=promised
    )
    decide.rebuild(NOW)
    Need.objects.exclude(bow=held).delete()
    need(due, NeedKind.INSPECTION, TODAY + timedelta(days=3))
    need(overdue, NeedKind.TIMING_CHECK, TODAY - timedelta(days=40))
    need(planned, NeedKind.INSPECTION, TODAY - timedelta(days=1))
    need(renewed, NeedKind.REPLACEMENT, TODAY + timedelta(days=2))
    need(settling, NeedKind.SETTLE_IN, TODAY)
    CordWear.objects.filter(fitting__bow=worn).update(life_used=0.5, replacement_point=0.5)
    GuestBow.objects.filter(bow=worn).update(used=1.0)
    bare.set_ups.all().delete()
    CordWear.objects.filter(fitting__bow=lost).earliest("pk").delete()
    schedule.draft(shop.site, TODAY, 28, NOW)
    # Planned after the draft: no bench day in sight.
    need(bows[12], NeedKind.NOTICE, TODAY + timedelta(days=2))
    return bows


def guests(count: int, seed: int) -> list[GuestBooking]:
    """Guests of today and the coming days, by the hour or the day, with whatever needs."""
    random, found = Random(seed), []
    for _ in range(count):
        first = TODAY + timedelta(days=random.choice([-1, 0, 0, 1, 2, 3, 5, 12]))
        last = first + timedelta(days=random.choice([0, 0, 0, 1, 4]))
        begin = datetime(first.year, first.month, first.day, random.randint(14, 20), tzinfo=UTC)
        found.append(
            GuestBooking(
                reference="walk-in",
                first=first,
                last=last,
                shots=float(random.choice([0, 45, 3_000, 9_000])),
                hand=random.choice([None, "left", "right"]),
                draw_length_m=random.choice([None, 28 * INCH_M, 28.2 * INCH_M, 25 * INCH_M]),
                peak_weight_n=random.choice([None, (38 * POUND_N, 42 * POUND_N), (43 * POUND_N, float("inf"))]),
                bow=random.choice([None, None, None, "L-13"]),
                hours=random.choice([None, (begin, begin + HOUR)]) if last == first else None,
            )
        )
    return found


def all_pages(shop: Shop, asked: GuestBooking) -> list[FitsInOrder]:
    """Every page of the bows that fit, then every page of those that do not."""
    page: Page | None = Page()
    found = []
    while page is not None:
        found.append(found_for(shop.site, asked, NOW, page))
        beyond = found[-1].beyond
        page = None if beyond.next_fit is None else Page(fit=beyond.next_fit)
    page = None if found[0].beyond.next_other is None else Page(others=found[0].beyond.next_other)
    while page is not None:
        found.append(found_for(shop.site, asked, NOW, page))
        beyond = found[-1].beyond
        page = None if beyond.next_other is None else Page(others=beyond.next_other)
    return found


@pytest.mark.parametrize("choice", ["level", "oldest_first"])
def test_the_pages_of_a_search_hold_what_a_look_at_every_bow_finds(
    shop: Shop, choice: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    bows = every_kind(shop)
    record.put_site(by=shop.owner, code=shop.site.code, wear_choice=choice)
    shop.site.refresh_from_db()
    monkeypatch.setattr(search, "FITS_A_PAGE", 3)
    monkeypatch.setattr(search, "OTHERS_A_PAGE", 4)
    some_fit = 0
    for asked in guests(40, seed=5):
        every = {one.bow.tag: one for one in fits_of(shop.site, Wanted(asked), NOW)}
        assert len(every) == len(bows)
        fit = {tag for tag, one in every.items() if one.fits}
        pages = all_pages(shop, asked)
        offered = [one for page in pages if page.best for one in (*page.best, *page.further)]
        assert {one.bow.tag for one in offered} == fit, asked
        assert all(one == every[one.bow.tag] for page in pages for one in (*page.best, *page.further, *page.others))
        listed = {one.bow.tag for page in pages for one in page.others}
        assert listed == set(every) - fit, asked
        assert pages[0].count + pages[0].others_count == len(every), asked
        # What hangs on the bench's days is counted as fitting until its page is looked at, and then it is known.
        assert pages[0].count >= len(fit) and (pages[0].beyond.next_fit or pages[0].count == len(fit)), asked
        some_fit += bool(fit)
    assert some_fit > 10


def test_the_best_come_first_page_by_page(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(7):
        bow = ready_bow(shop, f"L-{number}")
        personas.shoot(shop, bow, 100 * (7 - number), days_ago=5)
        decide.refresh([bow.pk], NOW)
        looked_over(bow)
    monkeypatch.setattr(search, "FITS_A_PAGE", 3)
    asked = GuestBooking("walk-in", TODAY, TODAY, 45.0)
    order, page = [], Page()
    while True:
        found = found_for(shop.site, asked, NOW, page)
        order += [one.bow.tag for one in (*found.best, *found.further)]
        assert found.count == 7 - page.fit
        if found.beyond.next_fit is None:
            break
        page = Page(fit=found.beyond.next_fit)
    assert order == [one.bow.tag for one in fits_of(shop.site, Wanted(asked), NOW)]
    assert order == [f"L-{number}" for number in reversed(range(7))]


def test_many_that_do_not_fit_are_counted_by_reason(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(3):
        ready_bow(shop, f"L-{number}", hand="left")
    held = ready_bow(shop, "L-H")
    record.hold(by=shop.manager, bow=held, reason="person", detail="creaks", since=NOW)
    decide.refresh([held.pk], NOW)
    asked = GuestBooking("walk-in", TODAY, TODAY, 45.0, hand="right")
    assert len(found_for(shop.site, asked, NOW).others) == 4
    monkeypatch.setattr(search, "OTHERS_A_PAGE", 2)
    found = found_for(shop.site, asked, NOW)
    assert found.others == () and found.others_count == 4
    assert found.beyond.why_others == (("other hand", 3), ("not ready, too worn or promised then", 1))
    listed = found_for(shop.site, asked, NOW, Page(others=0))
    assert {one.bow.tag for one in listed.others} == {"L-H", "L-0"} and listed.beyond.next_other == 2


def test_what_is_no_place_in_an_address_is_the_first_page() -> None:
    assert Page.asked_by({"fit": "-3", "others": "x"}) == Page()
    assert Page.asked_by({"fit": "20", "others": "0"}) == Page(20, 0)


def test_a_bow_that_moved_or_retired_is_offered_no_more(shop: Shop) -> None:
    other = personas.shop("ridgecamp")
    stays, moves, retires = (ready_bow(shop, f"L-{n}") for n in range(3))
    record.move_to_site(by=shop.manager, bow=moves, site=other.site)
    record.retire(by=shop.manager, bow=retires, at=NOW, why="cracked limb")
    decide.refresh_stale(NOW)
    asked = GuestBooking("walk-in", TODAY, TODAY, 45.0)
    assert [one.bow for one in found_for(shop.site, asked, NOW).best] == [stays]
    Need.objects.filter(bow=moves).delete()
    assert [one.bow for one in found_for(other.site, asked, NOW).best] == [moves]
