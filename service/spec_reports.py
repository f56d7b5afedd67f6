"""The history page of a cord spec, as learning saves it."""

from dataclasses import dataclass
from datetime import datetime

from fleet.models import CordSpec
from service.kept_figures import as_kept, as_was
from service.life_report import LifeReport, report_of
from service.saved_figures import LifeToLearn, SpecReport
from service.spec_histories import SpecHistory, kept_lives


def report_row(found: SpecHistory, now: datetime, read_to: int) -> SpecReport:
    """The row to save; `read_to`: `lookups.last_fact` before the history was read."""
    return SpecReport(
        cord_spec=found.spec,
        learned_at=now,
        read_to=read_to,
        report=as_kept(report_of(found)),
        lives=kept_lives(found),
    )


@dataclass(frozen=True)
class SavedReport:
    """A cord spec's report, as of when it was learned, and whether a coefficient of it changed since."""

    learned_at: datetime
    report: LifeReport
    is_to_be_learned: bool


def saved_report(spec: CordSpec) -> SavedReport | None:
    """As last learned; None where it never was."""
    row = SpecReport.objects.filter(cord_spec=spec).defer("lives").first()
    if row is None:
        return None
    marked = LifeToLearn.objects.filter(cord_spec=spec).exists()
    return SavedReport(row.learned_at, as_was(LifeReport, row.report), marked)
