"""A QR code (ISO/IEC 18004, made by segno) as a ReportLab flowable."""

from functools import lru_cache

import segno
from reportlab.platypus import Flowable

QUIET_MODULES = 4  # ISO/IEC 18004: four light modules on every side


@lru_cache(maxsize=1_000)
def _runs(content: str, error: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """Side in modules, and each horizontal run of dark modules as (row, first column, length)."""
    matrix = segno.make(content, error=error, micro=False).matrix
    runs = []
    for row, modules in enumerate(matrix):
        column = 0
        while column < len(modules):
            start = column
            while column < len(modules) and modules[column]:
                column += 1
            if column > start:
                runs.append((row, start, column - start))
            column += 1
    return len(matrix), tuple(runs)


def modules_of(content: str, error: str = "m") -> int:
    """Side of the code of `content` in modules, with its quiet zone."""
    return _runs(content, error)[0] + 2 * QUIET_MODULES


class Code(Flowable):
    """The code of `content`, `side` points square with its quiet zone inside.

    `error` is the least level of error correction; a higher one is taken where the code grows no larger by it.
    """

    def __init__(self, content: str, side: float, error: str = "m") -> None:
        super().__init__()
        self.content, self.error = content, error
        self.width = self.height = side

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        modules, runs = _runs(self.content, self.error)
        module = self.width / (modules + 2 * QUIET_MODULES)
        left, top = QUIET_MODULES * module, self.height - QUIET_MODULES * module
        path = self.canv.beginPath()
        for row, column, length in runs:
            path.rect(left + column * module, top - (row + 1) * module, length * module, module)
        self.canv.drawPath(path, stroke=0, fill=1)
