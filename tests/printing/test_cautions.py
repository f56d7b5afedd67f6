"""The cautions of the design, by bow kind. Common practice, no source."""

from dataclasses import replace

import pytest

from service.printing.cautions import cautions, cautions_in_short, planning_aid
from service.printing.pdf import render_order
from tests.printing.paper_shop import PRINTED_AT, USUAL
from tests.printing.reading import texts, without_spaces


@pytest.mark.parametrize("bow_kind", ["", "compound", "recurve", "longbow"])
def test_those_of_the_design_are_all_there(bow_kind: str) -> None:
    words = " ".join((*cautions(bow_kind), planning_aid())).lower()
    for needed in ("maim", "cut or frayed", "hold and tag", "dry-fire", "eye protection", "limb-bolt turns"):
        assert needed in words
    for needed in ("on a board first", "planning aid", "maker's manual", "local rules"):
        assert needed in words


def test_a_compound_goes_into_a_press_and_a_string_bow_under_a_stringer() -> None:
    compound, recurve, any_bow = (" ".join(cautions(kind)) for kind in ("compound", "recurve", ""))
    assert "press" in compound and "stringer" not in compound
    assert "stringer" in recurve and "press" not in recurve
    assert "press" in any_bow and "stringer" in any_bow
    assert "Press" not in cautions_in_short("longbow")


@pytest.mark.parametrize("bow_kind", ["compound", "recurve"])
def test_the_sheet_prints_those_of_its_bow(bow_kind: str) -> None:
    sheet = replace(USUAL, bow_kind=bow_kind, steps=tuple(f"step {number}" for number in range(90)))
    first, *further = texts(render_order(sheet, PRINTED_AT))
    assert all(without_spaces(line) in without_spaces(first) for line in cautions(bow_kind))
    assert further and all(without_spaces(cautions_in_short(bow_kind)) in without_spaces(one) for one in further)
