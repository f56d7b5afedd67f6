"""The coming year under other rated lives of a cord spec, reckoned for whoever asks first and kept until the night.

It takes half a second to a second, whatever the size of the site: too long for every view of the page, and too long
for every cord spec of every site by night.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction

from fleet.lookups import last_fact
from fleet.models import CordSpec, Fitting, Site
from service.kept_figures import as_kept, as_was
from service.rated_life import RatedLife, years_ahead
from service.saved_figures import SpecReport, YearsAhead
from service.spec_histories import lives_kept

PERCENTS = (80.0, 90.0, 100.0, 110.0, 125.0)
"""Rated lives that are always reckoned, in percent of today's."""


@dataclass(frozen=True)
class SavedYears:
    """The coming year under other rated lives, as of when it was reckoned."""

    as_of: datetime
    years: list[RatedLife]


def saved_years(spec: CordSpec, site: Site) -> SavedYears | None:
    """As last reckoned; None where nobody asked since the night."""
    row = YearsAhead.objects.filter(report__cord_spec=spec, site=site).first()
    return None if row is None else SavedYears(row.as_of, as_was(list[RatedLife], row.years))


def reckon_years(spec: CordSpec, site: Site, percents: Sequence[float], now: datetime) -> SavedYears:
    """Reckon the year anew from the lives learned last, under PERCENTS and what else is asked; save the former."""
    row, read_to = SpecReport.objects.get(cord_spec=spec), last_fact()
    years = years_ahead(lives_kept(spec, row.lives), site, sorted({*PERCENTS, *percents}))
    usual = [one for one in years if one.percent in PERCENTS]
    kept = {"as_of": now, "read_to": read_to, "years": as_kept(usual)}
    # What was learned may be learned anew meanwhile: then these years are shown, and not kept.
    with suppress(IntegrityError), transaction.atomic():
        YearsAhead.objects.update_or_create(site=site, report=row, defaults=kept)
    return SavedYears(now, years)


def forget_years(site: Site) -> None:
    """The wear that they were reckoned from is computed anew."""
    YearsAhead.objects.filter(site=site).delete()


def fitted_at(spec: CordSpec, site: Site) -> int:
    """Cords of a cord spec on the bows of a site."""
    return Fitting.objects.filter(removed_at=None, cord__spec=spec, bow__site=site, bow__retirement=None).count()
