"""Did the use forecast keep its word on this site's own history?"""

from datetime import UTC, datetime
from typing import Any

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render

from fleet.vocabulary import Role
from service.calibration_picture import calibration_picture
from service.forecast.calibration import BAND, FORECAST_DAYS
from service.pages.access import Here, page
from service.use_ahead import HELD_BACK_WINDOWS, calibration_of

PERCENT = 100.0


@page(Role.MANAGER)
def calibration(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The forecast held against the last months, one 30-day window after the other."""
    report = calibration_of(here.site, datetime.now(UTC))
    content: dict[str, Any] = {
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
