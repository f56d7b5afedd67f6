"""Loading the demo shop: a season of two invented sites, written into an empty book through the register's verbs only.

The same `now` gives the same facts. Nothing computed is written: wear, needs and plans follow from the facts.
"""

from datetime import datetime, timedelta

from django.db import transaction

from fleet import record
from fleet.models import Person, Site
from fleet.record import Refused, ShotsRow
from fleet.vocabulary import IncidentKind
from service.demo import places, roster
from service.demo.bench import Bench
from service.demo.bows import put_bow
from service.demo.counter import Counter
from service.demo.diary import Diary
from service.demo.makes import put_makes
from service.demo.roster import sixty_bows
from service.demo.shop import BowStory, Shop
from service.demo.signins import SIGN_INS
from service.demo.sites import CAMP_CODE, RANGE_CODE, put_camp, put_range
from service.demo.stock import Shelf

INCIDENT_BEFORE_CHANGE = timedelta(hours=18)


@transaction.atomic
def load(now: datetime) -> int:
    """Write the demo's season, which ends at `now`, into an empty book; returns how many bows. Refused otherwise."""
    if Person.objects.exists() or Site.objects.exists():
        raise Refused(
            "The demo shop is loaded into an empty book only, and this one has entries: set BRACEBOOK_DATA_DIR to an "
            "empty directory (or BRACEBOOK_DATABASE_URL to an empty database), run `manage.py migrate`, and try again."
        )
    shop = _found(now)
    climate = places.climate(shop)
    stories = [put_bow(shop, plan, climate.heat_by_day(shop, plan)) for plan in sixty_bows()]
    places.put_readings(shop, climate)
    _write_season(shop, stories)
    places.put_stays(shop, stories)
    _put_shots(shop, stories)
    _put_single_events(shop, {story.plan.tag: story for story in stories})
    record.erase_guest_names(by=shop.owner, today=now.date())
    return len(stories)


def _found(now: datetime) -> Shop:
    username, password, _ = SIGN_INS[0]
    owner = record.found_book(username=username, display_name="Odile Varga", password=password)
    range_crew = put_range(owner, now.date())
    camp_crew = put_camp(owner, now.date())
    return Shop(now, owner, {RANGE_CODE: range_crew, CAMP_CODE: camp_crew}, put_makes(owner))


def _write_season(shop: Shop, stories: list[BowStory]) -> None:
    """Bench, shelf and counter in the order in which things happened."""
    diary = Diary(shop.now)
    shelf, counter = Shelf(shop, diary), Counter(shop, diary)
    bench = Bench(shop, diary, shelf)
    shelf.note_season()
    for story in stories:
        bench.note_season(story)
        counter.note_hires(story)
        _note_incidents(shop, diary, story)
        if story.plan.tag == roster.SENT_TO_TIMING:
            counter.note_check_timing(story)
        if story.plan.tag == roster.RETIRED:
            _note_retirement(shop, diary, story)
    diary.write()
    shelf.receive_all_due()
    counter.put_bookings_ahead(stories)
    overdue = next(iter(roster.OVERDUE))
    counter.put_booking_of_an_overdue_bow(next(story for story in stories if story.plan.tag == overdue))


def _note_incidents(shop: Shop, diary: Diary, story: BowStory) -> None:
    """The dry fire of two days ago; a drop and a derailing, each on the eve of the change that followed."""
    told = {
        roster.DRY_FIRED: (IncidentKind.DRY_FIRE, "guest let go without an arrow; upper limb looked at, no crack seen"),
        roster.DROPPED: (IncidentKind.DROP, "fell off the rack onto the upper cam"),
        roster.DERAILED: (IncidentKind.DERAILED, "string came off the lower cam while it was let down"),
    }
    if story.plan.tag not in told:
        return
    kind, note = told[story.plan.tag]
    if kind is IncidentKind.DRY_FIRE:
        at = shop.at(story.crew, story.last_day, 18, 20)
    else:
        at = shop.at(story.crew, story.sets[-1].fitted_day, 8) - INCIDENT_BEFORE_CHANGE + timedelta(hours=5)
    diary.note(
        at,
        lambda: record.report_incident(
            by=story.crew.counter,
            bow=story.bow,
            kind=kind,
            happened_at=at,
            key=f"demo-{kind}",
            now=shop.now,
            note=note,
        ),
    )


def _note_retirement(shop: Shop, diary: Diary, story: BowStory) -> None:
    at = shop.at(story.crew, story.last_day + 1, 12)
    diary.note(
        at,
        lambda: record.retire(by=story.crew.manager, bow=story.bow, at=at, why="lower limb delaminated at the pocket"),
    )


def _put_shots(shop: Shop, stories: list[BowStory]) -> None:
    rows = [
        ShotsRow(
            bow=story.bow,
            start=(start := shop.at(story.crew, session.day, session.hour)),
            end=start + timedelta(hours=session.hours),
            count=session.shots,
            how_known=session.how_known,
            key=f"demo-{story.plan.tag}-{session.day}-{session.hour}",
            count_sd=session.shots_sd,
        )
        for story in stories
        for session in story.sessions
    ]
    record.add_many_shots(by=shop.owner, rows=rows, source="the demo's season", now=shop.now)


def _put_single_events(shop: Shop, stories: dict[str, BowStory]) -> None:
    places.put_parking(shop, stories[roster.LEFT_IN_VEHICLE])
    for story in stories.values():
        if places.is_unstrung_bow(story.plan):
            places.put_unstrung(shop, story)
