"""What if: the plan as it stands beside the plan on changed inputs. Nothing is saved unless asked."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import SupplierOrder
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service import decide, schedule
from service.pages.access import Here, page
from service.planning.comparison import Answer, Change, Side, compare, week_from
from service.planning.other_conditions import MOST_WARMER_C, Conditions
from service.planning.standing_draft import STALE_AT_ONCE, is_quick
from service.planning.told import draft_of
from service.planning.what_ifs import Question, Standing, ask
from service.tasks import answer_what_if
from service.units import Dimension, Units, difference_from_si, difference_to_si, symbol, unit_shown

MORE_USE_PERCENT, WARMER_C, LATE_DAYS = 30, 5, 7


@page(Role.MANAGER)
def what_if(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The form, and both plans side by side once something is asked."""
    now = datetime.now(UTC)
    decide.refresh_stale(now, at_most=STALE_AT_ONCE)
    today = schedule.today_at(here.site, now)
    draft = draft_of(here.site)
    days = schedule.DEFAULT_DAYS if draft is None else draft.days
    standing, problem, change = None, "", Change()
    try:
        change = change_asked(request, here)
        if request.GET.get("ask"):
            standing = _asked(here, Question(today, days, change), now, anew=bool(request.GET.get("anew")))
            problem = standing.problem
    except ValueError as wrong:
        change, problem = Change(), str(wrong)
    return render(request, "desk/what_if.html", _content(request, here, today, days, change, standing, problem))


def _asked(here: Here, question: Question, now: datetime, *, anew: bool) -> Standing:
    """The answer, if the site needs little enough to solve it while somebody waits; else as far as the queue is."""
    if is_quick(here.site, question.first_day + timedelta(days=question.days)):
        found = compare(here.site, question.first_day, question.days, question.change, now)
        return Standing(now, now, found, "")
    return ask(here.site, question, now, lambda pk: answer_what_if.apply_async((pk,), retry=False), anew=anew)


def _content(
    request: HttpRequest,
    here: Here,
    today: date,
    days: int,
    change: Change,
    standing: Standing | None,
    problem: str,
) -> dict[str, object]:
    first, last = week_from(today + timedelta(days=1))
    found = None if standing is None else standing.answer
    return {
        "standing": standing,
        "found": found,
        "rows": [] if found is None else rows_of(found, here.site.currency),
        "change": change,
        "problem": problem,
        "days": days,
        "use": request.GET.get("use", MORE_USE_PERCENT),
        "warmer": request.GET.get("warmer", 0),
        "away": request.GET.get("away", ""),
        "away_from": request.GET.get("away_from", first.isoformat()),
        "away_to": request.GET.get("away_to", last.isoformat()),
        "late": request.GET.get("late", ""),
        "late_days": request.GET.get("late_days", LATE_DAYS),
        "people": schedule.bench_people(here.site),
        "orders": open_orders(here),
        "degrees": symbol(_degrees(here)),
        "hotter": round(difference_from_si(WARMER_C, _degrees(here))),
        "most_warmer": round(difference_from_si(MOST_WARMER_C, _degrees(here))),
    }


def _degrees(here: Here) -> str:
    """The scale that the site reads."""
    return unit_shown(Dimension.TEMPERATURE, Units(here.site.units))


@dataclass(frozen=True)
class Row:
    """One figure of both plans, as shown."""

    name: str
    now: str
    then: str


def rows_of(found: Answer, currency: str) -> list[Row]:
    """Both plans in figures."""

    def row(name: str, figure: Callable[[Side], float], digits: int = 0, unit: str = "") -> Row:
        now, then = (
            f"{number_format(figure(side), digits, use_l10n=True, force_grouping=True)} {unit}".strip()
            for side in (found.now, found.then)
        )
        return Row(name, now, then)

    return [
        row(_("Cost of the plan"), lambda side: side.objective, 2, currency),
        row(_("Needs that may be done"), lambda side: side.needs),
        row(_("On a day"), lambda side: side.placed),
        row(_("Without a day, and due"), lambda side: side.unplaced),
        row(_("Sets changed"), lambda side: side.replacements),
        row(_("Cords used"), lambda side: side.cords),
        row(_("Cords to order"), lambda side: side.orders),
        row(_("Cost of the orders"), lambda side: side.orders_cost, 2, currency),
        row(_("Bench load"), lambda side: side.load_percent, 0, "%"),
        row(_("Days that bows stay in"), lambda side: side.risk.held_days),
        row(_("Hire lost by that"), lambda side: side.risk.rental_lost, 2, currency),
        row(_("Chance of a condemned cord before its job"), lambda side: side.risk.condemned_percent, 1, "%"),
    ]


def open_orders(here: Here) -> list[str]:
    """Cord specs with cords on order at the site, by code."""
    due = SupplierOrder.objects.filter(site=here.site, received_at=None, cancelled_at=None)
    return sorted(set(due.values_list("cord_spec__code", flat=True)))


def change_asked(request: HttpRequest, here: Here) -> Change:
    """The change as it was typed. ValueError names the value and the range."""
    data = request.GET if request.method == "GET" else request.POST
    use = _number(data.get("use", "") or "0", _("use"))
    warmer = _warmer(data.get("warmer", "") or "0", _degrees(here))
    away = None
    if data.get("away"):
        first, last = _day(data.get("away_from", "")), _day(data.get("away_to", ""))
        if last < first:
            raise ValueError(_("the absence ends on %(last)s before it begins: swap the days.") % {"last": last})
        away = (data["away"], first, last)
    late = (data["late"], int(_number(data.get("late_days", ""), _("days late")))) if data.get("late") else None
    return Change(Conditions(1.0 + use / 100.0, warmer), away, late)


def _warmer(given: str, scale: str) -> float:
    """In degC; typed and refused in the site's own degrees."""
    warmer, most = _number(given, _("degrees")), difference_from_si(MOST_WARMER_C, scale)
    if not abs(warmer) <= most:
        told = {"given": f"{warmer:g}", "unit": symbol(scale), "most": f"{most:g}"}
        raise ValueError(
            _("%(given)s %(unit)s warmer; allowed are -%(most)s to %(most)s %(unit)s: give another difference.") % told
        )
    return difference_to_si(warmer, scale)


def _number(given: str, what: str) -> float:
    try:
        return float(given)
    except ValueError as problem:
        raise ValueError(_("%(what)s “%(given)s” is not a number.") % {"what": what, "given": given[:20]}) from problem


def _day(given: str) -> date:
    try:
        return date.fromisoformat(given)
    except ValueError as problem:
        raise ValueError(_("“%(given)s” is not a day: write it as YYYY-MM-DD.") % {"given": given[:20]}) from problem


@require_POST
@page(Role.MANAGER)
def enter(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Enter the absence or the later delivery that was only asked about: from then on it is a fact."""
    try:
        change = change_asked(request, here)
        if change.away is not None:
            _enter_absence(here, *change.away)
            messages.success(request, _("The absence is entered."), extra_tags="good")
        if change.late is not None:
            count = _enter_delay(here, *change.late)
            messages.success(
                request, _("%(count)d deliveries are expected later.") % {"count": count}, extra_tags="good"
            )
    except (Refused, ValueError) as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("outlook")


def _enter_absence(here: Here, who: str, first: date, last: date) -> None:
    person = next((one for one in schedule.bench_people(here.site) if one.username == who), None)
    if person is None:
        raise Refused(_("%(who)s is not at this bench: choose somebody who is.") % {"who": who[:40]})
    record.add_absence(by=here.person, person=person, first_day=first, last_day=last)


def _enter_delay(here: Here, code: str, days: int) -> int:
    due = SupplierOrder.objects.filter(site=here.site, received_at=None, cancelled_at=None, cord_spec__code=code)
    orders = list(due.select_related("cord_spec"))
    for order in orders:
        record.put_supplier_order(
            by=here.person,
            site=here.site,
            cord_spec=order.cord_spec,
            reference=order.reference,
            quantity=order.quantity,
            ordered_on=order.ordered_on,
            expected_on=order.expected_on + timedelta(days=days),
        )
    return len(orders)
