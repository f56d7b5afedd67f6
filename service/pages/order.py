"""One order at the bench: enter, sign, release, cancel."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.models import MeasuringTool, SignedResult
from fleet.refusal import Refused
from fleet.vocabulary import Finding, RemovalReason, Role
from service.models import OrderStatus, WorkOrder
from service.orders import close, more_work, work
from service.pages.access import Here, order_page
from service.pages.order_form import OrderForm, form_of
from service.pages.readings_say import readings_say

ADD = "add-"
"""What the buttons that widen an order begin with; a case's name follows."""
EDITABLE = (OrderStatus.ISSUED, OrderStatus.IN_WORK)


@order_page(Role.TECHNICIAN)
def order(request: HttpRequest, here: Here, order: WorkOrder) -> HttpResponseBase:
    """Show an order, or do what its buttons say."""
    if request.method != "POST":
        return _show(request, here, order, form_of(order))
    now, action = datetime.now(UTC), request.POST.get("action", "save")
    form = form_of(order, request.POST if order.status in EDITABLE else None)
    try:
        if action in ("save", "sign") or action.startswith(ADD):
            _keep(here, order, form, now)
            if form.slips:
                return _show(request, here, order, form)
        _act(request, here, order, action, form, now)
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return _show(request, here, order, form)
    return redirect("order", number=order.number)


@require_POST
@order_page(Role.TECHNICIAN)
def live(request: HttpRequest, here: Here, order: WorkOrder) -> HttpResponseBase:
    """What the readings typed so far say; nothing is kept, and no field on the page is touched."""
    form = form_of(order, request.POST)
    content = {"order": order, "form": form, "say": readings_say(order, form), "is_live": True}
    return render(request, "bench/live.html", content)


def _keep(here: Here, order: WorkOrder, form: OrderForm, now: datetime) -> None:
    """Keep what can be read, even when another field is wrong."""
    work.enter(
        order,
        by=here.person,
        now=now,
        readings=form.readings,
        cords=form.typed_cords,
        steps_done=form.steps_done,
        note=form.note,
    )


def _act(request: HttpRequest, here: Here, order: WorkOrder, action: str, form: OrderForm, now: datetime) -> None:
    """Call the verb of a button and say what it did."""
    names = {"number": order.number, "tag": order.bow.tag}
    if action == "sign":
        close.sign(order, by=here.person, now=now)
        told = _("%(number)s is signed. The bow stays on the bench until it is released.") % names
    elif action == "release":
        close.release(order, by=here.person, now=now)
        told = _("%(tag)s is released under %(number)s.") % names
    elif action == "cancel":
        work.cancel(order, by=here.person, why=form.why, now=now)
        told = _("%(number)s is cancelled. What holds the bow still holds it.") % names
    elif action.startswith(ADD):
        more_work.add(order, action.removeprefix(ADD), by=here.person, now=now)
        told = _("Kept. The steps below are now those of this work too, and everything is measured again at the end.")
    elif action == "save":
        told = _("Kept.")
    else:
        raise Refused(
            _("'%(action)s' is not something an order can do: reload the page and press one of its buttons.")
            % {"action": action}
        )
    messages.success(request, told, extra_tags="good")


def _show(request: HttpRequest, here: Here, order: WorkOrder, form: OrderForm) -> HttpResponseBase:
    order.refresh_from_db(fields=["status"])
    result = (
        SignedResult.objects.filter(order_number=order.number).select_related("performed_by", "released_by").first()
    )
    editable = order.status in EDITABLE
    content = {
        "order": order,
        "form": form,
        "say": readings_say(order, form) if editable else None,
        "tools": MeasuringTool.objects.filter(site=order.site).exclude(kind="logger"),
        "reasons": RemovalReason.choices,
        "findings": Finding.choices,
        "more_work": more_work.left_to_add(order) if editable else {},
        "still_open": close.what_is_open(order) if order.status == OrderStatus.IN_WORK else [],
        "critical": close.is_critical(order),
        "result": result,
        "own_work": result is not None and result.performed_by_id == here.person.pk,
        "editable": editable,
        "statuses": [status for status in OrderStatus if status != OrderStatus.CANCELLED],
        "imperial": order.site.units == "imperial",
    }
    return render(request, "bench/order.html", content, status=422 if form.slips else 200)
