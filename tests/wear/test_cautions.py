"""Heat cautions."""

import numpy as np
import pytest

from service.wear.cautions import HeatCaution, HeatLimits, caution_sentence, heat_caution, heat_cautions


@pytest.mark.parametrize(
    ("celsius", "caution"),
    [
        (-20.0, HeatCaution.NONE),
        (60.0, HeatCaution.NONE),
        (60.1, HeatCaution.NOTICE),
        (70.0, HeatCaution.NOTICE),
        (70.1, HeatCaution.INSPECT),
        (80.0, HeatCaution.INSPECT),
        (80.1, HeatCaution.HOLD),
        (np.nan, HeatCaution.NONE),
    ],
)
def test_above_each_limit(celsius: float, caution: HeatCaution) -> None:
    assert heat_caution(celsius) is caution


def test_many_at_once() -> None:
    assert heat_cautions([20.0, 65.0, np.nan, 75.0, 95.0]).tolist() == [0, 1, 0, 2, 3]


def test_sentences_say_temperature_limit_label_and_action() -> None:
    assert caution_sentence(59.0) == ""
    assert caution_sentence(72.4) == (
        "Cords reached 72 °C, above 70 °C (assumed limit): inspect the cords before the next hire."
    )
    held = caution_sentence(85.0, show=lambda celsius: f"{celsius * 1.8 + 32:.0f} °F")
    assert held.startswith("Cords reached 185 °F, above 176 °F (assumed limit): hold the bow")


def test_limits_must_rise() -> None:
    with pytest.raises(ValueError, match="must rise from notice to inspection to hold"):
        HeatLimits(notice_c=72.0)
