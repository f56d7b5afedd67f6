"""How the forecast of use kept its word, as each night saves it for its page."""

from dataclasses import dataclass
from datetime import datetime

from fleet.models import Site
from service.forecast.calibration import CalibrationReport
from service.kept_figures import as_kept, as_was
from service.saved_figures import SiteCalibration


@dataclass(frozen=True)
class SavedCalibration:
    """A report (None: too little history to hold any back) and as of when it was made."""

    computed_at: datetime
    report: CalibrationReport | None


def saved_calibration(site: Site) -> SavedCalibration | None:
    """As last computed; None where it never was."""
    row = SiteCalibration.objects.filter(site=site).first()
    if row is None:
        return None
    return SavedCalibration(row.computed_at, None if row.report is None else as_was(CalibrationReport, row.report))


def save_calibration(site: Site, report: CalibrationReport | None, now: datetime, read_to: int) -> None:
    """Put it in place of the former one; `read_to`: `lookups.last_fact` before its history was read."""
    kept = None if report is None else as_kept(report)
    SiteCalibration.objects.update_or_create(
        site=site, defaults={"computed_at": now, "read_to": read_to, "report": kept}
    )
