"""The manager's pages: what the fleet is made of, what it costs, one bow's whole life, the search over everything."""

from datetime import UTC, datetime, timedelta

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render

from fleet.models import Bow
from fleet.vocabulary import Role
from service import schedule, search
from service.bow_life import FactKind, life_of, orders_with_a_page
from service.composition import composition_of
from service.cost_of_bows import PER_SHOTS, costs_of, lines_of, per_shots, shots_since, together
from service.export import Format
from service.pages.access import Here, bow_page, page
from service.pages.due import as_file, format_named
from service.pages.views import views_of

PER_PAGE = 50
FACTS_PER_PAGE = 100
PERIODS = (90, 365, 1095)
USUAL_DAYS = 365
COST_COLUMNS = ("tag", "orders", "bench_minutes", "parts", "labour", "total", "shots", "per_1000_shots", "currency")


@page(Role.COUNTER)
def find(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Look for a tag, serial, lot, order or booking; a text that names one bow exactly opens it."""
    text = request.GET.get("find", "").strip()[:80]
    if text and "all" not in request.GET and (bow := search.the_bow(text, here.sites)) is not None:
        return redirect("bow", tag=bow.tag)
    found = search.find(text, here.sites) if len(text) >= search.SHORTEST else None
    content = {"text": text, "found": found, "shortest": search.SHORTEST, "most": search.MOST_OF_A_KIND}
    return render(request, "desk/find.html", content)


@page(Role.MANAGER)
def composition(request: HttpRequest, here: Here) -> HttpResponseBase:
    """What the site's fleet is made of."""
    today = schedule.today_at(here.site, datetime.now(UTC))
    return render(request, "desk/composition.html", {"fleet": composition_of(here.site, today)})


@page(Role.MANAGER)
def costs(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Parts and labour of each bow, and of a thousand shots."""
    days, since = _period(request)
    every = costs_of(here.site, since)
    shown = Paginator(every, PER_PAGE).get_page(request.GET.get("page"))
    whole = together(here.site, every)
    shots = shots_since(here.site, since) if "whole" in request.GET else None
    content = {
        "days": days,
        "periods": PERIODS,
        "costs": shown,
        "lines": lines_of(list(shown), since),
        "whole": whole,
        "shots": shots,
        "whole_per_shots": None if shots is None else per_shots(whole.total, shots),
        "per_shots": PER_SHOTS,
        "views": views_of(request, here, "costs"),
        "formats": list(Format),
    }
    return render(request, "desk/costs.html", content)


@page(Role.MANAGER)
def costs_file(request: HttpRequest, here: Here, format: str) -> HttpResponseBase:
    """The costs of every bow as a file."""
    kind = format_named(format)
    days, since = _period(request)
    rows = (
        (
            line.bow.tag,
            line.cost.orders,
            line.cost.minutes,
            float(line.cost.parts),
            float(line.cost.labour),
            float(line.cost.total),
            line.shots,
            None if line.per_shots is None else float(line.per_shots),
            here.site.currency,
        )
        for line in lines_of(costs_of(here.site, since), since)
    )
    return as_file(kind, f"costs-{here.site.code}-{days}-days", COST_COLUMNS, rows)


def _period(request: HttpRequest) -> tuple[int, datetime]:
    """How many days are looked back over, and from when."""
    given = request.GET.get("days", "")
    days = next((one for one in PERIODS if str(one) == given), USUAL_DAYS)
    return days, datetime.now(UTC) - timedelta(days=days)


@bow_page(Role.COUNTER)
def bow_life(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Everything that happened to one bow, the latest first."""
    kind = request.GET.get("kind", "")
    shown = Paginator(life_of(bow, kind), FACTS_PER_PAGE).get_page(request.GET.get("page"))
    content = {"bow": bow, "facts": shown, "kind": kind, "kinds": FactKind.choices, "orders": orders_with_a_page(bow)}
    return render(request, "desk/bow_life.html", content)
