"""The day's queue: what is planned and issued, printing it, issuing an order for one bow."""

from datetime import UTC, date, datetime, timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from fleet.models import Bow, Person
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service import schedule
from service.models import WorkOrder
from service.orders.day import bench_day
from service.orders.issue import issue_day, issue_now, orders_of
from service.orders.paper import cover_of, sheet_of
from service.pages.access import Here, bow_page, order_page, page
from service.printing.pdf import render_order, render_queue

ONE_DAY = timedelta(days=1)
FURTHEST_DAYS = 366


def _day(request: HttpRequest, here: Here, now: datetime) -> date:
    """The day asked for, or today at the site."""
    today = schedule.today_at(here.site, now)
    given = request.GET.get("day") or request.POST.get("day")
    if not given:
        return today
    try:
        day = date.fromisoformat(given)
    except ValueError as problem:
        raise Http404(_("%(given)s is not a day: write it as YYYY-MM-DD.") % {"given": given[:40]}) from problem
    if abs((day - today).days) > FURTHEST_DAYS:
        raise Http404(_("%(given)s is more than a year away: choose a nearer day.") % {"given": given})
    return day


@page(Role.TECHNICIAN)
def queue(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The orders of a day in the order of work, and the planned jobs that have none yet."""
    now = datetime.now(UTC)
    day = _day(request, here, now)
    bench = bench_day(here.site, day, now)
    content = {
        "bench": bench,
        "technicians": _technicians(bench.orders),
        "today": schedule.today_at(here.site, now),
        "before": day - ONE_DAY,
        "after": day + ONE_DAY,
    }
    return render(request, "bench/queue.html", content)


def _technicians(orders: list[WorkOrder]) -> list[Person]:
    """Who has orders that day, in the order of the list."""
    return list(dict.fromkeys(order.technician for order in orders if order.technician is not None))


@require_POST
@page(Role.TECHNICIAN)
def issue(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Issue the day's orders; with `print`, go on to their paper at once."""
    now = datetime.now(UTC)
    day = _day(request, here, now)
    try:
        count = len(issue_day(here.site, day, by=here.person, now=now))
        messages.success(
            request,
            ngettext("%(count)d order is issued for this day.", "%(count)d orders are issued for this day.", count)
            % {"count": count},
            extra_tags="good",
        )
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    else:
        if count and "print" in request.POST:
            return redirect(f"{reverse('queue-pdf')}?day={day}")
    return redirect(f"{reverse('queue')}?day={day}")


@require_POST
@bow_page(Role.TECHNICIAN)
def issue_order(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Issue an order for one bow today."""
    now = datetime.now(UTC)
    try:
        order = issue_now(bow, day=schedule.today_at(bow.site, now), by=here.person, now=now, technician=here.person)
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return redirect("bow", tag=bow.tag)
    return redirect("order", number=order.number)


@page(Role.TECHNICIAN)
def queue_pdf(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The day's issued orders on paper, in the order of work: all, those of one technician, or the chosen few."""
    now = datetime.now(UTC)
    day = _day(request, here, now)
    orders = _to_print(request, orders_of(here.site, day))
    if not orders:
        told = _("Nothing to print: no order is issued on this day.")
        if "chosen" in request.GET or "technician" in request.GET:
            told = _("Nothing to print: tick the orders that are wanted on paper, or print all.")
        messages.error(request, told, extra_tags="stop")
        return redirect(f"{reverse('queue')}?day={day}")
    pdf = render_queue(
        cover_of(here.site, day, orders, now),
        [sheet_of(order) for order in orders],
        _paper(request, here),
    )
    return _as_pdf(pdf, f"queue-{here.site.code}-{day}.pdf")


def _to_print(request: HttpRequest, orders: list[WorkOrder]) -> list[WorkOrder]:
    """Of a day's orders those that are asked for; the order of work stays as it is."""
    if "chosen" in request.GET:
        wanted = set(request.GET.getlist("order"))
        return [order for order in orders if order.number in wanted]
    who = request.GET.get("technician")
    if who is not None:
        return [order for order in orders if order.technician is not None and order.technician.username == who]
    return orders


@order_page(Role.TECHNICIAN)
def order_pdf(request: HttpRequest, here: Here, order: WorkOrder) -> HttpResponseBase:
    """One order on paper."""
    pdf = render_order(sheet_of(order), timezone.localtime(), _paper(request, here))
    return _as_pdf(pdf, f"{order.number}.pdf")


def _paper(request: HttpRequest, here: Here) -> str:
    wanted = request.GET.get("paper", "")
    return wanted if wanted in ("letter", "a4") else here.site.paper


def _as_pdf(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
