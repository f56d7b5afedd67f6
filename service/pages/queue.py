"""The day's queue: what is planned and issued, printing it, issuing an order for one bow."""

from datetime import UTC, date, datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from fleet.refusal import Refused
from fleet.vocabulary import Role
from service import decide, schedule
from service.orders.issue import issue_day, issue_now, orders_of, plan_for
from service.orders.paper import cover_of, sheet_of
from service.pages.access import Here, bow_of, order_of, page
from service.printing.pdf import render_order, render_queue


def _day(request: HttpRequest, here: Here, now: datetime) -> date:
    given = request.GET.get("day") or request.POST.get("day")
    if not given:
        return schedule.today_at(here.site, now)
    try:
        return date.fromisoformat(given)
    except ValueError as problem:
        raise Http404(f"{given} is not a day; write it as YYYY-MM-DD.") from problem


@page(Role.TECHNICIAN)
def queue(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The orders of a day in the order of work, and the planned jobs that have none yet."""
    now = datetime.now(UTC)
    decide.refresh_stale(now)
    day = _day(request, here, now)
    orders = orders_of(here.site, day)
    with_order = {order.bow_id for order in orders}
    plan = plan_for(here.site, day, now)
    planned = plan.jobs.filter(day=day).select_related("bow__spec_sheet", "technician")
    content = {
        "day": day,
        "orders": orders,
        "planned": [job for job in planned if job.bow_id not in with_order],
        "unplaced": plan.unplaced.select_related("bow"),
        "minutes": sum(order.minutes for order in orders),
        "people": [(person, schedule.minutes_on(person, day)) for person in schedule.bench_people(here.site)],
    }
    return render(request, "bench/queue.html", content)


@require_POST
@page(Role.TECHNICIAN)
def issue(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Issue the day's orders."""
    now = datetime.now(UTC)
    day = _day(request, here, now)
    issued = issue_day(here.site, day, by=here.person, now=now)
    messages.success(request, f"{len(issued)} orders on {day}.")
    return redirect(f"{reverse('queue')}?day={day}")


@require_POST
@page(Role.TECHNICIAN)
def issue_order(request: HttpRequest, here: Here, tag: str) -> HttpResponseBase:
    """Issue an order for one bow today."""
    now = datetime.now(UTC)
    bow = bow_of(here, tag, Role.TECHNICIAN)
    try:
        order = issue_now(bow, day=schedule.today_at(bow.site, now), by=here.person, now=now, technician=here.person)
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return redirect("bow", tag=tag)
    return redirect("order", number=order.number)


@page(Role.TECHNICIAN)
def queue_pdf(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The day's issued orders on paper."""
    now = datetime.now(UTC)
    day = _day(request, here, now)
    orders = orders_of(here.site, day)
    pdf = render_queue(
        cover_of(here.site, day, orders, now),
        [sheet_of(order) for order in orders],
        _paper(request, here),
    )
    return _as_pdf(pdf, f"queue-{here.site.code}-{day}.pdf")


@page(Role.TECHNICIAN)
def order_pdf(request: HttpRequest, here: Here, number: str) -> HttpResponseBase:
    """One order on paper."""
    order = order_of(here, number)
    pdf = render_order(sheet_of(order), datetime.now(UTC), _paper(request, here))
    return _as_pdf(pdf, f"{order.number}.pdf")


def _paper(request: HttpRequest, here: Here) -> str:
    wanted = request.GET.get("paper", "")
    return wanted if wanted in ("letter", "a4") else here.site.paper


def _as_pdf(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
