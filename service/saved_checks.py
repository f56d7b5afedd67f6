"""What pages read instead of computing, held against a fresh computation: for `rebuild --check`.

A row that later facts have overtaken has nothing to be compared with: it says as of when it was computed.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from fleet.lookups import last_fact
from service.kept_figures import as_kept, same
from service.learned import histories
from service.models import DraftOutlook, SiteCalibration, SpecLife, SpecReport, YearsAhead
from service.planning.kept_outlook import fresh_figures, kept
from service.planning.made_from import still_holds
from service.rated_life import years_ahead
from service.saved_years import PERCENTS
from service.spec_histories import lives_kept
from service.spec_reports import report_row
from service.use_ahead import calibration_of


@dataclass(frozen=True)
class Checked:
    """What differs, in words, and how many rows were overtaken by facts."""

    differing: list[str]
    overtaken: int


def check_saved(tolerance: float = 1e-9) -> Checked:
    """Hold every row against what would be computed as of its own moment."""
    last = last_fact()
    drafts = [row for row in DraftOutlook.objects.select_related("plan__site") if row.plan.published_at is None]
    current = [row for row in drafts if still_holds(row.plan, row.plan.first_day, row.plan.days)]
    overtaken = len(drafts) - len(current)
    for model in (SiteCalibration, SpecReport, YearsAhead):
        overtaken += model.objects.exclude(read_to=last).count()
    found = [
        *_calibrations(last, tolerance),
        *_reports(last, tolerance),
        *_years(last, tolerance),
        *(
            f"outlook of {row.plan.site}: the figures saved with its draft differ"
            for row in current
            if _off(row, tolerance)
        ),
    ]
    return Checked(found, overtaken)


def _calibrations(last: int, tolerance: float) -> Iterator[str]:
    for row in SiteCalibration.objects.filter(read_to=last).select_related("site"):
        found = calibration_of(row.site, row.computed_at)
        if not same(row.report, None if found is None else as_kept(found), tolerance):
            yield f"forecast of use at {row.site}: how it kept its word is saved otherwise"


def _reports(last: int, tolerance: float) -> Iterator[str]:
    by_moment: dict[datetime, dict[int, SpecReport]] = defaultdict(dict)
    for row in SpecReport.objects.filter(read_to=last):
        by_moment[row.learned_at][row.cord_spec_id] = row
    lives = {one.cord_spec_id: one for one in SpecLife.objects.all()}
    for moment, rows in sorted(by_moment.items()):
        for found in histories(moment, rows):
            saved, fresh, life = rows[found.spec.pk], report_row(found, moment, last), lives.get(found.spec.pk)
            learned = found.posterior.planning_life
            if not (same(saved.report, fresh.report, tolerance) and same(saved.lives, fresh.lives, tolerance)):
                yield f"{found.spec.code}: what its history says is saved otherwise"
            if life is None or not same([life.eta, life.beta], [learned.eta, learned.beta], tolerance):
                yield f"{found.spec.code}: the life to plan with is saved otherwise"


def _years(last: int, tolerance: float) -> Iterator[str]:
    for row in YearsAhead.objects.filter(read_to=last).select_related("site", "report__cord_spec"):
        spec = row.report.cord_spec
        found = years_ahead(lives_kept(spec, row.report.lives), row.site, PERCENTS)
        if not same(row.years, as_kept(found), tolerance):
            yield f"{spec.code}: the coming year at {row.site} is saved otherwise"


def _off(row: DraftOutlook, tolerance: float) -> bool:
    return not same(row.content, kept(fresh_figures(row.plan, row.plan.made_at)), tolerance)
