"""The cautions that stand wherever instructions are read: on every sheet and on the bench screen."""

from django.utils.translation import gettext as _

from fleet.vocabulary import BowKind


def cautions(bow_kind: str = "") -> tuple[str, ...]:
    """The standing cautions in the active language, the gravest first; those of any bow where no kind is given.

    A recurve or longbow is unstrung with a stringer and never sees a press.
    """
    return (
        f"{_('A bow under load stores enough energy to maim.')} {_how_it_is_relaxed(bow_kind)}",
        _(
            "A cut or frayed cord on a strung bow: do not draw it. Hold and tag it; relax it only by the "
            "maker's method."
        ),
        _("Never dry-fire. Wear eye protection. Keep within the maker's limb-bolt turns."),
        _("Do not draw a bow that has not passed the check on a board first."),
    )


def _how_it_is_relaxed(bow_kind: str) -> str:
    press = _(
        "Use a press that fits the bow, and the maker's own instructions. Never let a bow up or down by the string "
        "alone."
    )
    stringer = _("String and unstring only with a stringer that fits the limbs, by the maker's own instructions.")
    if bow_kind == BowKind.COMPOUND:
        return press
    return stringer if bow_kind else f"{press} {_('A recurve or longbow: a stringer that fits the limbs.')}"


def cautions_in_short(bow_kind: str = "") -> str:
    """One line for a page that may be read without the first, in the active language."""
    rest = _("Eye protection. Never dry-fire. Cut or frayed cord: do not draw, hold and tag.")
    if bow_kind == BowKind.COMPOUND:
        return f"{_('Press that fits the bow.')} {rest}"
    return f"{_('Stringer that fits the limbs.') if bow_kind else _('Press or stringer that fits the bow.')} {rest}"


def planning_aid() -> str:
    """What the estimates are, in the active language."""
    return _(
        "The estimates here are a planning aid: the maker's manual, a qualified technician's judgement and "
        "local rules come first, and a finding always overrides an estimate."
    )
