"""Who may see what: the one place that decides it. Every page goes through `page`, `bow_page` or `order_page`."""

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Concatenate, ParamSpec
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Bow, FeedKey, HoldAction, Language, Person, Post, Site, Theme
from fleet.vocabulary import Role
from service.feeds import keys as feed_keys
from service.languages import language_of, screen_of
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

    @property
    def role_name(self) -> str:
        """The role here, in words."""
        return str(Role(self.role).label)

    @functools.cached_property
    def theme(self) -> str:
        """How bright the person wants the screen; "device" where they have not chosen."""
        choice = screen_of(self.person)
        return choice.theme if choice else Theme.DEVICE.value

    @property
    def language(self) -> str:
        """The language that the person chose; empty where they leave it to the browser."""
        choice = screen_of(self.person)
        return choice.language if choice else Language.BROWSER.value

    @property
    def at_bench(self) -> bool:
        """Whether the pages of the bench are open to the person here."""
        return self.may(Role.TECHNICIAN)

    @property
    def at_desk(self) -> bool:
        """Whether the pages of the desk are open to the person here."""
        return self.may(Role.MANAGER)


View = Callable[Concatenate[HttpRequest, Here, P], HttpResponseBase]
BowView = Callable[Concatenate[HttpRequest, Here, Bow, P], HttpResponseBase]
OrderView = Callable[Concatenate[HttpRequest, Here, WorkOrder, P], HttpResponseBase]
Page = Callable[..., HttpResponseBase]


class BookWithoutSite(Exception):
    """An owner of a book that has no site yet: the first one is to be added before anything else."""


def page(least: str, *, everywhere: bool = False) -> Callable[[View[P]], Page]:
    """A page for people with at least this role at the site they look at; the view gets `here` after the request.

    `everywhere`: the role must hold at every site, because what the page changes reaches all of them.
    """

    def wrap(view: View[P]) -> Page:
        @functools.wraps(view)
        def run(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            try:
                here = here_of(request)
            except BookWithoutSite:
                return redirect("first-site")
            if everywhere and not is_everywhere(here.person, least):
                raise PermissionDenied(
                    _("This page needs the role of %(least)s at every site.") % {"least": Role(least).label}
                )
            return _open(request, here, least, view, *args, **kwargs)

        return run

    return wrap


def is_everywhere(person: Person, least: str) -> bool:
    """Whether the person has at least this role at every site."""
    return lookups.sites_of(person, least).count() == Site.objects.count()


def founding_page(view: Callable[[HttpRequest, Person], HttpResponseBase]) -> Page:
    """The one page of a book without a site, for the owner who founded it; later it is not there."""

    @functools.wraps(view)
    def run(request: HttpRequest) -> HttpResponseBase:
        person = request.user
        if (
            not isinstance(person, Person)
            or not Post.objects.filter(person=person, site=None, role=Role.OWNER).exists()
        ):
            raise PermissionDenied(_("The book is empty: its owner adds the first site."))
        if Site.objects.exists():
            raise Http404(_("The book has its first site; add others on the page of the house."))
        return view(request, person)

    return run


def bow_page(least: str) -> Callable[[BowView[P]], Page]:
    """A page about the bow whose `tag` is in the address: the role counts at the bow's site."""

    def wrap(view: BowView[P]) -> Page:
        @functools.wraps(view)
        def run(request: HttpRequest, tag: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
            here = here_of(request)
            bow = Bow.objects.select_related("site", "spec_sheet").filter(tag=tag).first()
            if bow is None or bow.site not in here.sites:
                raise Http404(_("There is no bow %(tag)s at your sites.") % {"tag": tag})
            return _open(request, _at(request, here, bow.site), least, view, bow, *args, **kwargs)

        return run

    return wrap


def order_page(least: str) -> Callable[[OrderView[P]], Page]:
    """A page about the order whose `number` is in the address: the role counts at the order's site."""

    def wrap(view: OrderView[P]) -> Page:
        @functools.wraps(view)
        def run(request: HttpRequest, number: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
            here = here_of(request)
            orders = WorkOrder.objects.select_related(
                "site", "bow__spec_sheet", "bow__site", "technician", "reference_set__taken_by"
            )
            order = orders.filter(number=number).first()
            if order is None or order.site not in here.sites:
                raise Http404(_("There is no order %(number)s at your sites.") % {"number": number})
            return _open(request, _at(request, here, order.site), least, view, order, *args, **kwargs)

        return run

    return wrap


def hold_page(least: str) -> Callable[..., Page]:
    """A page about the act of holding many bows whose `pk` is in the address: the role counts at its site."""

    def wrap(view: Callable[..., HttpResponseBase]) -> Page:
        @functools.wraps(view)
        def run(request: HttpRequest, pk: int, *args: Any, **kwargs: Any) -> HttpResponseBase:
            here = here_of(request)
            action = HoldAction.objects.select_related("site", "by", "undone_by").filter(pk=pk).first()
            if action is None or action.site not in here.sites:
                raise Http404(_("No bows were held together under number %(pk)d at your sites.") % {"pk": pk})
            return _open(request, _at(request, here, action.site), least, view, action, *args, **kwargs)

        return run

    return wrap


def feed_page(view: Callable[[HttpRequest, FeedKey], HttpResponseBase]) -> Page:
    """A feed that the `token` in the address opens, without signing in; 404 for a wrong one, 429 for many of them."""

    @login_not_required
    @functools.wraps(view)
    def run(request: HttpRequest, token: str) -> HttpResponseBase:
        address = request.META.get("REMOTE_ADDR", "")
        if feed_keys.must_wait(address):
            wait = {"Retry-After": str(feed_keys.WAIT_S)}
            return HttpResponse("Too many wrong addresses.\n", "text/plain", status=429, headers=wait)
        key = feed_keys.key_of(token)
        if key is None:
            feed_keys.note_wrong(address)
            raise Http404(_("There is no calendar at this address."))
        language = language_of(key.technician or key.made_by)
        with timezone.override(ZoneInfo(key.site.time_zone)), translation.override(language):
            return view(request, key)

    return run


def here_of(request: HttpRequest) -> Here:
    """Where the person is: the site asked for, else the one looked at last, else their own, else the first."""
    person = request.user
    if not isinstance(person, Person):
        raise PermissionDenied(_("Sign in first."))
    sites = tuple(lookups.sites_of(person))
    if not sites and not Site.objects.exists() and Post.objects.filter(person=person, site=None).exists():
        raise BookWithoutSite
    if not sites:
        raise PermissionDenied(_("You have no role at any site yet: ask a manager for one."))
    by_code = {site.code: site for site in sites}
    asked = request.GET.get("site", "")
    if asked and asked not in by_code:
        raise Http404(_("There is no site %(code)s among yours.") % {"code": asked})
    own = person.site.code if person.site else ""
    last = request.session.get(SITE_IN_SESSION, "")
    site = by_code.get(asked) or by_code.get(last) or by_code.get(own) or sites[0]
    return _at(request, Here(person, site, _role_at(person, site), sites), site)


def _at(request: HttpRequest, here: Here, site: Site) -> Here:
    """The same person at another of their sites, which they look at from now on."""
    if request.session.get(SITE_IN_SESSION) != site.code:
        request.session[SITE_IN_SESSION] = site.code
    if site != here.site:
        here = Here(here.person, site, _role_at(here.person, site), here.sites)
    # For the page, and for the one that says no: `here_for_templates`.
    request.here = here  # type: ignore[attr-defined]
    return here


def _role_at(person: Person, site: Site) -> str:
    role = lookups.role_at(person, site)
    if role is None:
        raise PermissionDenied(_("You have no role at %(site)s: ask a manager for one.") % {"site": site})
    return role


def _open(request: HttpRequest, here: Here, least: str, view: Page, *args: Any, **kwargs: Any) -> HttpResponseBase:
    """Run a view for a person with enough of a role, with times shown in the site's zone."""
    if not here.may(least):
        raise PermissionDenied(
            _("This page needs the role of %(least)s or above; at %(site)s you have the role of %(role)s.")
            % {"least": Role(least).label, "site": here.site, "role": Role(here.role).label}
        )
    with timezone.override(ZoneInfo(here.site.time_zone)):
        return view(request, here, *args, **kwargs)


def here_for_templates(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `here` on every page that has one."""
    return {"here": getattr(request, "here", None)}
