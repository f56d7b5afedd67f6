"""The demo's counter: bookings and hires of the last weeks, checks between guests, bookings to come.

Guests' names are invented; about two in five give one. What lies further back than the site keeps names is erased.
"""

from datetime import datetime, timedelta

from fleet import record
from fleet.models import Booking
from fleet.vocabulary import Verdict
from service.demo import roster
from service.demo.diary import Diary
from service.demo.makes import inch, pound
from service.demo.shop import BowStory, Shop
from service.demo.sites import CHECKLISTS
from service.demo.use import Session, generator
from service.demo.weather import SEASON_DAYS

HIRES_SINCE_DAYS, CHECKS_SINCE_DAYS = 45, 10
BOOKED_AHEAD_DAYS = 21
TRIP_DAY, TRIP_DAYS = SEASON_DAYS - 2, 3
GIVEN = ("Ambrin", "Bertil", "Celandine", "Dorrit", "Eskil", "Fenella", "Gaspard", "Hesper", "Ingram", "Jorunn")
FAMILY = ("Alderway", "Brightholm", "Coldwater", "Dunmore-Vale", "Eversong", "Farrowby", "Greenacre", "Hollins")
SHOTS_AN_HOUR = 45


class Counter:
    """Bookings and hires, with references that count up."""

    def __init__(self, shop: Shop, diary: Diary) -> None:
        self.shop = shop
        self.diary = diary

    def note_hires(self, story: BowStory) -> None:
        """Note the bookings, hires and checks of a bow's guests in the last weeks."""
        for session in story.sessions:
            if session.is_guest and session.day >= SEASON_DAYS - HIRES_SINCE_DAYS:
                self._note_hire(story, session)
        if story.plan.tag in roster.OUT_NOW:
            self._note_trip(story)

    def _note_hire(self, story: BowStory, session: Session) -> None:
        crew = story.crew
        start = self.shop.at(crew, session.day, session.hour)
        back = start + timedelta(hours=session.hours, minutes=-5)
        reference = f"{story.plan.tag}-{session.day:03d}-{session.hour}"

        def go_out() -> None:
            booking = self._book(story, reference, start, session.hours, session.shots)
            self._hand_out(story, booking, start)

        self.diary.note(start, go_out)
        self.diary.note(back, lambda: record.take_back(by=crew.counter, bow=story.bow, at=back))
        if session.day >= SEASON_DAYS - CHECKS_SINCE_DAYS:
            self.diary.note(back, lambda: self._check(story, back, f"demo-check-{reference}", Verdict.READY))

    def _note_trip(self, story: BowStory) -> None:
        """Three days on the moor; the bow is not back yet."""
        start = self.shop.at(story.crew, TRIP_DAY, 9)

        def go_out() -> None:
            booking = self._book(story, f"{story.plan.tag}-trip", start, 24 * TRIP_DAYS, 3 * SHOTS_AN_HOUR)
            self._hand_out(story, booking, start)

        self.diary.note(start, go_out)

    def _hand_out(self, story: BowStory, booking: Booking, at: datetime) -> None:
        record.hand_out(
            by=story.crew.counter,
            bow=story.bow,
            reference=booking.reference,
            booking=booking,
            at=at,
            known={"from": "the paper book of the counter"},
        )

    def note_check_timing(self, story: BowStory) -> None:
        """Yesterday's check found the timing mark off."""
        at = self.shop.at(story.crew, SEASON_DAYS - 1, 18, 10)
        self.diary.note(at, lambda: self._check(story, at, "demo-check-timing", Verdict.CHECK_TIMING))

    def _check(self, story: BowStory, at: datetime, key: str, verdict: Verdict) -> None:
        lines = CHECKLISTS[story.make.plan.bow_kind]
        off = verdict is not Verdict.READY
        record.record_turnaround(
            by=story.crew.counter,
            bow=story.bow,
            at=at,
            answers={line: "not as it was" if off and "iming" in line else "fine" for line in lines},
            measurements=[],
            verdict=verdict,
            key=key,
            hold_because="turnaround check: the timing mark is off" if off else "",
        )

    def _book(self, story: BowStory, reference: str, start: datetime, hours: int, shots: int) -> Booking:
        """A booking for the very bow, or for what the guest needs, as the reference's own draw decides."""
        rng = generator(reference, "booking")
        named = f"{rng.choice(GIVEN)} {rng.choice(FAMILY)}" if rng.random() < 0.4 else ""
        needs = {"bow": story.bow} if rng.random() < 0.5 else _needs(story)
        return record.put_booking(
            by=story.crew.counter,
            site=story.crew.site,
            reference=reference,
            start=start,
            end=start + timedelta(hours=hours),
            guest_name=named,
            expected_shots=shots,
            **needs,
        )

    def put_bookings_ahead(self, stories: list[BowStory]) -> None:
        """Bookings of the next weeks: about one in three bows has a guest in a given week."""
        for story in stories:
            rng = generator(story.plan.tag, "ahead")
            for ahead in range(1, BOOKED_AHEAD_DAYS + 1):
                if not _bookable(story) or rng.random() > 0.05:
                    continue
                hour = int(rng.choice((10, 11, 14, 16)))
                start = self.shop.at(story.crew, SEASON_DAYS + ahead, hour)
                if start.weekday() in story.crew.site.opening_weekdays:
                    self._book(story, f"{story.plan.tag}-{SEASON_DAYS + ahead:03d}-{hour}", start, 1, SHOTS_AN_HOUR)

    def put_booking_of_an_overdue_bow(self, story: BowStory) -> None:
        """A guest has asked for the very bow that is past its replacement date."""
        record.put_booking(
            by=story.crew.counter,
            site=story.crew.site,
            reference=f"{story.plan.tag}-asked-for",
            start=self.shop.at(story.crew, SEASON_DAYS + 3, 14),
            end=self.shop.at(story.crew, SEASON_DAYS + 3, 16),
            bow=story.bow,
            expected_shots=2 * SHOTS_AN_HOUR,
        )


def _bookable(story: BowStory) -> bool:
    shot_by_guests = story.plan.use in (roster.Use.RENTAL, roster.Use.CAMP)
    kept_in = {roster.RETIRED, roster.UNKNOWN_USE, roster.DRY_FIRED, *roster.OVERDUE}
    return shot_by_guests and story.plan.tag not in kept_in


def _needs(story: BowStory) -> dict[str, object]:
    return {
        "hand": story.plan.hand,
        "draw_length_m": inch(story.plan.draw_in),
        "peak_weight_min_n": pound(story.plan.weight_lb - 6),
        "peak_weight_max_n": pound(story.plan.weight_lb + 4),
    }
