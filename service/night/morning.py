"""What a site's morning mail says: the day at its bench, what is held, guests without a bow, what to order soon."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.models import Bow, DigestWish, Site
from service.guests.fitting import BookingLine, guests_ahead
from service.guests.proposals import keep_up
from service.instants import day_of
from service.models import NightlyRun
from service.night.run import last_run
from service.orders.day import BenchDay, bench_day
from service.stock.shelf import ReorderLine, shelf_of
from service.units import Units, format_length
from service.verdict import Verdict
from service.verdicts import verdicts_of

ORDER_WITHIN = timedelta(days=7)
GUESTS_DAYS = 2


@dataclass(frozen=True)
class Morning:
    """A site's morning."""

    site: Site
    day: date
    bench: BenchDay
    held: list[tuple[Bow, Verdict]]
    without: list[BookingLine]
    to_order: list[tuple[ReorderLine, str]]
    night: NightlyRun | None
    address: str

    @property
    def night_failed(self) -> bool:
        """Whether last night's work is not to be relied on."""
        return self.night is None or self.night.ended_at is None or bool(self.night.error)


def morning_of(site: Site, now: datetime) -> Morning:
    """What is to be said this morning."""
    day = day_of(now, site.time_zone)
    bench = bench_day(site, day, now)
    bows = list(Bow.objects.filter(site=site, retirement=None).select_related("site", "spec_sheet").order_by("tag"))
    verdicts = verdicts_of(bows, now)
    shelf = shelf_of(site, now)
    soon = [line for line in shelf.to_order if line.order.order_by <= day + ORDER_WITHIN]
    keep_up(site, now)
    guests = guests_ahead(site, now, GUESTS_DAYS)
    return Morning(
        site=site,
        day=day,
        bench=bench,
        held=[(bow, verdicts[bow.pk]) for bow in bows if not verdicts[bow.pk].may_go],
        without=[line for line in guests.lines if line.without or line.promise_breaks],
        to_order=[(line, format_length(line.spec.length_m, Units(site.units))) for line in soon],
        night=last_run(site),
        address=settings.PUBLIC_URL,
    )


def subject_and_text(wish: DigestWish, now: datetime) -> tuple[str, str]:
    """The mail's subject and plain text, in the wish's language and in the site's time zone and units."""
    with translation.override(wish.language), timezone.override(wish.site.time_zone):
        morning = morning_of(wish.site, now)
        count = len(morning.bench.orders) + len(morning.bench.planned)
        jobs = ngettext("%(count)d job", "%(count)d jobs", count) % {"count": count}
        held = _("%(count)d held") % {"count": len(morning.held)}
        subject = f"{wish.site}, {date_format(morning.day, 'l j F')}: {jobs}, {held}"
        text = render_to_string("mail/morning.txt", {"morning": morning, "wish": wish})
    # Template tags leave runs of blank lines behind.
    lines: list[str] = []
    for line in text.splitlines():
        if line.strip() or (lines and lines[-1]):
            lines.append(line.rstrip())
    return " ".join(subject.split()), "\n".join(lines) + "\n"
