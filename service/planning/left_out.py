"""What a plan leaves without a day: rightly, for a later plan, or because a limit blocks it."""

from service.plan.outcome import Limit, Unplaced
from service.planning.problem import SitePlan

# Nothing is wrong with a need that is left out for one of these.
NOT_A_PROBLEM = (Limit.LEADER, Limit.NEXT_PLAN)


def parted(there: SitePlan, unplaced: tuple[Unplaced, ...]) -> tuple[list[Unplaced], list[Unplaced]]:
    """What is rightly left for a later plan, and what should have had a day in this one."""
    last_day = there.problem.days[-1]

    def can_wait(one: Unplaced) -> bool:
        cheaper = one.limit is Limit.CHEAPER and there.needs[one.need].due_on > last_day
        return one.limit in NOT_A_PROBLEM or cheaper

    return [one for one in unplaced if can_wait(one)], [one for one in unplaced if not can_wait(one)]
