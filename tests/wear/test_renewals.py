"""Sets changed ahead: counted exactly where nothing is condemned, and against renewal theory where cords are."""

import numpy as np
import pytest

from service.wear.renewals import SetsAhead, changes_ahead
from service.wear.replacement import integral_of_survival
from service.wear.weibull import WeibullLife

LASTING = 1e9  # an eta that no cord of these tests lives to see


def sets_of(used: list[list[float]], per_day: float, point: float = 1.0, life: WeibullLife | None = None) -> SetsAhead:
    life_used = np.array(used)
    life = life or WeibullLife(LASTING, 3.0)
    same = np.ones_like(life_used)
    return SetsAhead(life_used, per_day * same, point * same, life.eta * same, life.beta * same)


def counted(sets: SetsAhead, days: float, draws: int = 1) -> tuple[np.ndarray, np.ndarray]:
    found = changes_ahead(sets, days, draws, np.random.default_rng(4))
    return found.planned, found.condemned


def test_without_failures_a_set_is_changed_each_time_its_point_is_reached() -> None:
    # 0.4 used, 0.01 a day: after 60, 160, 260 and 360 days.
    planned, condemned = counted(sets_of([[0.4]], 0.01), 365.0)
    assert (planned.tolist(), condemned.tolist()) == ([[4]], [[0]])


def test_a_cord_past_its_point_is_changed_today_and_one_not_in_use_never() -> None:
    planned, _ = counted(sets_of([[1.2], [0.9]], 0.0), 365.0)
    assert planned.tolist() == [[1, 0]]


def test_the_first_cord_of_a_set_changes_all_of_it() -> None:
    # Together: the second is due after 10 days and takes the first along, then both run 100 days.
    planned, _ = counted(sets_of([[0.1, 0.9], [0.1, np.nan]], 0.01), 120.0)
    assert planned.tolist() == [[2, 1]]


def test_cords_that_do_not_age_are_condemned_as_a_poisson_stream() -> None:
    """Shape 1: condemned at rate r / eta, whatever the age (Poisson process of the exponential life)."""
    sets = sets_of([[0.7]] * 40, 0.01, point=LASTING, life=WeibullLife(0.5, 1.0))
    planned, condemned = counted(sets, 365.0, 200)
    expected = 365.0 * 0.01 / 0.5
    error = np.sqrt(expected / condemned.size)
    assert planned.sum() == 0
    assert condemned.mean() == pytest.approx(expected, abs=4.0 * error)
    assert condemned.var() == pytest.approx(expected, rel=0.06)


def test_in_the_long_run_changes_come_at_the_rates_of_age_replacement() -> None:
    """Barlow & Hunter (1960): per unit of life R(p) / integral R planned, and F(p) / integral R condemned."""
    life, point, days, per_day = WeibullLife(1.3, 2.5), 0.9, 200_000.0, 0.01
    planned, condemned = counted(sets_of([[0.0]] * 4, per_day, point, life), days, 5)
    cycle = integral_of_survival(life, point)
    survival = float(life.survival(point))
    used = days * per_day
    assert planned.mean() == pytest.approx(used * survival / cycle, rel=0.01)
    assert condemned.mean() == pytest.approx(used * (1.0 - survival) / cycle, rel=0.02)


def test_a_cord_that_lived_so_far_is_known_to_be_good_now() -> None:
    """Given survival to D, the chance of being condemned over the next step is 1 - R(D + step) / R(D)."""
    life = WeibullLife(1.0, 4.0)
    _, condemned = counted(sets_of([[0.8]] * 2_000, 0.001, LASTING, life), 200.0, 10)
    chance = 1.0 - float(life.survival(1.0) / life.survival(0.8))
    first = np.minimum(condemned, 1).mean()
    assert first == pytest.approx(chance, abs=4.0 * np.sqrt(chance * (1 - chance) / condemned.size))


def test_impossible_numbers_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match="replacement point 0: it must be above 0"):
        sets_of([[0.4]], 0.01, point=0.0)
    with pytest.raises(ValueError, match="life used and life a day must be 0 or more"):
        sets_of([[-0.4]], 0.01)
