"""Did the use forecast keep its word on this site's own history?"""

from datetime import UTC, datetime
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.models import Bow
from fleet.vocabulary import Role
from service.calibration_picture import calibration_picture
from service.calibrations import SavedCalibration, saved_calibration
from service.forecast.calibration import BAND, FORECAST_DAYS
from service.pages.access import Here, page
from service.use_ahead import HELD_BACK_WINDOWS, learn_site_use

PERCENT = 100.0

COMPUTED_AT_ONCE_BOWS = 50
"""A site that no night has been through yet is computed when the page is opened, if it has no more bows."""


@page(Role.MANAGER)
def calibration(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The forecast held against the last months, one 30-day window after the other."""
    saved = _saved(here)
    report = None if saved is None else saved.report
    content: dict[str, Any] = {
        "saved": saved,
        "report": report,
        "forecast_days": FORECAST_DAYS,
        "windows": HELD_BACK_WINDOWS,
        "promised": PERCENT * (BAND[1] - BAND[0]),
    }
    if report is not None:
        content |= {
            "picture": calibration_picture(report),
            "coverage": PERCENT * report.coverage,
            "margin": PERCENT * report.margin,
            "gain": PERCENT * report.gain,
            "worse": -PERCENT * report.gain,
        }
    return render(request, "desk/calibration.html", content)


def _saved(here: Here) -> SavedCalibration | None:
    """As last computed, by night as a rule; None where it never was, and the first night has to come first."""
    saved = saved_calibration(here.site)
    if saved is None and Bow.objects.filter(site=here.site).count() <= COMPUTED_AT_ONCE_BOWS:
        learn_site_use(here.site, datetime.now(UTC))
        saved = saved_calibration(here.site)
    return saved
