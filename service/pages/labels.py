"""Labels: choose bows and a sheet, and print them."""

import math
from dataclasses import dataclass, fields
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from fleet.models import Bow
from fleet.vocabulary import Role
from service.bow_list import bows_of
from service.pages.access import Here, page
from service.printing.labels import LABEL_GRIDS, PAPERS_MM, LabelGrid
from service.printing.pdf_labels import Label, render_labels

SHOWN = 200
MOST_LABELS = 2_000
OWN = "own"


@dataclass(frozen=True)
class OwnGrid:
    """A sheet that the shop measured itself, in mm as typed."""

    rows: str = "7"
    columns: str = "3"
    label_width: str = "63.5"
    label_height: str = "38.1"
    top: str = "15"
    left: str = "7"
    gap_x: str = "2.5"
    gap_y: str = "0"


OWN_TITLES = {
    "rows": gettext_lazy("Rows"),
    "columns": gettext_lazy("Columns"),
    "label_width": gettext_lazy("Label width, mm"),
    "label_height": gettext_lazy("Label height, mm"),
    "top": gettext_lazy("Margin above, mm"),
    "left": gettext_lazy("Margin at the left, mm"),
    "gap_x": gettext_lazy("Gap between columns, mm"),
    "gap_y": gettext_lazy("Gap between rows, mm"),
}


@page(Role.TECHNICIAN)
def labels(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Choose bows, a sheet, and the first free place on it."""
    return _show(request, here)


@require_POST
@page(Role.TECHNICIAN)
def labels_pdf(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The chosen labels as a PDF."""
    try:
        grid, start = _grid(request, here), _whole(request.POST.get("start", "1"), _("First free place"))
        pdf = render_labels([_label(bow) for bow in _chosen(request, here)], grid, start)
    except ValueError as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return redirect(f"{reverse('labels')}?find={request.POST.get('find', '')}")
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="labels-{here.site.code}.pdf"'
    return response


def _show(request: HttpRequest, here: Here) -> HttpResponse:
    find, tag = request.GET.get("find", "").strip(), request.GET.get("bow", "")
    found = bows_of(here.site, tag or find)
    count = found.count()
    content = {
        "bows": found[:SHOWN],
        "count": count,
        "shown": min(count, SHOWN),
        "most": MOST_LABELS,
        "find": tag or find,
        "ticked": tag,
        "grids": [(name, _told(grid), grid) for name, grid in _ordered(here)],
        "own": [(one.name, OWN_TITLES[one.name], one.default) for one in fields(OwnGrid)],
        "papers": list(PAPERS_MM),
        "paper": here.site.paper,
    }
    return render(request, "bench/labels.html", content)


def _ordered(here: Here) -> list[tuple[str, LabelGrid]]:
    """The grids on the site's own paper first."""
    return sorted(LABEL_GRIDS.items(), key=lambda item: not item[0].startswith(here.site.paper))


def _told(grid: LabelGrid) -> str:
    size = f"{grid.label_mm[0]:.4g} x {grid.label_mm[1]:.4g} mm"
    if grid.per_sheet == 1:
        return _("single label, %(size)s") % {"size": size}
    paper = next(name for name, page_mm in PAPERS_MM.items() if page_mm == grid.page_mm)
    names = {"a4": "A4", "letter": "Letter"}
    told = _("%(paper)s, %(columns)d x %(rows)d labels of %(size)s")
    return told % {"paper": names[paper], "columns": grid.columns, "rows": grid.rows, "size": size}


def _chosen(request: HttpRequest, here: Here) -> list[Bow]:
    """The ticked bows of the site, or every bow found; by tag."""
    found = bows_of(here.site, request.POST.get("find", "").strip())
    if request.POST.get("which") != "all":
        found = bows_of(here.site).filter(tag__in=request.POST.getlist("bow"))
    count = found.count()
    if count > MOST_LABELS:
        raise ValueError(
            _("%(count)d labels are too many at once; at most %(most)d. Find fewer bows.")
            % {"count": count, "most": MOST_LABELS}
        )
    return list(found)


def _label(bow: Any) -> Label:
    return Label(f"{settings.PUBLIC_URL}{reverse('turnaround', args=[bow.tag])}", bow.tag, bow.site.name)


def _grid(request: HttpRequest, here: Here) -> LabelGrid:
    name = request.POST.get("grid", "")
    if name in LABEL_GRIDS:
        return LABEL_GRIDS[name]
    if name != OWN:
        raise ValueError(_("Choose a sheet of labels."))
    typed = {one.name: request.POST.get(one.name, "") for one in fields(OwnGrid)}
    rows, columns = (_whole(typed[name], str(OWN_TITLES[name])) for name in ("rows", "columns"))
    wide, high, top, left, gap_x, gap_y = (
        _number(typed[name], str(OWN_TITLES[name]))
        for name in ("label_width", "label_height", "top", "left", "gap_x", "gap_y")
    )
    paper = request.POST.get("paper", "")
    page_mm = PAPERS_MM.get(paper, PAPERS_MM[here.site.paper])
    return LabelGrid(page_mm, rows, columns, (wide, high), top, left, gap_x, gap_y)


def _number(text: str, what: str) -> float:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(_("%(what)s: '%(text)s' is no number. Type it.") % {"what": what, "text": text[:20]})
    return number


def _whole(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise ValueError(_("%(what)s: '%(text)s' is no whole number. Count.") % {"what": what, "text": text[:20]})
    return int(text)
