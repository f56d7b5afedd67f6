"""Whose rows a person may take in: those about the sites at which they are a manager.

A file may name any site, bow, tool or booking; the verbs behind it do not ask who may. This does, before they are
called: a row about another site's is a bad cell like any other.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TypeVar

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from fleet import lookups
from fleet.models import Booking, Bow, MeasuringTool, Person, Site, SupplierOrder
from fleet.vocabulary import Role
from service.intake import Findings, Problem, Table
from service.intake.columns import spelled
from service.pages.access import is_everywhere

F = TypeVar("F", bound=Findings)
PROBLEMS_LISTED = 1_000
# These say who may do what, and where: for an owner of every site.
OWNERS_KINDS = frozenset({"sites", "people"})


def open_kinds(person: Person, kinds: list[str]) -> list[str]:
    """The kinds of file that a manager may take in."""
    return kinds if is_everywhere(person, Role.OWNER) else [name for name in kinds if name not in OWNERS_KINDS]


def out_of_scope(kind: str, table: Table, person: Person) -> list[Problem]:
    """The cells that name another site, or what belongs to one; the first PROBLEMS_LISTED of them."""
    if is_everywhere(person, Role.MANAGER):
        return []
    found = []
    for problem in _foreign_cells(kind, table, person):
        found.append(problem)
        if len(found) == PROBLEMS_LISTED:
            break
    return found


def with_scope(found: F, foreign: list[Problem]) -> F:
    """The findings with these cells among the bad ones."""
    problems = sorted([*found.problems, *foreign], key=lambda one: one.line)
    return replace(found, problems=tuple(problems), problem_count=found.problem_count + len(foreign))


def _foreign_cells(kind: str, table: Table, person: Person) -> Iterator[Problem]:
    sites = lookups.sites_of(person, Role.MANAGER)
    is_foreign = {name: test for name, test in _tests(kind, sites).items() if name in map(spelled, table.header)}
    places = [(place, header) for place, header in enumerate(table.header) if spelled(header) in is_foreign]
    allowed = ", ".join(site.code for site in sites)
    for line, cells in table.rows():
        for place, header in places:
            value = cells[place] if place < len(cells) else ""
            if value and is_foreign[spelled(header)](_plain(value)):
                yield Problem(
                    line,
                    header,
                    value,
                    _("it belongs to a site at which you are not a manager"),
                    _("what belongs to %(sites)s") % {"sites": allowed},
                    _("take the line out, or ask a manager of that site or an owner to take it in"),
                )


def _tests(kind: str, sites: QuerySet[Site]) -> dict[str, Callable[[str], bool]]:
    """For each column that can reach another site's records: whether a value does."""
    own = {_plain(code) for code in sites.values_list("code", flat=True)}
    tags = {_plain(tag) for tag in Bow.objects.exclude(site__in=sites).values_list("tag", flat=True)}
    tests: dict[str, Callable[[str], bool]] = {"site": lambda value: value not in own, "tag": tags.__contains__}
    if kind == "tools":
        codes = MeasuringTool.objects.exclude(site__in=sites).values_list("code", flat=True)
        tests["code"] = {_plain(code) for code in codes}.__contains__
    if kind == "bookings":
        references = Booking.objects.exclude(site__in=sites).values_list("reference", flat=True)
        tests["reference"] = {_plain(reference) for reference in references}.__contains__
    if kind == "supplier_orders":
        orders = SupplierOrder.objects.exclude(site__in=sites).values_list("reference", flat=True)
        tests["reference"] = {_plain(reference) for reference in orders}.__contains__
    return tests


def _plain(text: str) -> str:
    return text.strip().casefold()
