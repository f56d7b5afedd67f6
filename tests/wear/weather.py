"""A real year of hourly weather: TMY3, Greensboro NC, as shipped inside pvlib (National Solar Radiation Data Base)."""

import csv
from datetime import UTC, datetime, timedelta
from importlib.resources import files

import numpy as np
import numpy.typing as npt

UTC_OFFSET = timedelta(hours=-5)  # the file's own header says -5
YEAR = 2024  # a TMY year is a patchwork of years: its months and days are laid on one year


def greensboro_year() -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Instants (epoch seconds, ascending) and dry-bulb temperatures (degC): 8760 hours."""
    with files("pvlib").joinpath("data/723170TYA.CSV").open(newline="") as file:
        next(file)  # station line; the header is the second
        rows = list(csv.DictReader(file))
    times, celsius = [], []
    for row in rows:
        month, day, _ = (int(part) for part in row["Date (MM/DD/YYYY)"].split("/"))
        hour = int(row["Time (HH:MM)"].split(":")[0])  # 01:00 to 24:00
        local = datetime(YEAR, month, day, tzinfo=UTC) + timedelta(hours=hour)
        times.append((local - UTC_OFFSET).timestamp())
        celsius.append(float(row["Dry-bulb (C)"]))
    return np.array(times), np.array(celsius)
