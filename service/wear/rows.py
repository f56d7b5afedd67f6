"""The columns that a fleet's exposure is computed from: one array per field, one entry per row.

Bows and places are indices (0..n-1) that the caller gives out; instants are epoch seconds (UTC); nan means "open"
or "unknown" where a field says so. Rows may come in any order.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeVar

import numpy as np

from service.wear.arrays import Flags, Floats, Ints
from service.wear.vehicle import Cabins


@dataclass(frozen=True, eq=False)
class CordRows:
    """Cords, one row per fitting (a removed cord keeps its row)."""

    bow: Ints
    fitted_s: Floats
    """When this bow's events begin to count for the cord."""
    removed_s: Floats
    """nan: still fitted."""
    made_s: Floats
    """nan: unknown; then no shelf time before fitting is counted."""
    rated_shots: Floats
    rated_h: Floats
    heat_weight: Floats
    activation_energy_j_per_mol: Floats
    rated_peak_weight_n: Floats
    load_exponent: Floats
    prior_shots: Floats
    """Use before `fitted_s` (before the book began, or on another bow); shots weighted as the cord's own."""
    prior_tension_h: Floats
    prior_heat_h: Floats

    def __post_init__(self) -> None:
        _same_length(self)
        for name in ("rated_shots", "rated_h", "rated_peak_weight_n"):
            _require(getattr(self, name) > 0.0, self, name, "above 0")
        for name in ("prior_shots", "prior_tension_h", "prior_heat_h", "heat_weight", "load_exponent"):
            _require(getattr(self, name) >= 0.0, self, name, "0 or more")
        _require(np.isfinite(self.fitted_s), self, "fitted_s", "a known instant")
        _require(~(self.removed_s < self.fitted_s), self, "removed_s", "not before fitted_s")
        _require(~(self.made_s > self.fitted_s), self, "made_s", "not after fitted_s")


@dataclass(frozen=True, eq=False)
class ShotRows:
    """Shots of a bow between two instants (equal instants: all at once)."""

    bow: Ints
    start_s: Floats
    end_s: Floats
    count: Floats
    peak_weight_n: Floats
    """The set-up's peak weight then; nan: not known, counted as the cord's rated peak weight."""

    def __post_init__(self) -> None:
        _same_length(self)
        _require(self.count >= 0.0, self, "count", "0 or more shots")
        _require(self.end_s >= self.start_s, self, "end_s", "not before start_s")
        _require(~(self.peak_weight_n <= 0.0), self, "peak_weight_n", "above 0 N, or nan if unknown")


@dataclass(frozen=True, eq=False)
class StayRows:
    """A bow at a place; no overlaps per bow. `end_s` nan: still there."""

    bow: Ints
    place: Ints
    start_s: Floats
    end_s: Floats

    def __post_init__(self) -> None:
        _same_length(self)
        _require(~(self.end_s < self.start_s), self, "end_s", "not before start_s")


@dataclass(frozen=True, eq=False)
class ParkingRows:
    """A bow in a parked vehicle; goes before the stay under it; no overlaps per bow. `end_s` nan: still there."""

    bow: Ints
    start_s: Floats
    end_s: Floats
    outside_c: Floats
    """nan where only the cabin was measured."""
    cabin_c: Floats
    """nan where not measured; a measured one goes before the outside temperature."""
    shade: Flags
    boot: Flags

    def __post_init__(self) -> None:
        _same_length(self)
        _require(~(self.end_s < self.start_s), self, "end_s", "not before start_s")
        _require(~(np.isnan(self.outside_c) & np.isnan(self.cabin_c)), self, "outside_c", "known, or cabin_c")

    def cabins(self) -> Cabins:
        """What the vehicle model needs to know of each parking."""
        return Cabins(self.outside_c, self.cabin_c, self.shade, self.boot)


@dataclass(frozen=True, eq=False)
class SlackRows:
    """A bow without tension in its cords: relaxed in a press, or unstrung. `end_s` nan: still so. May overlap."""

    bow: Ints
    start_s: Floats
    end_s: Floats

    def __post_init__(self) -> None:
        _same_length(self)
        _require(~(self.end_s < self.start_s), self, "end_s", "not before start_s")


@dataclass(frozen=True, eq=False)
class FleetRows:
    """Everything that wears the cords of some bows. `default_place[b]`: where bow b is when no stay says."""

    cords: CordRows
    shots: ShotRows
    stays: StayRows
    parkings: ParkingRows
    slacks: SlackRows
    default_place: Ints


Rows = TypeVar("Rows", CordRows, ShotRows, StayRows, ParkingRows, SlackRows)


def picked(rows: Rows, which: Flags | Ints) -> Rows:
    """The chosen rows (a mask or indices), as the same kind of columns."""
    return type(rows)(**{field.name: getattr(rows, field.name)[which] for field in fields(rows)})


def _same_length(rows: CordRows | ShotRows | StayRows | ParkingRows | SlackRows) -> None:
    lengths = {field.name: np.shape(getattr(rows, field.name)) for field in fields(rows)}
    if len(set(lengths.values())) != 1 or len(lengths["bow"]) != 1:
        raise ValueError(f"{type(rows).__name__}: columns of unequal shapes {lengths}; give one entry per row in each")


def _require(
    fine: Flags, rows: CordRows | ShotRows | StayRows | ParkingRows | SlackRows, name: str, allowed: str
) -> None:
    if not np.all(fine):
        row = int(np.argmin(fine))
        value = getattr(rows, name)[row]
        raise ValueError(
            f"{type(rows).__name__} row {row} (bow {int(rows.bow[row])}): {name} is {value}, must be {allowed}; "
            "correct the record"
        )
