"""What a need costs on each day, worked out by hand for one bow of plain numbers."""

import math
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from fleet.models import Fitting
from service.models import CordWear, Need, NeedKind, TimingDrift
from service.planning import need_costs
from service.planning.hires import BowAhead
from service.planning.need_costs import Days, SetParts, SitePrices, costs_of

FIRST = date(2026, 7, 6)
DAYS = Days(FIRST, 10)
PRICES = SitePrices(rental_day=40.0, labour_hour=30.0, inspection_days=30, timing_grace_days=7, guests_shoot_in=False)
ON_SHELF, ON_ORDER = SetParts(price=120.0, wait_days=0), SetParts(price=120.0, wait_days=5)
HIRED = 0.5


def day(ahead: int) -> date:
    return FIRST + timedelta(days=ahead)


def need(kind: NeedKind, due: int, latest: int | None = None, **changes: object) -> Need:
    given = {"kind": kind, "earliest_on": day(-9), "due_on": day(due), "minutes": 20, "fitting_id": 7}
    return Need(**{**given, "latest_on": None if latest is None else day(latest), **changes})  # type: ignore[arg-type]


def ahead(hired: float = HIRED, condemned_a_day: float = 0.01, life: float = 0.9, growth: float = 0.01) -> BowAhead:
    """A bow hired with the same chance each day, its chance of a condemned cord and its life used rising straight."""
    number = np.arange(DAYS.long)
    fitting = Fitting(pk=7)
    wear = CordWear(fitting=fitting, replacement_point=1.0)
    wear.reset_at = datetime(2026, 6, 1, tzinfo=UTC)
    return BowAhead(np.full(DAYS.long, hired), condemned_a_day * number, {7: life + growth * number}, {7: wear})


class TestReplacement:
    def test_late_is_the_chance_of_a_condemned_cord_times_what_that_costs(self) -> None:
        costs = costs_of(need(NeedKind.REPLACEMENT, 8, latest=9), ahead(), None, ON_SHELF, PRICES, DAYS)
        # A rental day, and a visit of 10 + 45 minutes at 30 an hour; nothing to rush, for the set is here.
        condemned = 40.0 + 30.0 * 55 / 60
        assert costs.late == pytest.approx([condemned * 0.01 * n for n in range(10)])

    def test_a_set_that_is_not_here_costs_its_wait_and_the_rush(self) -> None:
        assert need_costs.cost_of_condemned(ON_ORDER, PRICES) == pytest.approx(5 * 40.0 + 0.25 * 120.0 + 27.5)

    def test_early_throws_away_the_rest_of_the_sets_life(self) -> None:
        costs = costs_of(need(NeedKind.REPLACEMENT, 8, latest=9), ahead(), None, ON_SHELF, PRICES, DAYS)
        # From 0.9 by 0.01 a day to the point at 1.0: a tenth of 120 today, nothing once it is reached.
        assert costs.early == pytest.approx([120.0 * (0.1 - 0.01 * n) for n in range(10)])

    def test_left_out_it_is_held_from_the_day_after_its_latest(self) -> None:
        costs = costs_of(need(NeedKind.REPLACEMENT, 3, latest=4), ahead(), None, ON_SHELF, PRICES, DAYS)
        last = DAYS.long - 1
        held = 40.0 * HIRED * (last - 5)
        assert costs.unplaced == pytest.approx(67.5 * 0.01 * last + held + need_costs.LEAST_COST_OF_LEAVING_OUT)
        assert costs.unplaced > costs.late[-1]


class TestHeld:
    @pytest.mark.parametrize("kind", [NeedKind.INCIDENT, NeedKind.REPLACEMENT, NeedKind.INSPECTION, NeedKind.NOTICE])
    def test_every_day_in_costs_the_hires_it_would_have_had(self, kind: NeedKind) -> None:
        costs = costs_of(need(kind, -2, latest=-2, holds=True), ahead(), None, ON_SHELF, PRICES, DAYS)
        assert costs.late == pytest.approx([40.0 * HIRED * n for n in range(10)])
        assert set(costs.early) == {0.0}

    def test_what_is_overdue_holds_the_bow_already(self) -> None:
        costs = costs_of(
            need(NeedKind.INSPECTION, -1, latest=-1), ahead(condemned_a_day=0.0), None, ON_SHELF, PRICES, DAYS
        )
        assert costs.late == pytest.approx([20.0 * n for n in range(10)])


class TestChecks:
    def test_an_unseen_cord_costs_its_risk_and_a_refunded_hire(self) -> None:
        costs = costs_of(need(NeedKind.INSPECTION, 5, latest=20), ahead(), None, ON_SHELF, PRICES, DAYS)
        assert costs.late == pytest.approx([(67.5 + 40.0) * 0.01 * n for n in range(10)])

    def test_an_inspection_before_its_day_wastes_its_share_of_the_interval(self) -> None:
        costs = costs_of(need(NeedKind.INSPECTION, 6, latest=6), ahead(), None, ON_SHELF, PRICES, DAYS)
        assert costs.early == pytest.approx([30.0 * 30 / 60 * max(0, 6 - n) / 30 for n in range(10)])

    def test_out_of_tolerance_hires_follow_the_dates_bounds_then_the_grace_ends(self) -> None:
        drift = TimingDrift(leaves_from=day(0), leaves_on=day(2), leaves_until=day(4))
        costs = costs_of(need(NeedKind.TIMING_CHECK, 0), ahead(), drift, ON_SHELF, PRICES, DAYS)
        chance = [0.1, 0.3, 0.5, 0.7, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
        out = [0.25 * 40.0 * HIRED * sum(chance[:n]) for n in range(10)]
        # Due today, seven days of grace: from the eighth the bow stays in.
        held = [40.0 * HIRED * max(0, n - 8) for n in range(10)]
        assert costs.late == pytest.approx([a + b for a, b in zip(out, held, strict=True)])

    def test_without_bounds_a_measurement_is_out_after_its_day(self) -> None:
        late = need(NeedKind.TIMING_CHECK, 3)
        assert need_costs.chance_out(late, None, DAYS).tolist()[:6] == [0, 0, 0, 0, 1, 1]


class TestSettleIn:
    def test_staff_shoot_it_in_and_the_bow_stays_in_meanwhile(self) -> None:
        assert need_costs.settle_in_days(20.0, 100.0, PRICES) == (1, 30)
        assert need_costs.settle_in_wait(ahead(), PRICES) == pytest.approx(20.0)

    @pytest.mark.parametrize(("shots_per_day", "first"), [(20.0, 5), (1000.0, 1), (0.0, 30), (2.0, 30)])
    def test_guests_take_as_long_as_they_shoot(self, shots_per_day: float, first: int) -> None:
        guests = SitePrices(40.0, 30.0, 30, 7, guests_shoot_in=True)
        assert need_costs.settle_in_days(shots_per_day, 100.0, guests) == (first, 30)
        assert need_costs.settle_in_wait(ahead(), guests) == pytest.approx(0.25 * 20.0)


def test_late_never_falls_and_all_is_money() -> None:
    for kind in NeedKind:
        for due in (-3, 0, 4, 30):
            costs = costs_of(need(kind, due, latest=due), ahead(), None, ON_ORDER, PRICES, DAYS)
            assert all(b >= a for a, b in zip(costs.late, costs.late[1:], strict=False))
            assert all(math.isfinite(c) and c >= 0 for c in (*costs.early, *costs.late, costs.unplaced))
