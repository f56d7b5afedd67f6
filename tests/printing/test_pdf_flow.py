"""What goes on which page."""

import pytest

from service.printing.pdf_flow import Strip, paginate


def strip(height: float, *, with_next: bool = False, repeat: Strip | None = None) -> Strip:
    return Strip(height, lambda canvas, top: None, with_next=with_next, repeat=repeat)


def heights(pages: list[list[Strip]]) -> list[list[float]]:
    return [[each.height for each in page] for page in pages]


def test_strips_fill_a_page_and_go_on():
    assert heights(paginate([strip(4), strip(5), strip(3)], 10, 10)) == [[4, 5], [3]]


def test_a_page_is_filled_to_its_last_point():
    thirds = [strip(10 / 3) for _ in range(3)]
    assert len(paginate(thirds, 10, 10)) == 1


def test_the_first_page_has_its_own_room():
    assert heights(paginate([strip(4), strip(4), strip(4)], 5, 9)) == [[4], [4, 4]]


def test_a_heading_is_never_left_alone():
    assert heights(paginate([strip(7), strip(2, with_next=True), strip(3)], 10, 10)) == [[7], [2, 3]]


def test_a_tables_head_stands_again_on_the_next_page():
    head = strip(1, with_next=True)
    rows = [strip(4, repeat=head) for _ in range(4)]
    assert heights(paginate([head, *rows], 10, 10)) == [[1, 4, 4], [1, 4, 4]]


def test_a_group_higher_than_any_page_still_breaks():
    rows = [strip(4, with_next=True) for _ in range(5)]
    assert heights(paginate([strip(1), *rows], 10, 10)) == [[1, 4, 4], [4, 4], [4]]


def test_a_strip_higher_than_a_page_stands_alone_rather_than_vanishing():
    assert heights(paginate([strip(3), strip(30), strip(3)], 10, 10)) == [[3], [30], [3]]


@pytest.mark.parametrize("count", [0, 1, 7, 50])
def test_no_strip_is_lost_or_moved(count):
    strips = [strip(1 + number % 3) for number in range(count)]
    assert [each for page in paginate(strips, 6, 8) for each in page] == strips
