"""Inside or outside; the bench works to half."""

import pytest

from service.timing.tolerance import (
    DEFAULT_TOLERANCES_SI,
    INCH_M,
    POUND_FORCE_N,
    Reference,
    check,
    check_all,
)
from service.timing.vocabulary import MeasurementKind

KIND = MeasurementKind
ATA = Reference(KIND.AXLE_TO_AXLE, 32 * INCH_M, INCH_M / 8)


@pytest.mark.parametrize(
    ("off_in", "in_service", "bench"),
    [
        (0, True, True),
        (1 / 16, True, True),
        (-1 / 16, True, True),
        (3 / 32, True, False),
        (1 / 8, True, False),
        (-1 / 8, True, False),
        (9 / 64, False, False),
    ],
)
def test_limits_count_as_inside(off_in, in_service, bench):
    one = check(ATA, (32 + off_in) * INCH_M)
    assert (one.inside_in_service, one.inside_bench) == (in_service, bench)


def test_what_is_still_off_is_signed_and_worst_first():
    peak = Reference(KIND.PEAK_WEIGHT, 60 * POUND_FORCE_N, 2 * POUND_FORCE_N)
    report = check_all([ATA, peak], {KIND.AXLE_TO_AXLE: 32.125 * INCH_M, KIND.PEAK_WEIGHT: 54 * POUND_FORCE_N})
    assert [one.kind for one in report.still_off] == [KIND.PEAK_WEIGHT, KIND.AXLE_TO_AXLE]
    assert report.still_off[0].too_far_si == pytest.approx(-5 * POUND_FORCE_N)
    assert report.still_off[1].too_far_si == pytest.approx(INCH_M / 16)
    assert [one.kind for one in report.out_of_service_tolerance] == [KIND.PEAK_WEIGHT]
    assert not report.may_close


def test_a_missing_reading_does_not_close():
    report = check_all([ATA], {})
    assert report.missing == (KIND.AXLE_TO_AXLE,)
    assert not report.may_close
    assert check_all([ATA], {KIND.AXLE_TO_AXLE: 32 * INCH_M}).may_close


def test_defaults_common_practice_no_source():
    assert DEFAULT_TOLERANCES_SI[KIND.AXLE_TO_AXLE] == pytest.approx(0.125 * INCH_M)
    assert DEFAULT_TOLERANCES_SI[KIND.STOP_SYNC] == pytest.approx(INCH_M / 16)
    assert DEFAULT_TOLERANCES_SI[KIND.PEAK_WEIGHT] == pytest.approx(8.896, abs=1e-3)


def test_a_tolerance_of_nothing_is_refused():
    with pytest.raises(ValueError, match="axle to axle has a tolerance of 0"):
        Reference(KIND.AXLE_TO_AXLE, 0.8, 0.0)
