"""Which pages the head of every page offers: in three groups by where the work is done, by role.

A new page gets one line in LINKS. `everyday` names the roles that find it in the head itself; everybody else finds
it under "All pages".
"""

from dataclasses import dataclass

from django.http import HttpRequest
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.vocabulary import Role
from service.pages.access import Here

COUNTER, BENCH, DESK = _("Counter"), _("Bench"), _("Desk")
GROUPS = (COUNTER, BENCH, DESK)


@dataclass(frozen=True)
class Link:
    """One page in the navigation: its address name, its name on the screen, its group, and the least role for it."""

    page: str
    title: str | Promise
    group: str | Promise
    least: Role
    everyday: frozenset[str] = frozenset()
    # Pages that are reached from this one: it is marked while they are open.
    under: frozenset[str] = frozenset()


ALL = frozenset(Role.values)
AT_DESK = frozenset({Role.MANAGER, Role.OWNER})
AT_BENCH = AT_DESK | {Role.TECHNICIAN}

SPEC_PAGES = frozenset({"cord-spec", "coefficient", "spec-history", "house-coefficients", "house-coefficient"})

LINKS: tuple[Link, ...] = (
    Link(
        "bows",
        _("Bows"),
        COUNTER,
        Role.COUNTER,
        ALL,
        frozenset({"bow", "bow-life", "bow-move", "bow-retire", "cord", "arms", "references", "measured-history"}),
    ),
    Link(
        "turnaround-fleet",
        _("Between guests"),
        COUNTER,
        Role.COUNTER,
        frozenset({Role.COUNTER}),
        frozenset({"turnaround", "turnaround-answer", "next-guest"}),
    ),
    Link("due", _("Due"), COUNTER, Role.COUNTER, ALL),
    Link("timing-due", _("Timing ahead"), BENCH, Role.COUNTER),
    Link("places", _("Places and heat"), BENCH, Role.TECHNICIAN, frozenset(), frozenset({"place"})),
    Link("calibration", _("Forecast kept?"), DESK, Role.MANAGER),
    Link("queue", _("Bench queue"), BENCH, Role.TECHNICIAN, AT_BENCH, frozenset({"order", "draw-board"})),
    Link("order-list", _("Orders"), BENCH, Role.TECHNICIAN),
    Link("how-to-measure", _("How to measure"), BENCH, Role.COUNTER),
    Link("labels", _("Labels"), BENCH, Role.TECHNICIAN),
    Link("notices", _("Notices"), BENCH, Role.TECHNICIAN, frozenset(), frozenset({"notice", "notice-new", "trace"})),
    Link("cord-specs", _("Cord specs"), DESK, Role.MANAGER, frozenset(), SPEC_PAGES),
    Link("composition", _("Fleet"), DESK, Role.MANAGER),
    Link("costs", _("Costs"), DESK, Role.MANAGER),
    Link("hold-many", _("Hold many"), DESK, Role.MANAGER, frozenset(), frozenset({"held-before", "held-together"})),
    Link(
        "house",
        _("House"),
        DESK,
        Role.MANAGER,
        frozenset(),
        frozenset({"record-new", "record-change", "password", "second-factor-reset", "leaving"}),
    ),
    Link("first-steps", _("First steps"), DESK, Role.MANAGER),
    Link(
        "guests",
        _("Guests"),
        COUNTER,
        Role.COUNTER,
        frozenset({Role.COUNTER}),
        frozenset({"booking", "change-booking", "walk-in"}),
    ),
    Link("feeds", _("Calendars"), BENCH, Role.TECHNICIAN, frozenset(), frozenset({"make-feed"})),
    Link("morning-mail", _("Morning mail"), BENCH, Role.TECHNICIAN),
    Link("nights", _("Nights"), DESK, Role.MANAGER),
    Link("parts", _("Parts"), BENCH, Role.TECHNICIAN, frozenset(), frozenset({"part"})),
    Link("reorder", _("To order"), DESK, Role.MANAGER),
    Link("outlook", _("Outlook"), DESK, Role.MANAGER, AT_DESK, frozenset({"outlook-move", "outlook-what-if"})),
    Link("devices", _("Devices"), DESK, Role.MANAGER, frozenset(), frozenset({"device-revoke"})),
    Link("status", _("Service"), DESK, Role.OWNER),
    Link("take-in", _("Take in"), DESK, Role.MANAGER, frozenset(), frozenset({"take-in-preview"})),
)


@dataclass(frozen=True)
class Shown:
    """A link as it is shown now; `current` is the value of aria-current, empty where it is not the place."""

    page: str
    title: str
    current: str


@dataclass(frozen=True)
class Navigation:
    """What the head offers: the everyday links, all pages by group, and the open page where it is no everyday one."""

    everyday: tuple[Shown, ...]
    groups: tuple[tuple[str, tuple[Shown, ...]], ...]
    elsewhere: str


def navigation_of(request: HttpRequest, here: Here) -> Navigation:
    """The navigation for a person at a site on a page."""
    match = request.resolver_match
    page = match.url_name or "" if match else ""
    links = [(link, _shown(link, page)) for link in LINKS if here.may(link.least)]
    groups = tuple((str(group), tuple(one for link, one in links if link.group == group)) for group in GROUPS)
    elsewhere = [one.title for link, one in links if one.current and here.role not in link.everyday]
    return Navigation(
        everyday=tuple(one for link, one in links if here.role in link.everyday),
        groups=tuple((name, shown) for name, shown in groups if shown),
        elsewhere=elsewhere[0] if elsewhere else "",
    )


def _shown(link: Link, page: str) -> Shown:
    current = "page" if link.page == page else "true" if page in link.under else ""
    return Shown(link.page, str(link.title), current)


def navigation_for_templates(request: HttpRequest) -> dict[str, Navigation | None]:
    """Context processor: `navigation` on every page that knows who looks at it."""
    here = getattr(request, "here", None)
    return {"navigation": navigation_of(request, here) if here else None}
