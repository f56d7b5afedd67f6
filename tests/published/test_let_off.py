"""Let-off = 100 (1 - holding / peak). Source: AMO standards, ASTM F1880; worked values as the trade quotes them."""

import pytest

from service.timing.drawboard import let_off_percent


@pytest.mark.parametrize(("peak", "holding", "percent"), [(70, 14, 80.0), (60, 20, 66.7)])
def test_let_off(peak, holding, percent):
    assert let_off_percent(peak, holding) == pytest.approx(percent, abs=0.05)
