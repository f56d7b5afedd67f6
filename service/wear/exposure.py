"""What each cord of a fleet has been through: shots, hours under tension, hours slack or on the shelf, heat.

Everything adds up over events and over windows of time that follow each other, so a change needs only what it touches:

- a shot entry comes, changes or goes: add or subtract `shot_exposure.weighted_shots` of that entry alone;
- time passes: `Exposure.followed_by(exposure(rows since then, now, since))`;
- a stay, parking or slack stretch of a bow changes: `heat_exposure` of that bow's rows (its shots play no part);
- a place's readings change: the same over the window `PlaceHeat.touched_by` gives, before and after.

All of it equals the full computation to rounding.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from service.wear.arrays import SECONDS_PER_HOUR, Floats, Ints, run_maxima, run_sums
from service.wear.coefficients import DEFAULTS
from service.wear.heat import HeatScale, PlaceHeat
from service.wear.life import LifeShares, life_shares
from service.wear.rows import CordRows, FleetRows
from service.wear.shot_exposure import Windows, weighted_shots
from service.wear.timeline import Timeline, timeline
from service.wear.vehicle import CabinModel, cabin_heat_h, cabin_temperature_c

PlaceHeats = Mapping[float, Mapping[int, PlaceHeat]]
"""Activation energy (J/mol) -> place index -> that place's integral."""


@dataclass(frozen=True, eq=False)
class Exposure:
    """What n cords have been through."""

    weighted_shots: Floats
    tension_h: Floats
    shelf_h: Floats
    heat_h: Floats
    """Hours at the reference temperature, over the tension time only."""
    max_temperature_c: Floats
    """Highest temperature met while fitted, slack or not; nan where there was no such time."""

    def followed_by(self, later: Exposure) -> Exposure:
        """This window and the next one together."""
        return Exposure(
            self.weighted_shots + later.weighted_shots,
            self.tension_h + later.tension_h,
            self.shelf_h + later.shelf_h,
            self.heat_h + later.heat_h,
            np.fmax(self.max_temperature_c, later.max_temperature_c),
        )

    def life(self, cords: CordRows, shelf_fraction: float = DEFAULTS["shelf_fraction"].value) -> LifeShares:
        """Shares of rated life that this exposure used."""
        return life_shares(
            self.weighted_shots,
            self.tension_h,
            self.shelf_h,
            self.heat_h,
            cords.rated_shots,
            cords.rated_h,
            cords.heat_weight,
            shelf_fraction,
        )


def exposure(
    rows: FleetRows,
    place_heats: PlaceHeats,
    now_s: float,
    since_s: float = -np.inf,
    cabin: CabinModel | None = None,
    reference_k: float = DEFAULTS["reference_temperature"].value,
) -> Exposure:
    """Exposure of every cord in (since, now]; prior use and shelf time count in the window that holds the fitting.

    `place_heats` needs every activation energy of the cords and every place that the bows were at. Entries after
    `now_s` do not count, entries across it count by their share before it.
    """
    shots_only = _at_fitting(rows.cords, weighted_shots(rows.cords, rows.shots, now_s, since_s), now_s, since_s)
    return shots_only.followed_by(heat_exposure(rows, place_heats, now_s, since_s, cabin, reference_k))


def heat_exposure(
    rows: FleetRows,
    place_heats: PlaceHeats,
    now_s: float,
    since_s: float = -np.inf,
    cabin: CabinModel | None = None,
    reference_k: float = DEFAULTS["reference_temperature"].value,
) -> Exposure:
    """The part of `exposure` that comes from time and place while fitted (no shots, nothing from before fitting)."""
    cords = rows.cords
    windows = Windows.of(cords, now_s, since_s)
    line = timeline(rows, windows, now_s)
    fitted_h = np.where(windows.is_open, windows.end_s - windows.start_s, 0.0) / SECONDS_PER_HOUR
    slack_piece_h = np.where(line.is_slack, line.end_s - line.start_s, 0.0) / SECONDS_PER_HOUR
    slack_h = run_sums(slack_piece_h, line.first, line.last)
    sources = _Sources.of(line, rows, cabin or CabinModel())
    heat_h = np.zeros(cords.bow.size)
    for energy in np.unique(cords.activation_energy_j_per_mol):
        scale = HeatScale(float(energy), reference_k)
        piece_h = np.where(line.is_slack, 0.0, sources.heat_h(_integrals(place_heats, scale), scale))
        concerned = cords.activation_energy_j_per_mol == energy
        heat_h[concerned] = run_sums(piece_h, line.first[concerned], line.last[concerned])
    hottest = np.full(cords.bow.size, np.nan)
    if cords.bow.size:
        any_scale = HeatScale(float(cords.activation_energy_j_per_mol[0]), reference_k)
        highest = run_maxima(sources.max_temperature_c(_integrals(place_heats, any_scale)), line.first, line.last)
        hottest = np.where(np.isfinite(highest), highest, np.nan)
    return Exposure(np.zeros(cords.bow.size), fitted_h - slack_h, slack_h, heat_h, hottest)


def _at_fitting(cords: CordRows, shots: Floats, now_s: float, since_s: float) -> Exposure:
    """`shots`, and what a cord brings along: prior use, and the calendar time since it was made not under tension."""
    fitted_now = (cords.fitted_s > since_s) & (cords.fitted_s <= now_s)
    age_h = np.where(np.isnan(cords.made_s), 0.0, cords.fitted_s - cords.made_s) / SECONDS_PER_HOUR
    shelf_h = np.maximum(age_h - cords.prior_tension_h, 0.0)
    return Exposure(
        shots + np.where(fitted_now, cords.prior_shots, 0.0),
        np.where(fitted_now, cords.prior_tension_h, 0.0),
        np.where(fitted_now, shelf_h, 0.0),
        np.where(fitted_now, cords.prior_heat_h, 0.0),
        np.full(cords.bow.size, np.nan),
    )


def _integrals(place_heats: PlaceHeats, scale: HeatScale) -> Mapping[int, PlaceHeat]:
    if scale.activation_energy_j_per_mol not in place_heats:
        raise ValueError(
            f"activation energy {scale.activation_energy_j_per_mol:g} J/mol: no place is integrated for it (there are "
            f"{sorted(place_heats)}); build PlaceHeat for every energy that the cords use"
        )
    return place_heats[scale.activation_energy_j_per_mol]


@dataclass(frozen=True, eq=False)
class _Sources:
    """The pieces of a timeline sorted by where their temperature comes from."""

    line: Timeline
    by_place: list[tuple[int, Ints]]
    parked: Ints
    parking: Ints
    rows: FleetRows
    cabin: CabinModel

    @classmethod
    def of(cls, line: Timeline, rows: FleetRows, cabin: CabinModel) -> _Sources:
        at_place = np.flatnonzero(line.parking < 0)
        order = at_place[np.argsort(line.place[at_place], kind="stable")]
        places, begins = np.unique(line.place[order], return_index=True)
        groups = np.split(order, begins[1:])
        by_place = [(int(place), group) for place, group in zip(places, groups, strict=False)]
        parked = np.flatnonzero(line.parking >= 0)
        return cls(line, by_place, parked, line.parking[parked], rows, cabin)

    def heat_h(self, integrals: Mapping[int, PlaceHeat], scale: HeatScale) -> Floats:
        """Heat of every piece (h at the reference temperature), as if under tension."""
        heat = np.zeros(self.line.start_s.size)
        for place, pieces in self.by_place:
            integral = _of_place(integrals, place)
            if integral.scale != scale:
                raise ValueError(
                    f"place {place}: integrated for {integral.scale}, wanted for {scale}; build its PlaceHeat anew"
                )
            heat[pieces] = integral.between(self.line.start_s[pieces], self.line.end_s[pieces])
        if self.parked.size:
            cabins = self.rows.parkings.cabins().picked(self.parking)
            begun = self.rows.parkings.start_s[self.parking]
            energy, reference = scale.activation_energy_j_per_mol, scale.reference_k
            upto_end = cabin_heat_h(cabins, self.line.end_s[self.parked] - begun, self.cabin, energy, reference)
            upto_start = cabin_heat_h(cabins, self.line.start_s[self.parked] - begun, self.cabin, energy, reference)
            heat[self.parked] = upto_end - upto_start
        return heat

    def max_temperature_c(self, integrals: Mapping[int, PlaceHeat]) -> Floats:
        """Highest temperature of every piece; a parked cabin only warms, so its end is its hottest."""
        highest = np.full(self.line.start_s.size, -np.inf)
        for place, pieces in self.by_place:
            highest[pieces] = _of_place(integrals, place).max_between(
                self.line.start_s[pieces], self.line.end_s[pieces]
            )
        if self.parked.size:
            cabins = self.rows.parkings.cabins().picked(self.parking)
            parked_s = self.line.end_s[self.parked] - self.rows.parkings.start_s[self.parking]
            highest[self.parked] = cabin_temperature_c(cabins, parked_s, self.cabin)
        return highest


def _of_place(integrals: Mapping[int, PlaceHeat], place: int) -> PlaceHeat:
    if place not in integrals:
        raise ValueError(f"place {place}: its temperature is not among the {len(integrals)} given; add its PlaceHeat")
    return integrals[place]
