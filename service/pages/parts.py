"""Parts: what is on the shelf, what the plan takes, what is on its way; movements and supplier orders."""

from datetime import UTC, datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import StockMovement, SupplierOrder
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service.export import Format
from service.pages.access import Here, page
from service.pages.due import as_file, format_named
from service.pages.parts_form import MovementForm, SupplierOrderForm, empty_movement, empty_order
from service.pages.views import views_of
from service.printing.pdf_reorder import render_reorder
from service.stock.reorder import grouped, reorder_csv
from service.stock.shelf import PartLine, Shelf, open_orders, shelf_of

MOVEMENTS_SHOWN = 30
PARTS_COLUMNS = (
    "cord_spec", "maker", "position", "on_the_shelf", "at_the_bench", "planned", "on_order", "next_arrival",
    "at_the_plans_end", "reorder_point", "lead_days", "price", "currency",
)  # fmt: skip


@page(Role.TECHNICIAN)
def parts(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every cord spec of the site with its stock."""
    return _show(request, here, datetime.now(UTC))


def _show(
    request: HttpRequest,
    here: Here,
    now: datetime,
    movement: MovementForm | None = None,
    order: SupplierOrderForm | None = None,
) -> HttpResponseBase:
    """The page; with a form that was refused, it stands open with what is wrong."""
    shelf = shelf_of(here.site, now)
    only_low = request.GET.get("show") == "low"
    content = {
        "shelf": shelf,
        "lines": _narrowed(request, shelf),
        "views": views_of(request, here, "parts"),
        "formats": list(Format),
        "low_count": sum(line.is_low for line in shelf.lines),
        "only_low": only_low,
        "orders": open_orders(here.site),
        "movement": movement or empty_movement(now, here.site.time_zone),
        "order": order or empty_order(now, here.site.time_zone),
    }
    refused = movement is not None or order is not None
    return render(request, "stock/parts.html", content, status=422 if refused else 200)


def _narrowed(request: HttpRequest, shelf: Shelf) -> list[PartLine]:
    return [line for line in shelf.lines if line.is_low or request.GET.get("show") != "low"]


@page(Role.TECHNICIAN)
def parts_file(request: HttpRequest, here: Here, format: str) -> HttpResponseBase:
    """The list as it is narrowed, as a file."""
    kind = format_named(format)
    shelf = shelf_of(here.site, datetime.now(UTC))
    rows = (
        (
            line.spec.code, line.spec.maker, line.spec.position, line.on_hand, line.begun, line.reserved, line.on_order,
            line.next_arrival, line.at_end, line.spec.reorder_point, line.spec.lead_days, float(line.spec.price),
            here.site.currency,
        )
        for line in _narrowed(request, shelf)
    )  # fmt: skip
    return as_file(kind, f"parts-{here.site.code}-{shelf.today}", PARTS_COLUMNS, rows)


@page(Role.TECHNICIAN)
def part(request: HttpRequest, here: Here, code: str) -> HttpResponseBase:
    """One cord spec: its stock day by day under the plan, and what moved."""
    now = datetime.now(UTC)
    shelf = shelf_of(here.site, now)
    line = shelf.line_of(code)
    if line is None:
        raise Http404(_("%(site)s has no cord %(code)s.") % {"site": here.site, "code": code[:40]})
    moved = StockMovement.objects.filter(site=here.site, cord_spec=line.spec).select_related("by")
    content = {
        "shelf": shelf,
        "line": line,
        "days": [day for day in line.run if day.used or day.arrived],
        "movements": moved.order_by("-at", "-pk")[:MOVEMENTS_SHOWN],
        "orders": [one for one in open_orders(here.site) if one.cord_spec_id == line.spec.pk],
        "to_order": [one for one in shelf.to_order if one.spec == line.spec],
        "movement": empty_movement(now, here.site.time_zone, code),
    }
    return render(request, "stock/part.html", content)


@require_POST
@page(Role.TECHNICIAN)
def move(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Enter a movement."""
    now, form = datetime.now(UTC), MovementForm(request.POST, prefix="movement")
    if form.is_valid():
        given = form.cleaned_data
        try:
            record.move_stock(by=here.person, site=here.site, now=now, **given)
        except Refused as problem:
            form.add_error(None, str(problem))
        else:
            _tell(request, _("%(code)s: the movement is in the book.") % {"code": given["cord_spec"].code})
            return redirect("part", code=given["cord_spec"].code)
    return _show(request, here, now, movement=form)


@require_POST
@page(Role.MANAGER)
def put_order(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Note a supplier order, or change one by its reference."""
    form = SupplierOrderForm(request.POST, prefix="order")
    if form.is_valid():
        elsewhere = SupplierOrder.objects.filter(reference=form.cleaned_data["reference"]).exclude(site=here.site)
        try:
            if elsewhere.exists():
                raise Refused(_("This reference is another site's order: give this one a reference of its own."))
            order = record.put_supplier_order(by=here.person, site=here.site, **form.cleaned_data)
        except Refused as problem:
            form.add_error(None, str(problem))
        else:
            _tell(request, _("%(reference)s is on order.") % {"reference": order.reference})
            return redirect("parts")
    return _show(request, here, datetime.now(UTC), order=form)


@require_POST
@page(Role.TECHNICIAN)
def receive(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """An order came in: its cords are on the shelf."""
    order, now = get_object_or_404(SupplierOrder, pk=pk, site=here.site), datetime.now(UTC)
    try:
        record.receive_order(by=here.person, order=order, at=now, now=now)
        _tell(request, _("%(reference)s is on the shelf.") % {"reference": order.reference})
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("parts")


@require_POST
@page(Role.MANAGER)
def cancel(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """An order will not come."""
    order = get_object_or_404(SupplierOrder, pk=pk, site=here.site)
    try:
        why = request.POST.get("why", "").strip()
        if not why:
            raise Refused(_("Say in a few words why %(reference)s is cancelled.") % {"reference": order.reference})
        record.cancel_order(by=here.person, order=order, at=datetime.now(UTC), why=why[:200])
        _tell(request, _("%(reference)s is cancelled.") % {"reference": order.reference})
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("parts")


@page(Role.MANAGER)
def reorder(request: HttpRequest, here: Here) -> HttpResponseBase:
    """What to order by when."""
    shelf = shelf_of(here.site, datetime.now(UTC))
    return render(request, "stock/reorder.html", {"shelf": shelf, "groups": grouped(shelf.to_order)})


@page(Role.MANAGER)
def reorder_as_csv(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The reorder list for a spreadsheet."""
    shelf = shelf_of(here.site, datetime.now(UTC))
    response = HttpResponse(reorder_csv(shelf), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="reorder-{here.site.code}-{shelf.today}.csv"'
    return response


@page(Role.MANAGER)
def reorder_as_pdf(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The reorder list on paper."""
    shelf = shelf_of(here.site, datetime.now(UTC))
    wanted = request.GET.get("paper", "")
    paper = wanted if wanted in ("letter", "a4") else here.site.paper
    response = HttpResponse(render_reorder(shelf, timezone.localtime(), paper), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="reorder-{here.site.code}-{shelf.today}.pdf"'
    return response


def _tell(request: HttpRequest, text: str) -> None:
    messages.success(request, text, extra_tags="good")
