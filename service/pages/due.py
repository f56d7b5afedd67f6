"""The due list: narrowed, kept as views of one's own, taken away as a file."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from typing import NamedTuple

from django.core.paginator import Page
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _

from fleet.vocabulary import Role
from service import schedule
from service.counted import counted_page, from_nearer_end, walk_to
from service.due_list import DUE_COLUMNS, SOON_DAYS, counts_of, due_when, narrowed, row_of, soonest, wears_in_order
from service.export import Cell, Format, table_file
from service.heat_alarms import heat_limits
from service.models import CordWear
from service.pages.access import Here, page
from service.pages.due_form import DueForm
from service.pages.views import views_of

PER_PAGE = 25
# A page that ends within this part of its list is near.
NEAR = 10


class View(NamedTuple):
    """Which part of the list is shown, by the word for it, on which day."""

    when: str
    today: date


@page(Role.COUNTER)
def due(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every fitted cord of the site, the soonest replacement first."""
    when = request.GET.get("when", "")
    today = schedule.today_at(here.site, datetime.now(UTC))
    form = DueForm(here.site, request.GET)
    wanted = form.wanted
    found = narrowed(wears_in_order(here.site), wanted)
    counts = counts_of(found, today)
    shown = _page_of(found, View(when, today), counts.of(when), request.GET.get("page"))
    content = {
        "wears": shown,
        "form": form,
        "narrowed": any(request.GET.get(name) for name in (*form.fields, "when")),
        "counts": counts,
        "today": today,
        "soon_days": SOON_DAYS,
        "when": when,
        "views": views_of(request, here, "due"),
        "formats": list(Format),
        "hot_above_c": heat_limits().notice_c,
    }
    return render(request, "desk/due.html", content)


def _page_of(wears: "QuerySet[CordWear]", view: View, count: int, number: str | None) -> "Page[CordWear]":
    """One page of the list. Its order is found from the keys alone; only the rows that are shown are read whole.

    A page of the second half is counted from the end; near either end the keys are walked to, in the middle sorted.
    """
    shown = counted_page((), PER_PAGE, count, number)
    first, last = max(0, shown.start_index() - 1), shown.end_index()
    is_near = walk_to(first, last, count) * NEAR <= count
    in_order = soonest(wears, *view) if is_near else due_when(wears, *view).values_list("pk", flat=True)
    keys = from_nearer_end(in_order, first, last, count)
    rows = wears_in_order().order_by().in_bulk(keys)
    shown.object_list = [rows[key] for key in keys]
    return shown


@page(Role.COUNTER)
def due_file(request: HttpRequest, here: Here, format: str) -> HttpResponseBase:
    """The list as it is narrowed, as a file."""
    kind = format_named(format)
    today = schedule.today_at(here.site, datetime.now(UTC))
    found = narrowed(wears_in_order(here.site), DueForm(here.site, request.GET).wanted)
    wears = due_when(found, request.GET.get("when", ""), today)
    rows = ([getattr(row, name) for name in DUE_COLUMNS] for row in map(row_of, wears.iterator(chunk_size=2_000)))
    return as_file(kind, f"due-{here.site.code}-{today}", DUE_COLUMNS, rows)


def format_named(name: str) -> Format:
    """The format of this name, or nothing there."""
    if name not in list(Format):
        raise Http404(_("There is no file of the kind '%(kind)s': take csv or xlsx.") % {"kind": name[:20]})
    return Format(name)


def as_file(format: Format, name: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> HttpResponse:
    """A table as a download."""
    response = HttpResponse(table_file(format, name, header, rows), content_type=format.content_type)
    response["Content-Disposition"] = f'attachment; filename="{name}.{format}"'
    return response
