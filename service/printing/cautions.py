"""The cautions that stand wherever instructions are read: on every sheet and on the bench screen."""

from django.utils.translation import gettext as _


def cautions() -> tuple[str, ...]:
    """The standing cautions in the active language, the gravest first."""
    return (
        _(
            "A bow under load stores enough energy to maim. Use a press that fits the bow, and the maker's "
            "own instructions. Never let a bow up or down by the string alone."
        ),
        _(
            "A cut or frayed cord on a strung bow: do not draw it. Hold and tag it; relax it only by the "
            "maker's method."
        ),
        _("Never dry-fire. Wear eye protection. Keep within the maker's limb-bolt turns."),
        _("Do not draw a bow that has not passed the check on a board first."),
    )


def cautions_in_short() -> str:
    """One line for a page that may be read without the first, in the active language."""
    return _("Press that fits the bow. Eye protection. Never dry-fire. Cut or frayed cord: do not draw, hold and tag.")


def planning_aid() -> str:
    """What the estimates are, in the active language."""
    return _(
        "The estimates here are a planning aid: the maker's manual, a qualified technician's judgement and "
        "local rules come first, and a finding always overrides an estimate."
    )
