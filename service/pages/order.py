"""One order at the bench: enter, sign, release, cancel."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render

from fleet.models import MeasuringTool, SignedResult
from fleet.refusal import Refused
from fleet.vocabulary import Finding, RemovalReason, Role
from service.models import OrderStatus, WorkOrder
from service.orders import close, work
from service.pages.access import Here, order_of, page
from service.pages.order_form import OrderForm, form_of


@page(Role.TECHNICIAN)
def order(request: HttpRequest, here: Here, number: str) -> HttpResponseBase:
    """Show an order, or do what its buttons say."""
    one = order_of(here, number)
    if request.method != "POST":
        return _show(request, one, form_of(one))
    now, action = datetime.now(UTC), request.POST.get("action", "save")
    form = form_of(one, request.POST)
    try:
        if action in ("save", "sign"):
            _keep(request, here, one, form, now)
            if form.errors:
                return _show(request, one, form)
        if action == "sign":
            close.sign(one, by=here.person, now=now)
            messages.success(request, f"{one.number} is signed. The bow stays on the bench until it is released.")
        elif action == "release":
            close.release(one, by=here.person, now=now)
            messages.success(request, f"{one.bow.tag} is released: it may go out again.", extra_tags="good")
        elif action == "cancel":
            work.cancel(one, by=here.person, why=request.POST.get("why", ""), now=now)
        elif action == "save":
            messages.success(request, "Kept.")
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return _show(request, one, form)
    return redirect("order", number=number)


def _keep(request: HttpRequest, here: Here, one: WorkOrder, form: OrderForm, now: datetime) -> None:
    """Keep what can be read, even when another field is wrong."""
    work.enter(
        one,
        by=here.person,
        now=now,
        readings=form.readings,
        cords=form.typed_cords,
        steps_done=[int(step) for step in request.POST.getlist("step") if step.isdigit()],
        note=request.POST.get("note", ""),
    )


def _show(request: HttpRequest, one: WorkOrder, form: OrderForm) -> HttpResponseBase:
    one.refresh_from_db()
    content = {
        "order": one,
        "form": form,
        "steps": [(i, text, i in one.steps_done) for i, text in enumerate(one.frozen["steps"])],
        "tools": MeasuringTool.objects.filter(site=one.site).exclude(kind="logger"),
        "reasons": RemovalReason.choices,
        "findings": Finding.choices,
        "still_open": close.what_is_open(one) if one.status == OrderStatus.IN_WORK else [],
        "critical": close.is_critical(one),
        "result": SignedResult.objects.filter(order_number=one.number).first(),
        "editable": one.status in (OrderStatus.ISSUED, OrderStatus.IN_WORK),
    }
    return render(request, "bench/order.html", content)
