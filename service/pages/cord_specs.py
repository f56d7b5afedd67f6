"""Cord specs for a manager: each with its coefficients, what the shop's history says of it, and another rated life."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _

from fleet.models import CoefficientSetting, CordSpec, Fitting
from fleet.vocabulary import Role
from service.coefficient_names import Belongs
from service.learned import histories
from service.life_report import BAND_LEVEL, FIT_LEVEL, report_of
from service.pages.access import Here, is_everywhere, page
from service.rated_life import LEAST_PERCENT, MOST_PERCENT, years_ahead
from service.spec_coefficients import InForce, history, in_force
from service.wear.learning import FAILURES_TO_LEAD

PER_PAGE = 50
PERCENTS = (80.0, 90.0, 100.0, 110.0, 125.0)
PERCENT = 100.0


@page(Role.MANAGER)
def cord_specs(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every cord spec with its rated life, how many are on bows here, and what was learned of it."""
    find = request.GET.get("find", "").strip()
    own_values = CoefficientSetting.objects.filter(cord_spec=OuterRef("pk"), superseded_at=None).order_by()
    specs = CordSpec.objects.select_related("life").annotate(
        own_values=Coalesce(Subquery(own_values.values("cord_spec").annotate(count=Count("pk")).values("count")), 0)
    )
    if find:
        specs = specs.filter(Q(code__icontains=find) | Q(maker__icontains=find))
    shown = Paginator(specs.order_by("code"), PER_PAGE).get_page(request.GET.get("page"))
    # Apart from the list: joined to it, every fitting of a spec is counted once for each of its settings.
    fitted = Fitting.objects.filter(removed_at=None, bow__site=here.site, cord__spec__in=[one.pk for one in shown])
    counts = dict(fitted.order_by().values_list("cord__spec").annotate(count=Count("pk")))
    content = {
        "specs": shown,
        "fitted": [(one, counts.get(one.pk, 0)) for one in shown],
        "find": find,
        "to_lead": FAILURES_TO_LEAD,
        "may_set_house": is_everywhere(here.person, Role.MANAGER),
    }
    return render(request, "desk/cord_specs.html", content)


@page(Role.MANAGER)
def cord_spec(request: HttpRequest, here: Here, code: str) -> HttpResponseBase:
    """One cord spec: what it is, every coefficient that bears on it, and what was set and why."""
    spec = spec_of(code)
    found = in_force(spec, here.site)
    content = {
        "spec": spec,
        "groups": [
            (_("Of this cord spec"), _of(found, Belongs.CORD_SPEC)),
            (_("Of the house: the same for every cord"), _of(found, Belongs.HOUSE)),
            (_("Kept elsewhere"), _of(found, Belongs.ELSEWHERE)),
        ],
        "history": history(spec),
        "may_set_house": is_everywhere(here.person, Role.MANAGER),
        "fitted_here": Fitting.objects.filter(removed_at=None, cord__spec=spec, bow__site=here.site).count(),
        "fitted": Fitting.objects.filter(removed_at=None, cord__spec=spec).count(),
    }
    return render(request, "desk/cord_spec.html", content)


def spec_of(code: str) -> CordSpec:
    """The cord spec in the address; makes are shared by all sites."""
    spec = CordSpec.objects.filter(code=code).first()
    if spec is None:
        raise Http404(_("There is no cord spec %(code)s.") % {"code": code})
    return spec


def _of(found: list[InForce], belongs: Belongs) -> list[InForce]:
    return [one for one in found if one.named.belongs is belongs]


@dataclass(frozen=True)
class _Typed:
    """The percentages to reckon with, and what was wrong with the typed one."""

    percents: list[float]
    text: str
    error: str


@page(Role.MANAGER)
def spec_history(request: HttpRequest, here: Here, code: str) -> HttpResponseBase:
    """What the shop's history says of a cord spec, and what another rated life would do to the coming year."""
    spec = spec_of(code)
    found = histories(datetime.now(UTC), [spec.pk])[0]
    typed = _typed(request.GET.get("percent", "").strip())
    content: dict[str, Any] = {
        "spec": spec,
        "report": report_of(found),
        "years": years_ahead(found, here.site, typed.percents),
        "assumed": [one.key for one in in_force(spec, here.site) if one.can_be_set and one.is_assumed],
        "typed": typed,
        "to_lead": FAILURES_TO_LEAD,
        "band_level": round(BAND_LEVEL * PERCENT),
        "fit_level": round(FIT_LEVEL * PERCENT),
    }
    return render(request, "desk/spec_history.html", content, status=422 if typed.error else 200)


def _typed(text: str) -> _Typed:
    if not text:
        return _Typed(list(PERCENTS), "", "")
    try:
        percent = float(text.replace(",", "."))
    except ValueError:
        percent = -1.0
    if not LEAST_PERCENT <= percent <= MOST_PERCENT:
        told = _("%(typed)s: give a number from %(low)s to %(high)s, in percent of today's rated life.")
        error = told % {"typed": text[:20], "low": f"{LEAST_PERCENT:g}", "high": f"{MOST_PERCENT:g}"}
        return _Typed(list(PERCENTS), text, error)
    return _Typed(sorted({*PERCENTS, percent}), text, "")
