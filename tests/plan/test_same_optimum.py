"""Two hundred small random shops: the solver's plan is exactly as good as the best of all plans there are."""

from random import Random

import pytest

from service.plan.report import Status
from service.plan.solve import solve
from tests.plan.oracle import best_rank, breaches, cents, rank, where_of
from tests.plan.random_shops import random_shop


@pytest.mark.parametrize("block", range(20))
def test_the_solver_finds_the_brute_force_optimum(block: int) -> None:
    for seed in range(block * 10, block * 10 + 10):
        shop = random_shop(Random(seed))
        report = solve(shop)
        where = where_of(shop, report.plan.placements)
        assert breaches(shop, where) == [], seed
        assert rank(shop, where) == best_rank(shop), seed
        assert cents(report.objective) == rank(shop, where)[3], seed
        assert report.status is Status.PROVEN, seed
        assert report.bound == report.objective, seed
