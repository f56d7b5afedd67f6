"""The model-free survival curve: an independent package agrees, with delayed entry and ties."""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from service.wear.kaplan_meier import kaplan_meier
from service.wear.weibull import LifeData


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("delayed", [False, True])
def test_curve_and_band_agree_with_an_independent_package(seed, delayed):
    rng = np.random.default_rng(seed)
    # Rounded to make ties between failures and censorings; the first cord is watched from new so someone always is.
    age = np.round(rng.weibull(2.0, 80), 1) + 0.1
    failed = rng.random(80) < 0.6
    entry = np.where(rng.random(80) < 0.4, np.round(age * rng.random(80), 1), 0.0) if delayed else np.zeros(80)
    kept = entry < age
    age, failed, entry = age[kept], failed[kept], entry[kept]
    curve = kaplan_meier(LifeData(age, np.where(failed, age, np.inf), entry), level=0.9)
    theirs = KaplanMeierFitter(alpha=0.1).fit(age, failed, entry=entry if delayed else None)
    assert curve.survival == pytest.approx(theirs.survival_function_at_times(curve.age).to_numpy(), abs=1e-10)
    band = theirs.confidence_interval_.loc[curve.age[curve.survival > 0.0]].to_numpy()
    open_part = curve.survival > 0.0
    assert curve.lower[open_part] == pytest.approx(band[:, 0], abs=1e-9)
    assert curve.upper[open_part] == pytest.approx(band[:, 1], abs=1e-9)


def test_censor_marks_sit_on_the_curve():
    curve = kaplan_meier(LifeData.observed([0.5, 1.0], [0.2, 0.7, 1.0, 1.4]))
    assert curve.censor_age.tolist() == [0.2, 0.7, 1.0, 1.4]
    # Five at risk at 0.5, then three at 1.0: a cord censored at an age of failure still counts at that age.
    assert curve.censor_survival == pytest.approx([1.0, 0.8, 0.8 * 2.0 / 3.0, 0.8 * 2.0 / 3.0])


def test_a_finding_between_checks_is_placed_at_the_finding():
    curve = kaplan_meier(LifeData(np.array([0.4, 1.0]), np.array([0.6, np.inf]), np.zeros(2)))
    assert curve.age.tolist() == [0.6]


def test_when_all_have_failed_the_band_claims_nothing():
    curve = kaplan_meier(LifeData.observed([0.5, 1.0], []))
    assert (curve.survival[-1], curve.lower[-1], curve.upper[-1]) == (0.0, 0.0, 1.0)


def test_no_failures_draw_no_steps():
    curve = kaplan_meier(LifeData.observed([], [0.5, 1.0]))
    assert curve.age.size == 0
    assert curve.censor_survival.tolist() == [1.0, 1.0]


def test_a_band_level_outside_its_range_is_refused():
    with pytest.raises(ValueError, match=r"band level is 1\.5"):
        kaplan_meier(LifeData.observed([1.0], []), level=1.5)
