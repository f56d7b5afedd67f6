"""Where the outcomes fell in what was forecast, as bars: a tenth of the outcomes in each of ten, if it holds."""

from dataclasses import dataclass

from service.forecast.calibration import BAND, CalibrationReport

WIDTH, HEIGHT = 640, 180
LEFT, RIGHT, TOP, FOOT = 44, 8, 10, 24
PERCENT = 100.0


@dataclass(frozen=True)
class Slice:
    """One slice of the forecast: from which to which probability (%), the share of outcomes (%), the bar."""

    low: int
    high: int
    percent: float
    in_band: bool
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class CalibrationPicture:
    """The whole drawing; `even_y` is where every bar would end if outcomes fell evenly."""

    width: int
    height: int
    left: int
    right: int
    foot: int
    even_y: float
    even_percent: float
    slices: tuple[Slice, ...]


def calibration_picture(report: CalibrationReport) -> CalibrationPicture:
    """Bars of the report's histogram."""
    bins = len(report.histogram)
    share = [PERCENT * count / max(1.0, sum(report.histogram)) for count in report.histogram]
    even = PERCENT / bins
    foot = HEIGHT - FOOT
    scale = (foot - TOP) / max(*share, 2.0 * even)
    wide = (WIDTH - LEFT - RIGHT) / bins
    slices = tuple(
        Slice(
            low=round(PERCENT * n / bins),
            high=round(PERCENT * (n + 1) / bins),
            percent=percent,
            in_band=BAND[0] <= (n + 0.5) / bins <= BAND[1],
            x=round(LEFT + n * wide + 0.1 * wide, 2),
            y=round(foot - percent * scale, 2),
            width=round(0.8 * wide, 2),
            height=round(percent * scale, 2),
        )
        for n, percent in enumerate(share)
    )
    return CalibrationPicture(WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, foot, round(foot - even * scale, 2), even, slices)
