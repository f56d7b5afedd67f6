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
from service.learned import learn_some
from service.life_report import BAND_LEVEL, FIT_LEVEL
from service.lives_to_learn import quickly_learned
from service.pages.access import Here, is_everywhere, page
from service.rated_life import LEAST_PERCENT, MOST_PERCENT
from service.saved_years import SavedYears, fitted_at, reckon_years, saved_years
from service.spec_coefficients import InForce, history, in_force
from service.spec_reports import SavedReport, saved_report
from service.wear.learning import FAILURES_TO_LEAD

PER_PAGE = 50
RECKONED_AT_ONCE_CORDS = 10
"""For so few the coming year is reckoned in a few hundredths of a second; for more the page asks for it by itself."""
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


@page(Role.MANAGER)
def spec_history(request: HttpRequest, here: Here, code: str) -> HttpResponseBase:
    """What the shop's history says of a cord spec, and what another rated life would do to the coming year."""
    spec, now = spec_of(code), datetime.now(UTC)
    saved = _report(spec, now)
    text, percent, error = _typed(request.GET.get("percent", "").strip())
    fitted = fitted_at(spec, here.site)
    asked = _Asked(percent, bool(request.GET.get("years")), bool(request.GET.get("anew")))
    reckoned = None if saved is None or not fitted else _years(spec, here, asked, fitted, now)
    content: dict[str, Any] = {
        "spec": spec,
        "saved": saved,
        "report": saved and saved.report,
        "fitted": fitted,
        "reckoned": reckoned,
        "years": reckoned.years if reckoned else [],
        "assumed": [one.key for one in in_force(spec, here.site) if one.can_be_set and one.is_assumed],
        "typed": {"text": text, "error": error},
        "to_lead": FAILURES_TO_LEAD,
        "band_level": round(BAND_LEVEL * PERCENT),
        "fit_level": round(FIT_LEVEL * PERCENT),
    }
    return render(request, "desk/spec_history.html", content, status=422 if error else 200)


def _report(spec: CordSpec, now: datetime) -> SavedReport | None:
    """As learned last; None where it never was, and there is too much to learn from while somebody waits."""
    saved = saved_report(spec)
    if saved is None and quickly_learned([spec]):
        learn_some([spec.pk], now)
        saved = saved_report(spec)
    return saved


@dataclass(frozen=True)
class _Asked:
    """What of the coming year was asked for: another percentage, the usual ones even if they take a second, anew."""

    percent: float | None
    years: bool
    anew: bool


def _years(spec: CordSpec, here: Here, asked: _Asked, fitted: int, now: datetime) -> SavedYears | None:
    """The coming year as saved, or reckoned now where it was asked for or is a matter of a moment."""
    if asked.percent is not None:
        return reckon_years(spec, here.site, [asked.percent], now)
    saved = None if asked.anew else saved_years(spec, here.site)
    if saved is not None or not (asked.years or fitted <= RECKONED_AT_ONCE_CORDS):
        return saved
    return reckon_years(spec, here.site, [], now)


def _typed(text: str) -> tuple[str, float | None, str]:
    """What was typed, as a percentage if it is one that can be reckoned with, and what is wrong with it."""
    if not text:
        return "", None, ""
    try:
        percent = float(text.replace(",", "."))
    except ValueError:
        percent = -1.0
    if not LEAST_PERCENT <= percent <= MOST_PERCENT:
        told = _("%(typed)s: give a number from %(low)s to %(high)s, in percent of today's rated life.")
        return text, None, told % {"typed": text[:20], "low": f"{LEAST_PERCENT:g}", "high": f"{MOST_PERCENT:g}"}
    return text, percent, ""
