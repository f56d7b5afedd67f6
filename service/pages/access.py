"""Who may see what: the one place that decides it. Every page goes through `page`."""

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Concatenate, ParamSpec

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render

from fleet import lookups
from fleet.models import Bow, Person, Site
from fleet.vocabulary import Role
from service.models import WorkOrder

P = ParamSpec("P")
SITE_IN_SESSION = "site"


@dataclass(frozen=True)
class Here:
    """The signed-in person, the site they look at, their role there, and the sites they may choose."""

    person: Person
    site: Site
    role: str
    sites: tuple[Site, ...]

    def may(self, least: str) -> bool:
        """Whether the role here is at least this one."""
        return lookups.ROLE_ORDER.index(Role(self.role)) >= lookups.ROLE_ORDER.index(Role(least))


def page(
    least: str,
) -> Callable[[Callable[Concatenate[HttpRequest, Here, P], HttpResponseBase]], Callable[..., HttpResponseBase]]:
    """A page for people with at least this role at the chosen site; the view gets `here` as its second argument."""

    def wrap(
        view: Callable[Concatenate[HttpRequest, Here, P], HttpResponseBase],
    ) -> Callable[..., HttpResponseBase]:
        @functools.wraps(view)
        def run(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            here = here_of(request)
            if not here.may(least):
                raise PermissionDenied(
                    f"This page is for {Role(least).label}s and above; at {here.site} you are {Role(here.role).label}."
                )
            request.here = here  # type: ignore[attr-defined]
            return view(request, here, *args, **kwargs)

        return run

    return wrap


def here_of(request: HttpRequest) -> Here:
    """Where the person is: the site asked for, else the one looked at last, else their own, else the first."""
    person = request.user
    if not isinstance(person, Person):
        raise PermissionDenied("Sign in first.")
    sites = tuple(lookups.sites_of(person))
    if not sites:
        raise PermissionDenied("You have no role at any site yet: ask a manager for one.")
    by_code = {site.code: site for site in sites}
    asked = request.GET.get("site") or request.session.get(SITE_IN_SESSION) or ""
    own = person.site.code if person.site else ""
    site = by_code.get(asked) or by_code.get(own) or sites[0]
    if request.GET.get("site") and request.GET["site"] not in by_code:
        raise Http404("No such site.")
    if request.session.get(SITE_IN_SESSION) != site.code:
        request.session[SITE_IN_SESSION] = site.code
    role = lookups.role_at(person, site)
    if role is None:
        raise PermissionDenied("You have no role at this site.")
    return Here(person, site, role, sites)


def bow_of(here: Here, tag: str, least: str = Role.COUNTER) -> Bow:
    """The bow with this tag, if it is at a site where the person has at least this role; else there is none."""
    bow = Bow.objects.select_related("site", "spec_sheet").filter(tag=tag).first()
    if bow is None or not lookups.sites_of(here.person, least).filter(pk=bow.site_id).exists():
        raise Http404(f"No bow {tag} at your sites.")
    return bow


def order_of(here: Here, number: str, least: str = Role.TECHNICIAN) -> WorkOrder:
    """The order with this number, if it is of a site where the person has at least this role; else there is none."""
    order = WorkOrder.objects.select_related("site", "bow__spec_sheet", "bow__site", "technician", "reference_set")
    found = order.filter(number=number).first()
    if found is None or not lookups.sites_of(here.person, least).filter(pk=found.site_id).exists():
        raise Http404(f"No order {number} at your sites.")
    return found


def here_for_templates(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `here` on every page that has one."""
    return {"here": getattr(request, "here", None)}


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """The 403 page, with the reason and the way on."""
    return render(request, "refused.html", {"why": str(exception or "")}, status=403)
