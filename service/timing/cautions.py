"""What is printed wherever people read instructions. The wording is the design's, not to be shortened."""

from __future__ import annotations

from service.timing.vocabulary import BowKind

ESTIMATES_ARE_AN_AID = (
    "The estimates here are a planning aid: the maker's manual, a qualified technician's judgement and local "
    "rules come first, and a finding always overrides an estimate."
)
STORED_ENERGY = "A bow under load stores enough energy to maim. Wear eye protection."
NEVER_DRY_FIRE = "Never dry-fire."
CUT_CORD = "A cut or frayed cord on a strung bow: do not draw it, hold and tag it, relax it only by the maker's method."
LIMB_BOLTS = "Keep within the maker's limb-bolt turns."
PRESS = (
    "Use a press that fits the bow and the maker's own instructions; never let a bow up or down by the string alone."
)
BOARD_FIRST = "Do not draw a bow that has not passed the check on a board first."
STRINGER = "String and unstring only with a stringer that fits the limbs, by the maker's own instructions."

COMPOUND_CAUTIONS = (
    STORED_ENERGY,
    PRESS,
    CUT_CORD,
    NEVER_DRY_FIRE,
    LIMB_BOLTS,
    BOARD_FIRST,
    ESTIMATES_ARE_AN_AID,
)
STRING_BOW_CAUTIONS = (
    STORED_ENERGY,
    STRINGER,
    CUT_CORD,
    NEVER_DRY_FIRE,
    LIMB_BOLTS,
    BOARD_FIRST,
    ESTIMATES_ARE_AN_AID,
)


def cautions_for(bow_kind: BowKind) -> tuple[str, ...]:
    return COMPOUND_CAUTIONS if bow_kind is BowKind.COMPOUND else STRING_BOW_CAUTIONS
