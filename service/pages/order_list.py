"""Work orders of many days: narrowed, by pages, taken away as a file."""

from datetime import UTC, datetime

from django.core.paginator import Page
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet import lookups
from fleet.models import Site
from fleet.vocabulary import Role
from service import schedule
from service.counted import counted_page, from_nearer_end
from service.export import Format
from service.models import WorkOrder
from service.order_list import ORDER_COLUMNS, orders_in_order, rows_of, with_names
from service.pages.access import Here, page
from service.pages.due import as_file, format_named
from service.pages.order_list_form import OrderListForm

PER_PAGE = 50


@page(Role.TECHNICIAN)
def order_list(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The orders of the site, or of all of one's sites, the latest day first."""
    form = OrderListForm(_sites(here), request.GET)
    wanted = form.wanted
    content = {
        "form": form,
        "orders": _page_of(orders_in_order(wanted), request.GET.get("page")),
        "narrowed": any(request.GET.get(name) for name in form.fields),
        "of_many": len(wanted.sites) > 1,
        "formats": list(Format),
    }
    return render(request, "bench/order_list.html", content)


@page(Role.TECHNICIAN)
def order_list_file(request: HttpRequest, here: Here, format: str) -> HttpResponseBase:
    """The list as it is narrowed, as a file."""
    kind = format_named(format)
    orders = orders_in_order(OrderListForm(_sites(here), request.GET).wanted)
    today = schedule.today_at(here.site, datetime.now(UTC))
    return as_file(kind, f"orders-{here.site.code}-{today}", ORDER_COLUMNS, rows_of(orders))


def _page_of(orders: "QuerySet[WorkOrder]", number: str | None) -> "Page[WorkOrder]":
    """One page of the list. Its order is found from the keys alone; only the rows that are shown are read whole.

    A page of the second half is walked to from the end.
    """
    count = orders.count()
    shown = counted_page((), PER_PAGE, count, number)
    first, last = max(0, shown.start_index() - 1), shown.end_index()
    keys = from_nearer_end(orders.values_list("pk", flat=True), first, last, count)
    rows = with_names(WorkOrder.objects.order_by()).in_bulk(keys)
    shown.object_list = [rows[key] for key in keys]
    return shown


def _sites(here: Here) -> list[Site]:
    """The sites whose orders the person may see, this one first."""
    others = lookups.sites_of(here.person, Role.TECHNICIAN).exclude(pk=here.site.pk).order_by("name", "pk")
    return [here.site, *others]
