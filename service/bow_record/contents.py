"""A bow's whole record as plain sections to print: words and numbers in the site's units and zone.

What a record of work must tell is modelled on 14 CFR 43.9 (a) (work done, day, who performed it, who approved the
return to service) and 91.417 (a) (time in service, state of life-limited parts, of inspections and of directives).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Count, Sum
from django.db.models.functions import TruncMonth
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Bow, Fitting, SignedResult
from fleet.vocabulary import MeasurementKind, Position
from service.models import CordWear
from service.orders.wording import label, measured
from service.templatetags.bench import whereabouts
from service.units import Units
from service.verdicts import verdict_of
from service.wording import worded

NONE = "–"
Row = tuple[str, ...]


@dataclass(frozen=True)
class Section:
    """A titled table; the columns' shares of the width; what stands there if it has no row."""

    title: str
    head: Row
    shares: tuple[float, ...]
    rows: tuple[Row, ...]
    empty: str = ""


@dataclass(frozen=True)
class BowRecord:
    """Everything about one bow, for paper."""

    tag: str
    about: str
    shop: str
    stands: str
    sections: tuple[Section, ...]
    made_at: datetime


def contents_of(bow: Bow, now: datetime) -> BowRecord:
    """The record of a bow as of now."""
    teller = _Teller(bow)
    told = {"where": whereabouts(lookups.state_of(bow)), "word": verdict_of(bow, now).word}
    return BowRecord(
        tag=bow.tag,
        about=f"{bow.spec_sheet}, {bow.get_hand_display()}, {_('serial')} {bow.serial or NONE}",
        shop=bow.site.name,
        stands=_("%(where)s; may it go out: %(word)s") % told,
        sections=tuple(teller.sections()),
        made_at=now.astimezone(ZoneInfo(bow.site.time_zone)),
    )


class _Teller:
    """Tells the tables of one bow in its site's zone and units."""

    def __init__(self, bow: Bow) -> None:
        self.bow = bow
        self.zone = ZoneInfo(bow.site.time_zone)
        self.units = Units(bow.site.units)

    def sections(self) -> Iterable[Section]:
        yield self._set_ups()
        yield self._cords()
        yield self._references()
        yield from self._results()
        yield self._holds()
        yield self._incidents()
        yield self._notices()
        yield self._deferrals()
        yield self._shots()
        yield self._hires()
        yield self._checks()
        yield self._heat()

    def _at(self, moment: datetime | None) -> str:
        return NONE if moment is None else date_format(moment.astimezone(self.zone), "Y-m-d H:i")

    def _measured(self, kind: str, value: float | None) -> str:
        return NONE if value is None else measured(kind, value, self.units)

    def _set_ups(self) -> Section:
        rows = [
            (
                self._at(one.since),
                self._measured(MeasurementKind.DRAW_LENGTH, one.draw_length_m),
                self._measured(MeasurementKind.PEAK_WEIGHT, one.peak_weight_n),
            )
            for one in self.bow.set_ups.all()
        ]
        return Section(_("Set up to"), (_("Since"), _("Draw length"), _("Peak weight")), (2, 2, 2), tuple(rows))

    def _cords(self) -> Section:
        """Life-limited parts: what is on it and was on it, with the life of those on it."""
        wear = {one.fitting_id: one for one in CordWear.objects.filter(fitting__bow=self.bow)}
        fittings = self.bow.fittings.select_related("cord__spec", "fitted_by").order_by("position", "-fitted_at")
        rows = [self._cord(one, wear.get(one.pk)) for one in fittings]
        head = (_("Cord"), _("Spec, serial, lot"), _("Fitted"), _("Removed"), _("Why, or life used and replace by"))
        return Section(_("Cords"), head, (2, 4, 2.4, 2.4, 4), tuple(rows))

    def _cord(self, one: Fitting, wear: CordWear | None) -> Row:
        if one.removed_at is not None:
            finding = f": {one.get_finding_display()}" if one.finding else ""
            end = f"{one.get_removed_why_display()}{finding}"
        elif wear is None:
            end = _("wear not computed yet")
        else:
            by = _("no date") if wear.replace_on is None else wear.replace_on.isoformat()
            end = _("%(life).2f of rated life (estimate); replace by %(by)s") % {"life": wear.life_used, "by": by}
            if wear.assumed:
                end = _("%(told)s; rests on assumed values") % {"told": end}
        lot = f", {_('lot')} {one.cord.lot}" if one.cord.lot else ""
        named = f"{one.cord.spec.code}, {one.cord.serial}{lot}"
        return (one.get_position_display(), named, self._at(one.fitted_at), self._at(one.removed_at), end)

    def _references(self) -> Section:
        current = lookups.current_reference_set(self.bow)
        measurements = [] if current is None else list(current.measurements.select_related("tool"))
        rows = [
            (
                label(one.kind, one.position),
                self._measured(one.kind, one.value),
                f"± {self._measured(one.kind, one.tolerance)}",
                one.tool.code if one.tool else NONE,
            )
            for one in measurements
        ]
        title = _("Reference measurements")
        if current is not None:
            told = {"number": current.version, "who": current.taken_by, "when": self._at(current.taken_at)}
            title = _("Reference measurements, version %(number)s, %(who)s, %(when)s") % told
        head = (_("Measurement"), _("Reference"), _("In service"), _("Tool"))
        return Section(title, head, (4, 2, 2, 2), tuple(rows), _("None on record."))

    def _results(self) -> Iterable[Section]:
        results = self.bow.results.select_related("performed_by", "released_by").order_by("-signed_at")
        for one in results.prefetch_related("measurements__tool"):
            yield self._result(one)

    def _result(self, one: SignedResult) -> Section:
        """One maintenance entry: what was done, what was measured, who did it, who released it."""
        rows = self._signatures(one)
        rows += [(_("work"), item.get("reason", ""), "", "") for item in one.work]
        for cord in one.cords_changed:
            changed = f"{cord.get('old_serial') or NONE} -> {cord.get('new_serial') or NONE}"
            rows.append((_("changed"), f"{Position(cord['position']).label}: {changed}", "", ""))
        for measurement in one.measurements.all():
            tool = measurement.tool.code if measurement.tool else NONE
            overdue = f" ({_('overdue for calibration')})" if measurement.tool_overdue else ""
            rows.append(
                (
                    label(measurement.kind, measurement.position),
                    self._measured(measurement.kind, measurement.as_found),
                    self._measured(measurement.kind, measurement.as_left),
                    f"{tool}{overdue}",
                )
            )
        if one.note:
            rows.append((_("note"), one.note, "", ""))
        title = _("Order %(order)s") % {"order": one.order_number}
        return Section(title, ("", _("As found, or what"), _("As left"), _("Tool")), (3.4, 5, 2, 2.6), tuple(rows))

    def _signatures(self, one: SignedResult) -> list[Row]:
        released = f"{one.released_by}, {self._at(one.released_at)}" if one.released_by else _("not released")
        return [
            (_("performed by"), f"{one.performed_by}, {self._at(one.signed_at)}", "", ""),
            (_("released by"), released, "", ""),
        ]

    def _holds(self) -> Section:
        rows = [
            (
                self._at(one.since),
                one.get_reason_display(),
                worded(one.detail),
                str(one.by),
                f"{self._at(one.released.at)}, {one.released.by}" if one.released else _("open"),
            )
            for one in self.bow.holds.select_related("by", "released__by").order_by("-since")
        ]
        head = (_("Since"), _("Reason"), _("Why"), _("Held by"), _("Released"))
        return Section(_("Holds"), head, (2.2, 2, 4, 2, 3), tuple(rows), _("Never held."))

    def _incidents(self) -> Section:
        rows = [
            (self._at(one.happened_at), one.get_kind_display(), one.note or NONE, str(one.reported_by))
            for one in self.bow.incidents.select_related("reported_by").order_by("-happened_at")
        ]
        head = (_("When"), _("What"), _("Note"), _("Reported by"))
        return Section(_("Incidents"), head, (2, 2, 5, 2), tuple(rows), _("None reported."))

    def _notices(self) -> Section:
        rows = [
            (
                one.notice.issued_on.isoformat(),
                one.notice.title,
                f"{one.answer}, {one.answered_by}, {self._at(one.answered_at)}" if one.answered_at else _("open"),
            )
            for one in self.bow.notices.select_related("notice", "answered_by").order_by("-notice__issued_on")
        ]
        head = (_("Issued"), _("Notice"), _("Answer"))
        return Section(_("Notices"), head, (2, 4, 5), tuple(rows), _("None matches it."))

    def _deferrals(self) -> Section:
        rows = [
            (self._at(one.at), one.need_kind.replace("_", " "), one.until.isoformat(), one.why, str(one.by))
            for one in self.bow.deferrals.select_related("by").order_by("-at")
        ]
        head = (_("Written"), _("Need"), _("Until"), _("Why"), _("By"))
        return Section(_("Put off in writing"), head, (2, 2, 2, 4, 2), tuple(rows), _("Nothing was put off."))

    def _shots(self) -> Section:
        """Time in service: shots by month, and their sum."""
        counted = self.bow.shots.filter(superseded_at=None)
        months = (
            counted.annotate(month=TruncMonth("start", tzinfo=self.zone))
            .values("month")
            .annotate(shots=Sum("count"), entries=Count("pk"))
            .order_by("-month")
        )
        rows = [(f"{one['month']:%Y-%m}", str(one["shots"]), str(one["entries"])) for one in months]
        total = sum(one["shots"] for one in months)
        title = _("Shots on record: %(total)s, since %(day)s") % {"total": total, "day": self._day_in_service()}
        return Section(title, (_("Month"), _("Shots"), _("Entries")), (2, 2, 2), tuple(rows), _("None."))

    def _day_in_service(self) -> str:
        day: date = self.bow.in_service_on
        return day.isoformat()

    def _hires(self) -> Section:
        rows = [
            (self._at(one.out_at), self._at(one.back_at), one.reference, str(one.out_by), str(one.back_by or NONE))
            for one in self.bow.hires.select_related("out_by", "back_by").order_by("-out_at")
        ]
        head = (_("Out"), _("Back"), _("Booking"), _("Handed out by"), _("Taken back by"))
        return Section(_("Hires"), head, (2, 2, 2, 2, 2), tuple(rows), _("Never hired out."))

    def _checks(self) -> Section:
        rows = [
            (self._at(one.at), one.get_verdict_display(), str(one.by))
            for one in self.bow.turnarounds.select_related("by").order_by("-at")
        ]
        title = _("Checks between guests")
        return Section(title, (_("When"), _("Verdict"), _("By")), (2, 2, 2), tuple(rows), _("None on record."))

    def _heat(self) -> Section:
        stays = [
            (self._at(one.start), self._at(one.end), one.place.name)
            for one in self.bow.stays.select_related("place").order_by("-start")
        ]
        parked = [
            (self._at(one.start), self._at(one.end), _("parked in a vehicle"))
            for one in self.bow.parkings.order_by("-start")
        ]
        rows = sorted((*stays, *parked), reverse=True)
        return Section(
            _("Where it was kept"), (_("From"), _("Until"), _("Place")), (2, 2, 4), tuple(rows), _("Not told.")
        )
