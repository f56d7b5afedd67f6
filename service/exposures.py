"""The exposure of chosen cords over what was gathered, with the house's coefficients: shots, time and heat."""

from dataclasses import replace

from service.gather import Gathered
from service.wear.exposure import Exposure, exposure, heat_exposure
from service.wear.rows import CordRows
from service.wear.vehicle import CabinModel


def exposure_of(rows: Gathered, cords: CordRows, now_s: float) -> Exposure:
    """Everything that each of `cords` went through up to an instant, and what it brought along when it was fitted."""
    fleet = replace(rows.rows, cords=cords)
    return exposure(fleet, rows.place_heats, now_s, cabin=_cabin(rows), reference_k=_reference_k(rows))


def heat_exposure_of(rows: Gathered, cords: CordRows, now_s: float, since_s: float) -> Exposure:
    """Time and heat while fitted, in a window: no shots, and nothing that a cord brought along when it was fitted."""
    fleet = replace(rows.rows, cords=cords)
    return heat_exposure(fleet, rows.place_heats, now_s, since_s, _cabin(rows), _reference_k(rows))


def _cabin(rows: Gathered) -> CabinModel:
    house = rows.coefficients.house
    return CabinModel(house["cabin_shade_factor"].value, house["cabin_boot_factor"].value, house["cabin_cap"].value)


def _reference_k(rows: Gathered) -> float:
    return rows.coefficients.house["reference_temperature"].value
