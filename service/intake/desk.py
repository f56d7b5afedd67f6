"""Who takes the file in, when, for which site; and what the register already knows under which name."""

import zoneinfo
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property
from typing import Any, TypeVar

from fleet.models import Bow, CordSpec, MeasuringTool, Person, Place, Site, SpecSheet
from service.intake.problems import CellError, nearest
from service.said import say

Found = TypeVar("Found")
Values = Mapping[str, Any]


@dataclass(frozen=True)
class Desk:
    """The acting person and the instant (aware), the site where a row names none, and how numbers are written."""

    by: Person
    now: datetime
    site: Site | None = None
    decimal_comma: bool = False

    @cached_property
    def sites(self) -> dict[str, Site]:
        """Sites by code."""
        return {site.code: site for site in Site.objects.all()}

    @cached_property
    def bows(self) -> dict[str, Bow]:
        """Bows by tag; read once, for files that name a bow on each of 100,000 lines."""
        return {bow.tag: bow for bow in Bow.objects.select_related("site", "spec_sheet")}

    @cached_property
    def places(self) -> dict[tuple[int, str], Place]:
        """Places by site and name."""
        return {(place.site_id, place.name): place for place in Place.objects.select_related("site")}

    @cached_property
    def tools(self) -> dict[str, MeasuringTool]:
        """Measuring tools by code."""
        return {tool.code: tool for tool in MeasuringTool.objects.all()}

    def cord_specs(self) -> dict[str, CordSpec]:
        """Cord specs by code, read afresh: a file of specs adds the ones that its spec sheets name."""
        return {spec.code: spec for spec in CordSpec.objects.all()}

    @cached_property
    def cord_specs_at_start(self) -> dict[str, CordSpec]:
        """Cord specs by code, read once."""
        return self.cord_specs()

    @cached_property
    def spec_sheets(self) -> dict[str, SpecSheet]:
        """Spec sheets by code."""
        return {sheet.code: sheet for sheet in SpecSheet.objects.all()}

    def site_of(self, values: Values) -> Site:
        """The site of a row: named on it, else the one asked for, else the bow's, else the only one there is."""
        site = self.site_named(values)
        if site is not None:
            return site
        if len(self.sites) == 1:
            return next(iter(self.sites.values()))
        raise CellError(
            say("the row does not say which site it is about"),
            allowed=say("one of %(sites)s", sites=", ".join(sorted(self.sites)))
            if self.sites
            else say("none yet: the book has no site"),
            fix=say("add a column 'site' with the site's code, or give --site CODE")
            if self.sites
            else say("take in sites first"),
            column="site",
        )

    def site_named(self, values: Values) -> Site | None:
        """The site of a row if the row, the call or the bow names one."""
        named: Site | None = values.get("site")
        if named is not None:
            return named
        if self.site is not None:
            return self.site
        bow: Bow | None = values.get("tag")
        return bow.site if isinstance(bow, Bow) else None

    def today_of(self, values: Values) -> date:
        """Today's date at a row's site; in UTC where no site is named and several are possible."""
        if self.site_named(values) is None and len(self.sites) != 1:
            return self.now.astimezone(UTC).date()
        return self.now.astimezone(self.zone_of(values)).date()

    def zone_of(self, values: Values) -> zoneinfo.ZoneInfo:
        """The time zone in which a row's local times are meant."""
        return zoneinfo.ZoneInfo(self.site_of(values).time_zone)


def look_up(known: Mapping[str, Found], text: str, what: str, kind: str) -> Found:
    """The record of that name, or a CellError with the nearest name that is known."""
    if text in known:
        return known[text]
    meant = nearest(text, known)
    raise CellError(
        say("the book knows no %(what)s of that name", what=what),
        allowed=say("the %(count)d in the book", count=len(known))
        if known
        else say("none yet: take in %(kind)s first", kind=kind),
        fix=say("did you mean %(meant)r? Else take it in with kind %(kind)s first", meant=meant, kind=kind)
        if meant
        else say("correct the name, or take it in with kind %(kind)s first", kind=kind),
    )
