"""Bookings to bows: nobody goes without if any assignment allows it, against every assignment there is."""

import itertools
from datetime import UTC, datetime, timedelta
from random import Random

import pytest

from service.plan.assign import WearChoice, assign
from service.plan.guests import GuestBooking, HireBow, Misfit, fit_of, fits_for
from tests.plan.shop import day

TODAY = day(0)


def booking(name: str, first: int = 1, last: int = 1, shots: float = 50, **changes: object) -> GuestBooking:
    return GuestBooking(reference=name, first=day(first), last=day(last), shots=shots, **changes)


def bow(name: str, used: float = 0.2, **changes: object) -> HireBow:
    given = {
        "hand": "right",
        "draw_length_m": (0.66, 0.76),
        "peak_weight_n": (178.0, 267.0),
        "life_used": used,
        "life_per_shot": 0.0002,
        "life_per_day": 0.001,
        "life_limit": 1.0,
        "ready_from": TODAY,
    }
    return HireBow(id=name, **{**given, **changes})


@pytest.mark.parametrize(
    ("asked", "has", "misfit"),
    [
        ({"hand": "left"}, {}, Misfit.HAND),
        ({"draw_length_m": 0.77}, {}, Misfit.DRAW_LENGTH),
        ({"peak_weight_n": (300.0, 330.0)}, {}, Misfit.PEAK_WEIGHT),
        ({"bow": "B2"}, {}, Misfit.OTHER_BOW),
        ({}, {"ready_from": None}, Misfit.NOT_READY),
        ({}, {"ready_from": day(2)}, Misfit.NOT_READY),
        ({}, {"ready_until": day(0)}, Misfit.NOT_READY),
        ({}, {"busy": ((day(1), day(1)),)}, Misfit.NOT_READY),
        ({}, {"life_used": 0.99}, Misfit.WORN),
    ],
)
def test_each_reason_against_a_bow(asked, has, misfit):
    assert fit_of(booking("G", **asked), bow("B1", **has), TODAY).misfits == (misfit,)


def test_life_at_the_end_counts_shots_and_days():
    assert fit_of(booking("G", last=4), bow("B1"), TODAY).life_at_end == pytest.approx(0.2 + 0.004 + 0.01)


def test_after_its_planned_new_set_a_bows_wear_begins_anew():
    worn = bow("B1", 0.999, busy=((day(3), day(3)),), new_set_on=day(3))
    before, after = booking("G", 2, 2), booking("H", 5, 5)
    assert fit_of(before, worn, TODAY).misfits == (Misfit.WORN,)
    assert fit_of(booking("I", 2, 4), worn, TODAY).misfits == (Misfit.NOT_READY,)
    fit = fit_of(after, worn, TODAY)
    assert fit.fits and fit.life_at_end == pytest.approx(2 * 0.001 + 50 * 0.0002)


def test_the_shots_before_and_after_a_new_set_count_apart():
    """A bow with a little life left serves more with a new set in between than the one set would."""
    guests = tuple(booking(f"G{n}", n, n, shots=450) for n in (1, 2, 4, 5, 6))
    renewed = bow("B1", 0.8, life_per_shot=0.0002, life_per_day=0.0, new_set_on=day(3), busy=((day(3), day(3)),))
    found = assign(guests, (renewed,), TODAY)
    assert set(found.bow_of) == {"G1", "G2", "G4", "G5", "G6"}
    heavy = tuple(booking(f"G{n}", n, n, shots=900) for n in (1, 2, 4, 5, 6))
    most = assign(heavy, (renewed,), TODAY)
    assert len(most.bow_of) == 1 + 3 and len(set(most.bow_of) & {"G1", "G2"}) == 1
    assert most.life_at_end["B1"] == pytest.approx(3 * 900 * 0.0002)


def test_the_walk_in_list_puts_the_least_worn_fitting_bow_first():
    fits = fits_for(
        booking("G", hand="left"), (bow("R"), bow("L1", 0.6, hand="left"), bow("L2", 0.3, hand="left")), TODAY
    )
    assert [(fit.bow, fit.fits) for fit in fits] == [("L2", True), ("L1", True), ("R", False)]


def test_the_picky_guest_gets_the_only_bow_that_fits_him():
    bows = (bow("long", draw_length_m=(0.66, 0.80)), bow("short"))
    result = assign((booking("any", draw_length_m=0.70), booking("tall", draw_length_m=0.79)), bows, TODAY)
    assert result.bow_of == {"any": "short", "tall": "long"}
    assert result.most_served
    assert result.without == ()


def test_who_goes_without_is_told_why():
    result = assign((booking("a"), booking("b"), booking("lefty", hand="left")), (bow("B1"),), TODAY)
    sentences = {w.booking: w.sentence for w in result.without}
    assert len(result.bow_of) == 1
    assert "other hand on 1" in sentences["lefty"]
    assert any("go out with" in s for s in sentences.values())


def test_the_limit_counts_all_bookings_of_a_bow():
    tired = bow("B1", 0.95, life_per_day=0.0)
    result = assign((booking("a", 1, 1, 150), booking("b", 3, 3, 150)), (tired,), TODAY)
    assert len(result.bow_of) == 1
    assert "pass their limit" in result.without[0].sentence


def test_levelling_takes_the_least_worn_and_oldest_first_the_most_worn():
    bows = (bow("worn", 0.7), bow("fresh", 0.1))
    asked = (booking("a"),)
    assert assign(asked, bows, TODAY, WearChoice.LEVEL).bow_of == {"a": "fresh"}
    assert assign(asked, bows, TODAY, WearChoice.OLDEST_FIRST).bow_of == {"a": "worn"}


def hours(first: int, last: int) -> dict[str, object]:
    noon = datetime(2026, 3, 3, tzinfo=UTC)
    return {"hours": (noon + timedelta(hours=first), noon + timedelta(hours=last))}


def test_one_bow_serves_two_guests_on_one_day_one_after_the_other():
    result = assign((booking("a", **hours(10, 11)), booking("b", **hours(11, 12))), (bow("B1"),), TODAY)
    assert result.bow_of == {"a": "B1", "b": "B1"}


def test_hours_that_overlap_or_are_not_known_take_two_bows():
    for other in (hours(10, 12), {}):
        result = assign((booking("a", **hours(9, 11)), booking("b", **other)), (bow("B1"),), TODAY)
        assert len(result.bow_of) == 1


def test_shots_on_one_day_count_together_against_the_limit():
    tired = bow("B1", 0.95, life_per_day=0.0)
    asked = (booking("a", shots=150, **hours(10, 11)), booking("b", shots=150, **hours(11, 12)))
    assert len(assign(asked, (tired,), TODAY).bow_of) == 1


def test_hours_that_end_before_they_begin_are_refused():
    with pytest.raises(ValueError, match="not after"):
        booking("a", **hours(11, 10))


def test_no_bows_and_no_bookings():
    assert assign((), (bow("B1"),), TODAY).bow_of == {}
    assert assign((booking("a"),), (), TODAY).without[0].sentence == "the site has no bow."


def most_served(bookings: tuple[GuestBooking, ...], bows: tuple[HireBow, ...]) -> int:
    """Every assignment tried, with its own check of overlap and limits."""
    best = 0
    for chosen in itertools.product([None, *bows], repeat=len(bookings)):
        pairs = [(k, b) for k, b in zip(bookings, chosen, strict=True) if b is not None]
        if len(pairs) > best and all(fit_of(k, b, TODAY).fits for k, b in pairs) and _possible(pairs):
            best = len(pairs)
    return best


def _possible(pairs: list[tuple[GuestBooking, HireBow]]) -> bool:
    for k, b in pairs:
        mine = [j for j, other in pairs if other is b]
        if any(j is not k and j.first <= k.last and k.first <= j.last for j in mine):
            return False
        shots = sum(j.shots for j in mine if j.last <= k.last)
        aged = b.life_used + b.life_per_day * (k.last - TODAY).days
        if aged + b.life_per_shot * shots > b.life_limit + 1e-9:
            return False
    return True


@pytest.mark.parametrize("seed", range(60))
def test_as_many_are_served_as_any_assignment_serves(seed):
    rng = Random(seed)
    bows = tuple(
        bow(f"B{n}", rng.choice((0.2, 0.9, 0.96)), hand=rng.choice(("left", "right"))) for n in range(rng.randint(1, 3))
    )
    bookings = []
    for n in range(rng.randint(1, 6)):
        first = rng.randint(0, 5)
        hand = rng.choice((None, "left", "right"))
        bookings.append(booking(f"G{n}", first, first + rng.randint(0, 2), rng.choice((50, 150)), hand=hand))
    for choice in WearChoice:
        result = assign(tuple(bookings), bows, TODAY, choice)
        pairs = [
            (k, next(b for b in bows if b.id == result.bow_of[k.reference]))
            for k in bookings
            if k.reference in result.bow_of
        ]
        assert _possible(pairs)
        assert len(pairs) == most_served(tuple(bookings), bows)
        assert result.most_served
        assert {w.booking for w in result.without} == {k.reference for k in bookings} - set(result.bow_of)
