"""Use: shots are never counted twice, corrections supersede, withdrawn shots do not count; checks between guests."""

import pytest
from django.db import IntegrityError, transaction
from django.db.models import Sum

from fleet import lookups, record
from fleet.models import Bow, Shots, TurnaroundCheck
from fleet.record import Refused
from fleet.vocabulary import BowState
from tests import personas
from tests.personas import NOW, Shop, before


def counted(bow: Bow) -> int:
    return Shots.objects.filter(bow=bow, superseded_at=None).aggregate(total=Sum("count"))["total"] or 0


def test_the_same_key_is_the_same_entry(shop: Shop, bow: Bow) -> None:
    first = personas.shoot(shop, bow, 40, key="phone-1")
    second = personas.shoot(shop, bow, 40, key="phone-1")

    assert first == second
    assert counted(bow) == 40


def test_a_key_used_for_something_else_is_refused(shop: Shop, bow: Bow) -> None:
    personas.shoot(shop, bow, 40, key="phone-1")

    with pytest.raises(Refused, match=r"key 'phone-1' was used for another entry, whose count is 40 and not 41"):
        personas.shoot(shop, bow, 41, key="phone-1")
    assert counted(bow) == 40


def test_the_database_itself_keeps_keys_apart(shop: Shop, bow: Bow) -> None:
    entry = personas.shoot(shop, bow, 40, key="phone-1")
    entry.pk = None

    with pytest.raises(IntegrityError), transaction.atomic():
        entry.save(force_insert=True)


def test_a_correction_supersedes_and_the_old_row_stays(shop: Shop, bow: Bow) -> None:
    entry = personas.shoot(shop, bow, 400, key="typed", how_known="scorecard", count_sd=5.0)

    newer = record.correct_shots(by=shop.manager, entry=entry, count=40, key="typed-2", now=NOW)

    entry.refresh_from_db()
    assert (entry.count, entry.superseded_at) == (400, NOW)
    assert newer.replaces == entry
    assert (newer.start, newer.end, newer.how_known, newer.count_sd) == (entry.start, entry.end, "scorecard", 5.0)
    assert counted(bow) == 40


def test_a_correction_sent_twice_is_one_correction(shop: Shop, bow: Bow) -> None:
    entry = personas.shoot(shop, bow, 400, key="typed")
    newer = record.correct_shots(by=shop.manager, entry=entry, count=40, key="typed-2", now=NOW)
    entry.refresh_from_db()

    assert record.correct_shots(by=shop.manager, entry=entry, count=40, key="typed-2", now=NOW) == newer
    assert counted(bow) == 40


def test_an_entry_is_corrected_once_even_from_a_stale_page(shop: Shop, bow: Bow) -> None:
    entry = personas.shoot(shop, bow, 400, key="typed")
    stale = Shots.objects.get(pk=entry.pk)
    record.correct_shots(by=shop.manager, entry=entry, count=40, key="typed-2", now=NOW)

    with pytest.raises(Refused, match=r"already corrected or withdrawn: correct the newer one"):
        record.correct_shots(by=shop.manager, entry=stale, count=50, key="typed-3", now=NOW)
    assert counted(bow) == 40


def test_a_replay_of_the_corrected_entry_does_not_bring_it_back(shop: Shop, bow: Bow) -> None:
    entry = personas.shoot(shop, bow, 400, key="typed")
    record.correct_shots(by=shop.manager, entry=entry, count=40, key="typed-2", now=NOW)

    personas.shoot(shop, bow, 400, key="typed")

    assert counted(bow) == 40


def test_withdrawn_shots_do_not_count_and_stay_in_the_book(shop: Shop, bow: Bow) -> None:
    entry = personas.shoot(shop, bow, 60)
    personas.shoot(shop, bow, 30, days_ago=2)

    record.withdraw_shots(by=shop.manager, entry=entry, why="was the bow beside it", now=NOW)

    assert counted(bow) == 30
    assert Shots.objects.get(pk=entry.pk).superseded_at == NOW
    with pytest.raises(Refused, match=r"Say why these shots are struck out"):
        record.withdraw_shots(by=shop.manager, entry=entry, why="", now=NOW)


def test_late_entries_are_welcome(shop: Shop, bow: Bow) -> None:
    personas.shoot(shop, bow, 30, days_ago=1)
    personas.shoot(shop, bow, 45, days_ago=80)

    assert counted(bow) == 75


@pytest.mark.parametrize(
    ("count", "text"),
    [
        (-1, r"shots -1 shots in one entry is outside 0 to 5000 shots in one entry: check the count, or split it"),
        (5_001, r"shots 5001 shots in one entry is outside 0 to 5000 shots in one entry: check the count"),
        (12.5, r"shots 12\.5 shots in one entry is not a whole number: count them again"),
        (float("nan"), r"shots nan shots in one entry is outside 0 to 5000"),
    ],
)
def test_impossible_counts_are_refused(shop: Shop, bow: Bow, count: int, text: str) -> None:
    with pytest.raises(Refused, match=text):
        personas.shoot(shop, bow, count)
    assert counted(bow) == 0


def test_impossible_times_are_refused(shop: Shop, bow: Bow) -> None:
    with pytest.raises(
        Refused, match=r"shots end at 2026-06-30 15:00 UTC before they begin at 2026-07-01 15:00 UTC: swap"
    ):
        personas.shoot(shop, bow, 40, start=NOW, end=before(1))
    with pytest.raises(Refused, match=r"shots end 2026-07-02 15:00 UTC lies in the future"):
        personas.shoot(shop, bow, 40, start=NOW, end=before(-1))
    with pytest.raises(Refused, match=r"shots begin 2026-07-01T15:00:00 has no time zone"):
        personas.shoot(shop, bow, 40, start=NOW.replace(tzinfo=None))
    with pytest.raises(IntegrityError), transaction.atomic():
        Shots.objects.create(
            bow=bow,
            start=NOW,
            end=before(1),
            count=1,
            how_known="counter",
            key="k",
            entered_at=NOW,
            entered_by=shop.counter,
        )


def test_a_clock_five_minutes_fast_is_forgiven(shop: Shop, bow: Bow) -> None:
    personas.shoot(shop, bow, 40, start=before(0.1), end=before(hours=-5 / 60))

    assert counted(bow) == 40


def test_how_the_count_is_known_is_one_of_three(shop: Shop, bow: Bow) -> None:
    with pytest.raises(Refused, match=r"how known 'guessed' is not one of counter, scorecard, estimated"):
        personas.shoot(shop, bow, 40, how_known="guessed")


def turnaround(shop: Shop, bow: Bow, verdict: str, key: str = "t-1", **changes: object) -> TurnaroundCheck:
    given = {"answers": {"cams": "fine"}, "measurements": [], "at": before(0.1)}
    return record.record_turnaround(by=shop.counter, bow=bow, verdict=verdict, key=key, **{**given, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("verdict", "state"), [("ready", BowState.READY), ("check_timing", BowState.HELD), ("hold", BowState.HELD)]
)
def test_a_verdict_other_than_ready_holds_the_bow(shop: Shop, bow: Bow, verdict: str, state: str) -> None:
    check = turnaround(shop, bow, verdict)

    assert lookups.state_of(bow) == state
    assert (check.answers, check.verdict) == ({"cams": "fine"}, verdict)


def test_a_turnaround_sent_twice_holds_once(shop: Shop, bow: Bow) -> None:
    assert turnaround(shop, bow, "hold") == turnaround(shop, bow, "hold")

    assert len(lookups.open_holds(bow)) == 1
    with pytest.raises(Refused, match=r"key 't-1' was used for another entry, whose verdict is hold and not ready"):
        turnaround(shop, bow, "ready")
