"""Places in a picture: ends, steps, bands and marks by hand."""

import numpy as np

from service.plot import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Axes


def test_the_corners_of_the_axes_are_the_corners_of_the_picture() -> None:
    axes = Axes(2.0)
    assert (axes.x(0.0), axes.x(2.0), axes.y(0.0), axes.y(1.0)) == (LEFT, WIDTH - RIGHT, HEIGHT - BOTTOM, TOP)
    assert axes.x(5.0) == axes.x(2.0)


def test_steps_go_across_and_then_down_and_end_where_nothing_more_was_seen() -> None:
    axes = Axes(2.0)
    path = axes.steps(np.array([0.5, 1.0]), np.array([0.75, 0.5]), 1.5)
    places = [axes.x(0.5), axes.y(0.75), axes.x(1.0), axes.y(0.5), axes.x(1.5)]
    assert path == f"M{axes.x(0.0)} {axes.y(1.0)}H{places[0]}V{places[1]}H{places[2]}V{places[3]}H{places[4]}"


def test_a_band_closes_on_itself() -> None:
    axes, ages = Axes(2.0), np.array([0.5, 1.0])
    band = axes.step_band(ages, np.array([0.4, 0.2]), np.array([0.9, 0.8]), 1.5)
    assert band.startswith(axes.steps(ages, np.array([0.9, 0.8]), 1.5))
    assert band.endswith(f"V{axes.y(0.2)}H{axes.x(1.0)}V{axes.y(0.4)}H{axes.x(0.5)}V{axes.y(1.0)}Z")


def test_marks_on_one_place_are_drawn_once() -> None:
    axes = Axes(1.0)
    marks = axes.marks(np.array([0.5, 0.5, 0.5001, 0.9]), np.array([1.0, 1.0, 1.0, 1.0]))
    assert marks == [(axes.x(0.5), axes.y(1.0)), (axes.x(0.9), axes.y(1.0))]


def test_ticks_are_round_and_few() -> None:
    for right in (0.4, 1.5, 2.2, 7.0, 60.0):
        ticks = Axes(right).x_ticks()
        assert 3 <= len(ticks) <= 9, right
        assert ticks[0].text == "0"
    assert [tick.text for tick in Axes(1.0).y_ticks_percent()] == ["0 %", "25 %", "50 %", "75 %", "100 %"]
