"""Where labels stand on a sheet: grids of rows and columns on A4 or Letter, and single labels from a roll.

Pure numbers in millimetres, from the sheet's upper left corner. The grids are the usual ones by their measures alone;
a shop with another sheet types its own.
"""

from collections.abc import Iterator
from dataclasses import dataclass

INCH_MM = 25.4
PAPERS_MM: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (8.5 * INCH_MM, 11 * INCH_MM)}
SMALLEST_MM, MOST_A_SIDE = 12.0, 20
ROUNDING_MM = 0.3
"""A sheet's measures are printed rounded: so much may stand over its edge."""


@dataclass(frozen=True)
class LabelGrid:
    """A sheet of labels, or with one row and one column and no margins a single label of its own size (mm)."""

    page_mm: tuple[float, float]
    rows: int
    columns: int
    label_mm: tuple[float, float]
    top_mm: float = 0.0
    left_mm: float = 0.0
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0

    def __post_init__(self) -> None:
        self._check_numbers()
        wide = self.left_mm + self.columns * self.label_mm[0] + (self.columns - 1) * self.gap_x_mm
        high = self.top_mm + self.rows * self.label_mm[1] + (self.rows - 1) * self.gap_y_mm
        for needed, there, what in ((wide, self.page_mm[0], "wide"), (high, self.page_mm[1], "high")):
            if needed > there + ROUNDING_MM:
                raise ValueError(
                    f"The grid is {needed:.1f} mm {what} and the sheet {there:.1f} mm: measure margins, labels and "
                    "gaps again."
                )

    def _check_numbers(self) -> None:
        for count, what in ((self.rows, "rows"), (self.columns, "columns")):
            if not 1 <= count <= MOST_A_SIDE:
                raise ValueError(f"{count} {what} of labels: 1 to {MOST_A_SIDE} are possible. Count them again.")
        for size, what in zip(self.label_mm, ("width", "height"), strict=True):
            if not SMALLEST_MM <= size <= max(self.page_mm):
                raise ValueError(
                    f"Label {what} {size:g} mm: {SMALLEST_MM:g} to {max(self.page_mm):g} mm are possible. "
                    "Measure a label."
                )
        for size in (self.top_mm, self.left_mm, self.gap_x_mm, self.gap_y_mm):
            # Written so that nan is refused too.
            if not size >= 0:
                raise ValueError(f"A margin or gap of {size:g} mm: 0 mm or more. Measure the sheet.")

    @property
    def per_sheet(self) -> int:
        """Labels on one sheet."""
        return self.rows * self.columns

    def places(self, count: int, start: int = 1) -> Iterator[tuple[int, float, float]]:
        """(sheet, left, top) of each of `count` labels in mm, row by row; the first sheet is used from place `start`.

        Place 1 is the upper left label; sheets count from 0. Raises ValueError for a place that the sheet lacks.
        """
        if not 1 <= start <= self.per_sheet:
            raise ValueError(f"Start at place {start}: the sheet has places 1 to {self.per_sheet}.")
        for number in range(start - 1, start - 1 + count):
            sheet, place = divmod(number, self.per_sheet)
            row, column = divmod(place, self.columns)
            left = self.left_mm + column * (self.label_mm[0] + self.gap_x_mm)
            yield sheet, left, self.top_mm + row * (self.label_mm[1] + self.gap_y_mm)


_A4, _LETTER = PAPERS_MM["a4"], PAPERS_MM["letter"]
# The usual grids, common practice; each name says what it is.
LABEL_GRIDS: dict[str, LabelGrid] = {
    "a4-3x7": LabelGrid(_A4, 7, 3, (63.5, 38.1), 15.15, 7.25, 2.5, 0.0),
    "a4-3x8": LabelGrid(_A4, 8, 3, (70.0, 37.0), 0.5, 0.0),
    "a4-2x7": LabelGrid(_A4, 7, 2, (99.1, 38.1), 15.15, 4.65, 2.5, 0.0),
    "a4-4x10": LabelGrid(_A4, 10, 4, (48.5, 25.4), 21.5, 8.0),
    "letter-3x10": LabelGrid(_LETTER, 10, 3, (2.625 * INCH_MM, INCH_MM), INCH_MM / 2, INCH_MM * 3 / 16, INCH_MM / 8),
    "letter-2x10": LabelGrid(_LETTER, 10, 2, (4 * INCH_MM, INCH_MM), INCH_MM / 2, INCH_MM * 5 / 32, INCH_MM * 3 / 16),
    "letter-2x5": LabelGrid(_LETTER, 5, 2, (4 * INCH_MM, 2 * INCH_MM), INCH_MM / 2, INCH_MM * 5 / 32, INCH_MM * 3 / 16),
    "single-57x32": LabelGrid((57.0, 32.0), 1, 1, (57.0, 32.0)),
    "single-89x36": LabelGrid((89.0, 36.0), 1, 1, (89.0, 36.0)),
    "single-2x1in": LabelGrid((2 * INCH_MM, INCH_MM), 1, 1, (2 * INCH_MM, INCH_MM)),
}
