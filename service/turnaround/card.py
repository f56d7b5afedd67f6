"""What the phone shows of one bow before its check: the answer by the book, where it is, what to look at."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from fleet import lookups
from fleet.models import Booking, Bow, ChecklistItem, Hire, Hold, ReferenceMeasurement
from fleet.vocabulary import BowState
from service.instants import end_of, start_of
from service.schedule import today_at
from service.turnaround.hires import LastSeen, last_seen
from service.turnaround.short_list import SETTLES, SHORT_LISTS, Topic
from service.verdict import Verdict
from service.verdicts import verdict_of


@dataclass(frozen=True)
class PhoneCard:
    """One bow between two guests."""

    bow: Bow
    state: BowState
    verdict: Verdict
    seen: LastSeen
    hire: Hire | None
    holds: list[Hold]
    topics: tuple[Topic, ...]
    house_list: list[str]
    references: list[ReferenceMeasurement]
    bookings: list[Booking]

    @property
    def may_hand_out(self) -> bool:
        """Whether a guest may have it now."""
        return self.state == BowState.READY and self.verdict.may_go and not self.seen.unchecked


def phone_card(bow: Bow, now: datetime) -> PhoneCard:
    """The card of a bow as of now."""
    kind = bow.spec_sheet.bow_kind
    items = ChecklistItem.objects.filter(site=bow.site, bow_kind=kind).order_by("place_in_list")
    return PhoneCard(
        bow=bow,
        state=BowState(lookups.state_of(bow)),
        verdict=verdict_of(bow, now),
        seen=last_seen(bow),
        hire=Hire.objects.filter(bow=bow, back_at=None).select_related("booking").first(),
        holds=lookups.open_holds(bow),
        topics=SHORT_LISTS[kind],
        house_list=list(items.values_list("text", flat=True)),
        references=quick_references(bow),
        bookings=bookings_for(bow, now),
    )


def quick_references(bow: Bow) -> list[ReferenceMeasurement]:
    """The current references that a rule reads on the braced bow, in the order of the short list."""
    references = lookups.current_reference_set(bow)
    if references is None:
        return []
    order = list(SETTLES)
    return sorted(
        (one for one in references.measurements.all() if one.kind in SETTLES), key=lambda one: order.index(one.kind)
    )


def bookings_for(bow: Bow, now: datetime) -> list[Booking]:
    """Today's bookings at the site that have no bow out yet and do not ask for another bow, the next one first."""
    today, zone = today_at(bow.site, now), bow.site.time_zone
    todays = Booking.objects.filter(
        site=bow.site, cancelled_at=None, start__lt=end_of(today, zone), end__gt=max(start_of(today, zone), now)
    )
    free = todays.exclude(hires__isnull=False).filter(start__gte=now - timedelta(days=1))
    return [one for one in free.select_related("bow").order_by("start")[:40] if one.bow_id in (None, bow.pk)]
