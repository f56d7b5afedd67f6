"""The table "May it go out?" of the design, row by row: finding or need, before its date, past it.

House rules (common practice, no source): 7 days of grace for timing, staff shoot in new cords.
"""

from datetime import date, datetime, timedelta

import pytest

from fleet import record
from fleet.models import Fitting
from fleet.vocabulary import BowState
from service import decide
from service.models import NeedKind
from service.verdict import DueNeed, Verdict, may_go_out
from service.verdicts import verdict_of, verdicts_of
from tests import personas

TODAY = date(2026, 7, 1)
GRACE = 7


def answer(*needs: DueNeed, state: str = BowState.READY, guests_shoot_in: bool = False) -> Verdict:
    return may_go_out(state, list(needs), TODAY, GRACE, guests_shoot_in)


def need(kind: NeedKind, due_in: int, *, latest_in: int | None = None, holds: bool = False) -> DueNeed:
    """A need due so many days from today; by default its last day is the day on which it is due."""
    due = TODAY + timedelta(days=due_in)
    last = TODAY + timedelta(days=due_in if latest_in is None else latest_in)
    return DueNeed(kind, due, None if kind in UNDATED else last, f"{kind} reason", holds)


UNDATED = (NeedKind.TIMING_CHECK, NeedKind.SETTLE_IN)


@pytest.mark.parametrize("kind", [NeedKind.REPLACEMENT, NeedKind.INSPECTION])
@pytest.mark.parametrize(("due_in", "word"), [(5, "ready"), (0, "ready"), (-1, "held"), (-30, "held")])
def test_replacement_and_inspection_hold_from_the_day_after_their_date(kind: NeedKind, due_in: int, word: str) -> None:
    found = answer(need(kind, due_in))
    assert (found.word, found.may_go) == (word, word == "ready")
    assert found.warnings == []
    if word == "held":
        assert found.because == [f"{kind.label} was due on {TODAY + timedelta(days=due_in)}: {kind} reason"]


def test_a_deferred_replacement_is_ready_up_to_the_day_it_was_deferred_to() -> None:
    assert answer(need(NeedKind.REPLACEMENT, -10, latest_in=0)).word == "ready"
    assert answer(need(NeedKind.REPLACEMENT, -10, latest_in=-1)).word == "held"


@pytest.mark.parametrize(
    ("due_in", "word"),
    [(1, "ready"), (0, "ready"), (-1, "ready with warning"), (-GRACE, "ready with warning"), (-GRACE - 1, "held")],
)
def test_a_timing_check_warns_for_the_grace_and_then_holds(due_in: int, word: str) -> None:
    found = answer(need(NeedKind.TIMING_CHECK, due_in))
    assert found.word == word
    told = [*found.because, *found.warnings]
    assert bool(told) == (word != "ready")
    assert all(f"due on {TODAY + timedelta(days=due_in)}" in line for line in told)


@pytest.mark.parametrize("due_in", [20, 0, -20])
def test_a_turnaround_finding_holds_whatever_its_date(due_in: int) -> None:
    assert answer(need(NeedKind.TURNAROUND, due_in, holds=True)).word == "held"


@pytest.mark.parametrize(("guests_shoot_in", "word"), [(False, "held"), (True, "ready with warning")])
def test_settle_in_is_the_houses_choice(guests_shoot_in: bool, word: str) -> None:
    found = answer(need(NeedKind.SETTLE_IN, 12), guests_shoot_in=guests_shoot_in)
    assert found.word == word
    if guests_shoot_in:
        assert "check timing when it comes back" in found.warnings[0]
    else:
        assert "staff see to it" in found.because[0]


@pytest.mark.parametrize("kind", [NeedKind.INCIDENT, NeedKind.REPLACEMENT, NeedKind.NOTICE, NeedKind.INSPECTION])
def test_incident_condemned_notice_and_heat_hold_at_once(kind: NeedKind) -> None:
    found = answer(need(kind, 0, holds=True), state=BowState.HELD)
    assert (found.word, found.because) == ("held", [f"{kind} reason"])


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (BowState.RETIRED, ["retired"]),
        (BowState.ON_BENCH, ["on the bench"]),
        (BowState.HELD, ["held until the bench releases it"]),
        (BowState.READY, []),
        (BowState.OUT, []),
    ],
)
def test_where_a_bow_stands(state: str, words: list[str]) -> None:
    """A bow that is out is judged by its needs, for the guest after this one."""
    found = answer(state=state)
    assert (found.because, found.may_go) == (words, not words)


def test_every_reason_is_told_and_one_hold_outweighs_all_warnings() -> None:
    found = answer(
        need(NeedKind.TIMING_CHECK, -3),
        need(NeedKind.INSPECTION, -1),
        need(NeedKind.REPLACEMENT, -2),
        state=BowState.HELD,
    )
    assert found.word == "held"
    assert len(found.because) == 2
    assert len(found.warnings) == 1


class TestFromTheRegister:
    """The same answers from facts: what the verbs wrote, computed as the service computes it."""

    pytestmark = pytest.mark.django_db
    NOW: datetime = personas.NOW

    @pytest.fixture
    def shop(self, db: None) -> personas.Shop:
        return personas.shop()

    def test_a_fresh_settled_bow_is_ready_and_a_dropped_one_is_held(self, shop: personas.Shop) -> None:
        good = self._settled_bow(shop, "L-1")
        dropped = self._settled_bow(shop, "L-2")
        record.report_incident(
            by=shop.counter, bow=dropped, kind="drop", happened_at=self.NOW, key="d", now=self.NOW, note="off the stand"
        )
        decide.refresh([good.pk, dropped.pk], self.NOW)
        found = verdicts_of([good, dropped], self.NOW)
        assert found[good.pk].word == "ready", found[good.pk]
        assert found[dropped.pk].because == ["held since 2026-07-01: drop on 2026-07-01 09:00 MDT"]

    def test_a_condemned_cord_holds_and_the_missing_one_is_named(self, shop: personas.Shop) -> None:
        bow = self._settled_bow(shop, "L-3")
        fitting = Fitting.objects.get(bow=bow, position="upper_cable")
        record.remove_cord(
            by=shop.technician, fitting=fitting, at=self.NOW, why="condemned", finding="broken_strand", now=self.NOW
        )
        decide.refresh([bow.pk], self.NOW)
        because = verdict_of(bow, self.NOW).because
        assert because[0] == "no upper cable in the book: record the cord that is fitted"
        assert "condemned: broken strand" in because[1]

    def test_a_bow_left_in_a_furnace_of_a_car_is_held_until_the_bench_has_released_it(
        self, shop: personas.Shop
    ) -> None:
        """Own edge case: two minutes in a cabin measured at 82 degC, above the hold limit of 80 (assumed)."""
        for tag, cabin_c, word in (("L-4", 69.0, "ready"), ("L-5", 72.0, "ready"), ("L-6", 82.0, "held")):
            bow = self._settled_bow(shop, tag)
            start = personas.before(hours=5)
            record.park_in_vehicle(
                by=shop.counter,
                bow=bow,
                start=start,
                end=start + timedelta(minutes=2),
                cabin_c=cabin_c,
                key=tag,
                now=self.NOW,
            )
            decide.refresh([bow.pk], self.NOW)
            found = verdict_of(bow, self.NOW)
            assert found.word == word, (tag, found)
            kinds = set(bow.needs.filter(due_on=TODAY).values_list("kind", flat=True))
            assert (NeedKind.INSPECTION in kinds) == (cabin_c > 70.0)
            if word == "held":
                assert "179.6 °F, above 176.0 °F" in found.because[0]
            # The day after, an inspection that the heat asks for holds the bow as any other.
            later = verdict_of(bow, self.NOW + timedelta(days=1))
            assert later.may_go == (cabin_c <= 70.0)

    @staticmethod
    def _settled_bow(shop: personas.Shop, tag: str) -> "personas.Bow":
        """A twin-cam bow of ten days, shot in and measured since, looked over when it came."""
        bow = personas.fitted_bow(shop, tag=tag, days_ago=10.0, in_service_on=personas.before(10).date())
        personas.shoot(shop, bow, 150, days_ago=9.0)
        for fitting in bow.fittings.all():
            record.reset_cord(by=shop.technician, fitting=fitting, at=personas.before(8))
        return bow
