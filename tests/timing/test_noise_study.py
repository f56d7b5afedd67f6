"""The noise study, bounded: never wrong more than once in twenty, and right often enough to be of use."""

import pytest
from scipy.stats import binom

from service.timing.vocabulary import CamSystem
from tests.timing.noise_study import (
    CAREFUL,
    INCH_M,
    MEASUREMENT_SETS,
    ROUGH,
    Tally,
    bow_geometry,
    markdown,
    pooled,
    study_cell,
)

WRONG_AT_MOST = 0.05
BOWS = 25


def tallies(cam_system, set_name, stretch_in, arms_measured, person=CAREFUL):
    return [
        study_cell(cam_system, set_name, position, stretch_in * INCH_M, arms_measured, BOWS, (11, row), person)
        for row, position in enumerate(bow_geometry(cam_system).positions)
    ]


@pytest.mark.parametrize("person", [CAREFUL, ROUGH])
@pytest.mark.parametrize("arms_measured", [True, False])
@pytest.mark.parametrize("cam_system", list(CamSystem))
def test_wrong_at_most_once_in_twenty(cam_system, arms_measured, person):
    cells = {name: pooled(tallies(cam_system, name, 1 / 8, arms_measured, person)) for name in MEASUREMENT_SETS}
    for name, tally in cells.items():
        # One cell is a small sample: a rate of 5 % may show this many, one time in a thousand.
        assert tally.wrong <= binom.ppf(0.999, tally.bows, WRONG_AT_MOST), name
    whole = pooled(list(cells.values()))
    assert whole.wrong / whole.bows <= WRONG_AT_MOST


@pytest.mark.parametrize("cam_system", list(CamSystem))
def test_with_axle_to_axle_and_marks_an_eighth_is_mostly_named(cam_system):
    tally = pooled(tallies(cam_system, "ATA, marks", 1 / 8, arms_measured=True))
    assert tally.right / tally.bows >= 0.7


@pytest.mark.parametrize("cam_system", list(CamSystem))
def test_axle_to_axle_alone_never_names_a_cord(cam_system):
    tally = pooled(tallies(cam_system, "ATA", 1 / 4, arms_measured=True))
    assert tally.right == tally.wrong == 0


def test_table_has_a_row_per_system_and_set():
    one = [Tally(right=9, wrong=1)]
    cells = {
        (system, name, stretch, measured): one
        for system in CamSystem
        for name in MEASUREMENT_SETS
        for stretch in (1 / 16, 1 / 8, 1 / 4)
        for measured in (True, False)
    }
    lines = markdown(cells).splitlines()
    assert len(lines) == 2 + len(CamSystem) * len(MEASUREMENT_SETS)
    assert "| 90 / 10.0 |" in lines[2]
