"""The cut of candidates: as many are served among the shortlists as among all bows, whatever the bookings and bows."""

from datetime import UTC, datetime, timedelta
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from service.plan.assign import assign
from service.plan.first_come import first_come
from service.plan.guests import GuestBooking, HireBow, clash, fit_of, life_by_time
from service.plan.shortlist import clashes, has_room, most_shots, shortlists
from tests.plan.shop import day

TODAY = day(0)
MIDNIGHT = datetime(TODAY.year, TODAY.month, TODAY.day, tzinfo=UTC)


@st.composite
def bookings(draw: st.DrawFn) -> tuple[GuestBooking, ...]:
    """Up to seven, by the hour or by the day, each with some needs."""
    found = []
    for n in range(draw(st.integers(1, 7))):
        first = draw(st.integers(0, 4))
        last, hours = first + draw(st.integers(0, 2)), None
        if draw(st.booleans()):
            begin = MIDNIGHT + timedelta(days=first, hours=draw(st.integers(8, 11)))
            last, hours = first, (begin, begin + timedelta(hours=draw(st.integers(1, 3))))
        found.append(
            GuestBooking(
                reference=f"G{n}",
                first=day(first),
                last=day(last),
                shots=draw(st.sampled_from([0.0, 50.0, 150.0, 400.0])),
                hand=draw(st.sampled_from([None, "left", "right"])),
                bow=draw(st.sampled_from([None] * 9 + ["B0"])),
                hours=hours,
            )
        )
    return tuple(found)


@st.composite
def bows(draw: st.DrawFn) -> tuple[HireBow, ...]:
    """Up to six: fresh, tired, nearly worn out, some with a new set planned, some busy."""
    found = []
    for n in range(draw(st.integers(0, 6))):
        new_set = draw(st.sampled_from([None, None, None, day(2)]))
        found.append(
            HireBow(
                id=f"B{n}",
                hand=draw(st.sampled_from(["left", "right", "right"])),
                draw_length_m=(0.6, 0.8),
                peak_weight_n=(150.0, 260.0),
                life_used=draw(st.sampled_from([0.0, 0.3, 0.85, 0.93, 0.97, 1.02])),
                life_per_shot=draw(st.sampled_from([0.0, 0.0001, 0.0003])),
                life_per_day=draw(st.sampled_from([0.0, 0.004])),
                life_limit=1.0,
                ready_from=draw(st.sampled_from([TODAY, TODAY, day(1), None])),
                busy=((new_set, new_set),) if new_set else (),
                new_set_on=new_set,
            )
        )
    return tuple(found)


def offers(asked: tuple[GuestBooking, ...], there: tuple[HireBow, ...]) -> list[list[HireBow]]:
    """The bows that fit each booking, the least worn first."""
    order = sorted(there, key=lambda bow: (bow.life_used, bow.id))
    return [[bow for bow in order if fit_of(one, bow, TODAY).fits] for one in asked]


@settings(max_examples=150, deadline=None)
@given(bookings(), bows())
def test_as_many_are_served_among_the_shortlists_as_among_all(
    asked: tuple[GuestBooking, ...], there: tuple[HireBow, ...]
) -> None:
    lists = shortlists(asked, offers(asked, there), TODAY)
    among = {one.reference: {bow.id for bow in some} for one, some in zip(asked, lists, strict=True)}
    cut, uncut = assign(asked, there, TODAY, among=among), assign(asked, there, TODAY)
    assert cut.most_served and uncut.most_served
    assert len(cut.bow_of) == len(uncut.bow_of)
    assert all(bow in among[reference] for reference, bow in cut.bow_of.items())


def test_the_lists_are_short_where_bows_have_room() -> None:
    asked = tuple(GuestBooking(f"G{n}", day(n // 2), day(n // 2), 50.0) for n in range(20))
    there = tuple(
        HireBow(f"B{n:02}", "right", (0.6, 0.8), (150.0, 260.0), 0.1, 0.0001, 0.0, 1.0, TODAY) for n in range(50)
    )
    lists = shortlists(asked, [there] * len(asked), TODAY)
    # One other booking a day clashes with each: two bows with room are enough.
    assert {len(some) for some in lists} == {2}


@settings(max_examples=100, deadline=None)
@given(bookings(), bows())
def test_a_bow_with_room_stays_within_its_limit_whatever_it_serves(
    asked: tuple[GuestBooking, ...], there: tuple[HireBow, ...]
) -> None:
    shots, last, rivals = most_shots(asked), max(one.last for one in asked), clashes(asked)
    for k, other in combinations(range(len(asked)), 2):
        assert (other in rivals[k]) == clash(asked[k], asked[other])
    for some in (c for n in range(len(asked) + 1) for c in combinations(range(len(asked)), n)):
        if any(other in rivals[k] for k, other in combinations(some, 2)):
            continue
        served = [asked[k] for k in some]
        assert sum(one.shots for one in served) <= shots
        for bow in (bow for bow in there if has_room(bow, shots, len(asked), last, TODAY)):
            assert all(_life(bow, served, one) <= bow.life_limit for one in served)


@settings(max_examples=150, deadline=None)
@given(bookings(), bows(), st.booleans())
def test_the_first_assignment_is_one(asked: tuple[GuestBooking, ...], there: tuple[HireBow, ...], level: bool) -> None:
    offer = dict(zip((one.reference for one in asked), offers(asked, there), strict=True))
    found = first_come(asked, lambda one: offer[one.reference], TODAY, level=level)
    serves: dict[str, list[GuestBooking]] = {}
    for one in asked:
        if one.reference in found:
            assert found[one.reference] in offer[one.reference]
            serves.setdefault(found[one.reference].id, []).append(one)
    for bow in there:
        mine = serves.get(bow.id, [])
        assert not any(clash(one, other) for one, other in combinations(mine, 2))
        assert all(_life(bow, mine, one) <= bow.life_limit + 1e-9 for one in mine)


def _life(bow: HireBow, served: list[GuestBooking], end: GuestBooking) -> float:
    same = bow.has_new_set(end.last)
    shots = sum(one.shots for one in served if one.last <= end.last and bow.has_new_set(one.last) == same)
    return life_by_time(bow, TODAY, end.last) + bow.life_per_shot * shots
