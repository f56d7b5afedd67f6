"""What a bow needs, rule by rule: the window of days and the reason in numbers (invented cases)."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fleet.vocabulary import BowKind, HoldReason
from service.house import LONGEST_DEFERRAL_DAYS
from service.models import NeedKind
from service.needs import HOLD_NEEDS, BowFacts, CordFacts, HeatFacts, NeedFacts, OpenHold, TimingFacts, needs_of

TODAY = date(2026, 7, 1)


def day(ahead: int) -> date:
    return TODAY + timedelta(days=ahead)


STRING = CordFacts(
    fitting_id=1,
    position="string",
    spec_code="OC-S58",
    fitted_on=day(-200),
    life_used=0.62,
    replace_on=day(40),
    replace_reason="string at 0.62 of rated life: shots 0.40, time 0.17, heat 0.05",
    inspect_within_days=90.0,
    shots_since_fitted=2_000.0,
    shots_per_day=12.0,
    settled=True,
    settle_in_shots=100.0,
)
CABLE = replace(STRING, fitting_id=2, position="upper_cable", spec_code="OC-U36", replace_on=day(60), life_used=0.4)
BOW = BowFacts(
    bow_id=7,
    bow_kind=BowKind.COMPOUND,
    in_service_on=day(-300),
    last_inspected_on=day(-5),
    inspection_max_days=30,
    cords=(STRING, CABLE),
)


def the(kind: NeedKind, bow: BowFacts) -> NeedFacts:
    found = [need for need in needs_of(bow, TODAY) if need.kind == kind]
    assert len(found) == 1, found
    return found[0]


def kinds(bow: BowFacts) -> set[str]:
    return {need.kind for need in needs_of(bow, TODAY)}


class TestReplacement:
    def test_the_set_is_due_when_its_first_cord_is(self) -> None:
        need = the(NeedKind.REPLACEMENT, BOW)
        assert (need.earliest_on, need.due_on, need.latest_on) == (day(40 - 14), day(40), day(40))
        assert (need.fitting_id, need.reason) == (1, STRING.replace_reason)
        assert need.parts == {"OC-S58": 1, "OC-U36": 1}
        assert not need.holds

    def test_cords_of_one_make_are_counted_and_a_missing_one_is_added(self) -> None:
        lower = replace(CABLE, fitting_id=3, position="lower_cable")
        need = the(NeedKind.REPLACEMENT, replace(BOW, cords=(STRING, CABLE, lower)))
        assert need.parts == {"OC-S58": 1, "OC-U36": 2}
        need = the(NeedKind.REPLACEMENT, replace(BOW, cords=(CABLE,), missing_parts={"OC-S58": 1}))
        assert need.parts == {"OC-S58": 1, "OC-U36": 1}

    def test_a_deferral_moves_only_the_last_day_and_never_nearer(self) -> None:
        later = replace(BOW, deferred={NeedKind.REPLACEMENT: day(50)})
        assert the(NeedKind.REPLACEMENT, later).latest_on == day(50)
        assert the(NeedKind.REPLACEMENT, later).due_on == day(40)
        sooner = replace(BOW, deferred={NeedKind.REPLACEMENT: day(10)})
        assert the(NeedKind.REPLACEMENT, sooner).latest_on == day(40)

    def test_a_deferral_ends_at_the_hard_limit_however_far_it_was_written(self) -> None:
        """The limit comes nearer when the bow is used more: what was written then does not carry it past."""
        far = replace(BOW, deferred={NeedKind.REPLACEMENT: day(400)})
        assert the(NeedKind.REPLACEMENT, far).latest_on == day(40 + LONGEST_DEFERRAL_DAYS)
        limited = replace(far, cords=(replace(STRING, hard_limit_on=day(45)), replace(CABLE, hard_limit_on=day(90))))
        assert the(NeedKind.REPLACEMENT, limited).latest_on == day(45)
        past = replace(far, cords=(replace(STRING, hard_limit_on=day(0)),))
        assert the(NeedKind.REPLACEMENT, past).latest_on == day(40)

    def test_without_a_date_there_is_no_need(self) -> None:
        undated = replace(BOW, cords=(replace(STRING, replace_on=None),))
        assert NeedKind.REPLACEMENT not in kinds(undated)


class TestInspection:
    def test_the_house_maximum_counts_from_the_last_one(self) -> None:
        need = the(NeedKind.INSPECTION, BOW)
        assert (need.due_on, need.latest_on, need.earliest_on) == (day(25), day(25), day(15))
        assert need.reason == f"last looked over on {day(-5)}; the house maximum is 30 days"

    def test_a_cord_at_risk_shortens_it_and_says_which(self) -> None:
        need = the(NeedKind.INSPECTION, replace(BOW, cords=(STRING, replace(CABLE, inspect_within_days=11.8))))
        assert need.due_on == day(-5 + 11)
        assert need.reason.endswith("upper cable at 0.40 of rated life allows 11 days")

    def test_a_cord_past_all_risk_is_due_a_day_after_the_last_look(self) -> None:
        assert the(NeedKind.INSPECTION, replace(BOW, cords=(replace(STRING, inspect_within_days=0.2),))).due_on == day(
            -4
        )

    def test_never_inspected_counts_from_its_first_day(self) -> None:
        need = the(NeedKind.INSPECTION, replace(BOW, last_inspected_on=None, in_service_on=day(-40)))
        assert need.due_on == day(-10)
        assert need.reason.startswith(f"never inspected since it came on {day(-40)}")

    def test_a_bow_without_cords_is_not_inspected(self) -> None:
        assert kinds(replace(BOW, cords=())) == set()

    @pytest.mark.parametrize("holds", [False, True])
    def test_heat_asks_for_one_today_in_place_of_the_routine_one(self, holds: bool) -> None:
        need = the(NeedKind.INSPECTION, replace(BOW, heat=HeatFacts("Cords reached 82 °C", holds)))
        assert (need.due_on, need.latest_on, need.holds) == (TODAY, TODAY, holds)
        assert need.reason == "Cords reached 82 °C"


class TestTimingAndSettleIn:
    def test_a_timing_check_has_no_last_day_of_its_own(self) -> None:
        bow = replace(BOW, timing=TimingFacts(day(9), "upper hole distance leaves 1/16 in"))
        need = the(NeedKind.TIMING_CHECK, bow)
        assert (need.earliest_on, need.due_on, need.latest_on) == (day(-1), day(9), None)
        assert need.reason == "upper hole distance leaves 1/16 in"
        assert NeedKind.TIMING_CHECK not in kinds(BOW)

    def test_settle_in_is_due_when_its_shots_will_be_shot(self) -> None:
        fresh = replace(STRING, settled=False, shots_since_fitted=40.0, fitted_on=day(-2), shots_per_day=12.0)
        need = the(NeedKind.SETTLE_IN, replace(BOW, cords=(fresh, CABLE)))
        # 60 shots at 12 a day are five days; the day after, they are shot.
        assert (need.due_on, need.earliest_on, need.latest_on, need.fitting_id) == (day(6), TODAY, None, 1)
        assert need.reason == (f"string fitted on {day(-2)} has 40 of 100 settle-in shots: 60 are left to shoot in")

    @pytest.mark.parametrize(
        ("shots", "per_day", "fitted", "due"),
        [(120.0, 12.0, -3, 0), (100.0, 12.0, -3, 0), (0.0, 0.0, -3, 27), (0.0, 0.0, -40, -10), (0.0, 0.1, -3, 27)],
        ids=["shot already", "just shot", "no use at all", "a month is over", "hardly used"],
    )
    def test_settle_in_waits_no_longer_than_a_month(self, shots: float, per_day: float, fitted: int, due: int) -> None:
        fresh = replace(STRING, settled=False, shots_since_fitted=shots, fitted_on=day(fitted), shots_per_day=per_day)
        assert the(NeedKind.SETTLE_IN, replace(BOW, cords=(fresh,))).due_on == day(due)

    @pytest.mark.parametrize("kind", [BowKind.RECURVE, BowKind.LONGBOW])
    def test_only_a_compound_has_timing_to_read_again(self, kind: str) -> None:
        fresh = replace(STRING, settled=False)
        assert NeedKind.SETTLE_IN not in kinds(replace(BOW, bow_kind=kind, cords=(fresh,)))


class TestHoldsAndNotices:
    @pytest.mark.parametrize("reason", HoldReason.values)
    def test_every_reason_to_hold_has_its_work(self, reason: str) -> None:
        need = the(HOLD_NEEDS[reason], replace(BOW, holds=(OpenHold(reason, "what happened", day(-3)),)))
        assert (need.earliest_on, need.due_on, need.latest_on, need.holds) == (day(-3), day(-3), day(-3), True)
        assert need.reason == f"held since {day(-3)}: what happened"

    def test_a_condemned_cord_takes_the_set_with_it(self) -> None:
        held = replace(
            BOW, cords=(CABLE,), missing_parts={"OC-S58": 1}, holds=(OpenHold("condemned", "string", day(0)),)
        )
        assert the(NeedKind.REPLACEMENT, held).parts == {"OC-S58": 1, "OC-U36": 1}

    def test_two_holds_of_one_kind_are_one_need_from_the_first(self) -> None:
        twice = (OpenHold("incident", "drop", day(-4)), OpenHold("incident", "dry fire", day(-1)))
        assert the(NeedKind.INCIDENT, replace(BOW, holds=twice)).reason == f"held since {day(-4)}: drop"

    def test_a_hold_stands_in_for_the_routine_need_of_its_kind(self) -> None:
        held = replace(BOW, holds=(OpenHold("unknown_use", "its use is unknown", day(-2)),))
        assert the(NeedKind.INSPECTION, held).holds

    def test_a_notice_is_due_on_its_day(self) -> None:
        need = the(NeedKind.NOTICE, replace(BOW, notices=(("Check the axle clips", day(20)),)))
        assert (need.earliest_on, need.due_on, need.latest_on) == (day(6), day(20), day(20))
        assert (need.reason, need.holds) == ("notice: Check the axle clips", False)


def test_the_soonest_comes_first_and_each_kind_once() -> None:
    everything = replace(
        BOW,
        cords=(replace(STRING, settled=False), CABLE),
        holds=(OpenHold("incident", "dry fire", day(-1)),),
        timing=TimingFacts(day(3), "leaves"),
        notices=(("Check", day(2)),),
    )
    found = needs_of(everything, TODAY)
    assert [need.due_on for need in found] == sorted(need.due_on for need in found)
    assert len({need.kind for need in found}) == len(found) == 6
    assert found[0].kind is NeedKind.INCIDENT
