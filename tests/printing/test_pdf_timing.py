"""What the readings say, on paper: the table's head never stands apart from its rows."""

from service.printing.pdf_flow import paginate
from service.printing.pdf_page import ROOMY
from service.printing.pdf_timing import timing_strips
from service.printing.sheets import TimingNote

NOTE = TimingNote(
    ("A cord has moved",), ("String: add 21 half turns",), (("axle to axle", "1", "2", "1"),) * 4, "nothing"
)
WIDTH = 500.0


def test_the_head_goes_with_its_first_row_and_stands_again_after_a_break() -> None:
    strips = timing_strips(NOTE, WIDTH, ROOMY)
    head = next(strip.repeat for strip in strips if strip.repeat)
    before = sum(strip.height for strip in strips[: strips.index(head)])
    for rows_with_head in (0, 2):
        room = before + head.height * (1 + rows_with_head) + 1.0
        first, second, *_more = paginate(strips, room, 10 * room)
        assert first[-1] is not head and second[0] is head
    assert sum(page.count(head) for page in paginate(strips, 1000.0, 1000.0)) == 1
