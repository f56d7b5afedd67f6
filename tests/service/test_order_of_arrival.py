"""The same facts in another order give the same wear: each comes in through its verb, its commit and its refresh."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
import time_machine
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from fleet import record
from fleet.models import Bow, Place
from fleet.record import TemperatureRow
from service.models import CordWear
from tests import personas
from tests.committed import committed_book

__all__ = ["committed_book"]

NOW = personas.NOW
EXACT = 1e-9
SLOT = timedelta(hours=60)
NUMBERS = ("shots_weighted", "tension_h", "shelf_h", "heat_h", "life_used", "reset_shots", "reset_heat_h", "hottest_c")
Fact = Callable[[personas.Shop, Bow, Place, str], Any]


def slot(n: int, hours: float = 0.0) -> datetime:
    """The begin of the n-th of forty stretches of 60 h before now, and some hours on."""
    return NOW - SLOT * (n + 1) + timedelta(hours=hours)


def shots(n: int, hours: float, length: float, count: int) -> Fact:
    def enter(shop: personas.Shop, bow: Bow, place: Place, key: str) -> Any:
        start = slot(n, hours)
        end = min(start + timedelta(hours=length), NOW)
        personas.shoot(shop, bow, count, start=start, end=end, key=key)

    return enter


def corrected(n: int, count: int) -> Fact:
    """An entry that was wrong at first; its correction comes with it."""

    def enter(shop: personas.Shop, bow: Bow, place: Place, key: str) -> Any:
        entry = personas.shoot(shop, bow, 999, start=slot(n), end=slot(n, 1.0), key=key)
        record.correct_shots(by=shop.counter, entry=entry, count=count, key=f"{key}-right", now=NOW)

    return enter


def stay(n: int, hours: float) -> Fact:
    return lambda shop, bow, place, key: record.add_stay(
        by=shop.technician, bow=bow, place=place, start=slot(n), end=slot(n, hours), now=NOW
    )


def parking(n: int, outside_c: float, boot: bool) -> Fact:
    return lambda shop, bow, place, key: record.park_in_vehicle(
        by=shop.counter,
        bow=bow,
        start=slot(n, 10.0),
        end=slot(n, 14.0),
        outside_c=outside_c,
        boot=boot,
        key=key,
        now=NOW,
    )


def relaxed(n: int, hours: float) -> Fact:
    return lambda shop, bow, place, key: record.relax(
        by=shop.technician, bow=bow, start=slot(n, 5.0), end=slot(n, 5.0 + hours), why="press", now=NOW
    )


def set_up(n: int, weight_n: float) -> Fact:
    return lambda shop, bow, place, key: record.set_up(
        by=shop.technician, bow=bow, since=slot(n), draw_length_m=0.7, peak_weight_n=weight_n, now=NOW
    )


def readings(n: int, celsius: list[float]) -> Fact:
    return lambda shop, bow, place, key: record.add_many_readings(
        by=shop.technician,
        rows=[TemperatureRow(place, slot(n, 2.0 * i), value) for i, value in enumerate(celsius)],
        source="logger",
    )


def reset(n: int) -> Fact:
    return lambda shop, bow, place, key: record.reset_cord(
        by=shop.technician, fitting=bow.fittings.get(position="string", removed_at=None), at=slot(n)
    )


slots, hours = st.integers(0, 38), st.floats(0.25, 59.0)
entries = st.lists(
    st.one_of(
        st.builds(shots, slots, hours, st.sampled_from([0.0, 1.0, 30.0, 700.0]), st.integers(0, 300)),
        st.builds(corrected, slots, st.integers(0, 300)),
    ),
    max_size=6,
)
# A logger reads an instant once: two values for one instant are refused, in whichever order they come.
logged = st.lists(
    st.tuples(slots, st.lists(st.floats(-10.0, 60.0), min_size=1, max_size=5)),
    max_size=4,
    unique_by=lambda one: one[0],
)
facts = st.tuples(entries, logged).map(lambda both: [*both[0], *(readings(n, values) for n, values in both[1])])
# One of each a slot, so that none overlaps another.
apart = st.lists(
    st.tuples(slots, st.sampled_from(["stay", "parking", "relaxed", "set_up", "reset"]), hours),
    max_size=6,
    unique_by=lambda one: one[:2],
)


def placed(n: int, what: str, number: float) -> Fact:
    kinds: dict[str, Callable[[], Fact]] = {
        "stay": lambda: stay(n, number),
        "parking": lambda: parking(n, number - 15.0, number > 30.0),
        "relaxed": lambda: relaxed(n, min(number, 50.0)),
        "set_up": lambda: set_up(n, 150.0 + number),
        "reset": lambda: reset(n),
    }
    return kinds[what]()


@pytest.mark.usefixtures("committed_book")
def test_no_result_depends_on_the_order_of_arrival() -> None:
    shop = personas.shop()
    string = personas.cord_spec(shop.owner, "string", rated_peak_weight_n=180.0)
    sheet = personas.spec_sheet(shop.owner, kind="recurve", code="R", cords={"string": string})
    runs = iter(range(10_000))

    def wear_after(facts: list[tuple[str, Fact]], run: int, n: int) -> CordWear:
        place = record.put_place(by=shop.owner, site=shop.site, name=f"{run}-{n}", temperature_source="logger")
        bow = personas.bare_bow(shop, sheet, f"O-{run}-{n}")
        personas.fit(shop, bow, personas.cord(shop, string))
        for name, fact in facts:
            fact(shop, bow, place, f"{run}-{n}-{name}")
        return CordWear.objects.get(fitting__bow=bow)

    @settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
    @given(facts, apart, st.randoms(use_true_random=False))
    def in_two_orders(entries: list[Fact], spread: list[tuple[int, str, float]], random: Any) -> None:
        run = next(runs)
        named = [(str(i), fact) for i, fact in enumerate([*entries, *(placed(*one) for one in spread)])]
        other = list(named)
        random.shuffle(other)
        one, two = wear_after(named, run, 1), wear_after(other, run, 2)
        for number in NUMBERS:
            found = [np.nan if (value := getattr(wear, number)) is None else value for wear in (one, two)]
            np.testing.assert_allclose(found[1], found[0], rtol=EXACT, atol=EXACT, err_msg=number)
        assert one.reset_at == two.reset_at

    with time_machine.travel(NOW, tick=False):
        in_two_orders()
