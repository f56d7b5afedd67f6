"""Linear damage against the worked Miner examples of Shigley's Mechanical Engineering Design.

Strength 80 kpsi, endurance limit 40 kpsi, f = 0.9: a = (f S_ut)^2 / S_e = 129.6 kpsi, b = -log10(f S_ut / S_e) / 3 =
-0.0851, N = (S / a)^(1 / b). Our load weight is the same law seen from a rated load: m = -1 / b. What the kernel
counts as peak weight stands for the stress; only ratios matter.
"""

import math

import numpy as np
import pytest

from service.wear.life import load_weight, shots_until
from service.wear.shot_exposure import weighted_shots
from tests.wear.fleets import cord_rows, shot_rows

STRENGTH_KPSI, ENDURANCE_KPSI, FRACTION = 80.0, 40.0, 0.9
PRINTED_A_KPSI, PRINTED_B = 129.6, -0.0851
EXPONENT = -1.0 / PRINTED_B


def test_coefficients_of_the_stress_life_line() -> None:
    a = (FRACTION * STRENGTH_KPSI) ** 2 / ENDURANCE_KPSI
    b = -math.log10(FRACTION * STRENGTH_KPSI / ENDURANCE_KPSI) / 3.0
    assert a == pytest.approx(PRINTED_A_KPSI, abs=0.05)
    assert b == pytest.approx(PRINTED_B, abs=0.00005)


def test_cycles_left_after_3000_at_60_kpsi() -> None:
    """3000 cycles at 60 kpsi of N1 = 8520 leave 5520; life seen from one cycle at S = a (N = 1 by definition)."""
    life_at_60 = 1.0 / float(load_weight(60.0, PRINTED_A_KPSI, EXPONENT))
    assert life_at_60 == pytest.approx(8520, rel=0.001)  # the book prints three digits of b and so of N
    cords = cord_rows(rated_shots=[8520.0], rated_peak_weight_n=[60.0], load_exponent=[EXPONENT])
    used = weighted_shots(cords, shot_rows([(0, 0.0, 0.0, 3000, 60.0)]), now_s=1.0) / cords.rated_shots
    assert shots_until(1.0, float(used[0]), 8520.0) == pytest.approx(5520, abs=1e-6)


def test_three_levels_add_up_to_one_life() -> None:
    """4000 / 19,460 + 60,000 / 137,880 + n3 / 582,150 = 1 gives n3 = 209,160."""
    lives = np.array([19_460.0, 137_880.0, 582_150.0])
    # The loads at which one rated life (582,150 at load 1) lasts as printed, from the same stress-life law.
    loads = (lives[2] / lives) ** (1.0 / EXPONENT)
    cords = cord_rows(rated_shots=[lives[2]], rated_peak_weight_n=[1.0], load_exponent=[EXPONENT])
    shots = shot_rows([(0, 0.0, 0.0, 4_000, loads[0]), (0, 0.0, 0.0, 60_000, loads[1])])
    used = float((weighted_shots(cords, shots, now_s=1.0) / cords.rated_shots)[0])
    assert used == pytest.approx(4_000 / 19_460 + 60_000 / 137_880, rel=1e-12)
    assert shots_until(1.0, used, lives[2]) == pytest.approx(209_160, abs=5)  # printed to the nearest ten
