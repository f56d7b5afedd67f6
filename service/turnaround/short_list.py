"""The short list of a check between two guests: what is looked at on each kind of bow, and what can be found there.

Common practice, no source. A house's own list stands beside it as a reminder; the answer follows from these topics.
"""

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.vocabulary import BowKind, Finding, IncidentKind, MeasurementKind

FINE, NOT_FINE = "fine", "not_fine"
NO_MARKS = "no_marks"
SOMETHING_ELSE = "something_else"
# Once something holds the bow anyway, nobody is asked to handle it further.
NOT_LOOKED_AT = "not_looked_at"
Text = str | Promise


@dataclass(frozen=True)
class Topic:
    """One thing to look at. `found` are the findings to choose from; a timing topic asks for a measurement instead."""

    key: str
    name: Text
    look_for: Text
    fine: Text
    not_fine: Text
    found: tuple[tuple[str, Text], ...] = ()
    timing: bool = False
    may_lack_marks: bool = False

    @property
    def allowed(self) -> tuple[str, ...]:
        """The answers that it takes."""
        return (FINE, NOT_FINE, NO_MARKS) if self.may_lack_marks else (FINE, NOT_FINE)

    def finding_name(self, value: str) -> str:
        """A finding in words; anything not in the list is something else."""
        return str(dict(self.found).get(value, _("something else")))


def _choices(*words: Finding | IncidentKind) -> tuple[tuple[str, Text], ...]:
    return tuple((str(word.value), word.label) for word in words)


_CRACK: tuple[str, Text] = ("crack", _("crack, splinter or lifted layer"))
_LOOSE: tuple[str, Text] = ("loose", _("loose, bent or moved"))
_ALL_RIGHT, _NOT_RIGHT = _("fine"), _("not right")

_LIMBS = Topic(
    "limbs",
    _("limbs"),
    _("no crack, splinter or gap at the pockets"),
    _ALL_RIGHT,
    _NOT_RIGHT,
    (_CRACK, *_choices(IncidentKind.CRUSHED, IncidentKind.CUT)),
)
_CAMS = Topic(
    "cams",
    _("cams"),
    _("cords in their tracks, axle clips in place, no bend, no new lean"),
    _ALL_RIGHT,
    _NOT_RIGHT,
    (*_choices(IncidentKind.DERAILED, IncidentKind.BENT_STOP), _LOOSE),
)
_TIPS = Topic("tips", _("tips"), _("no crack, string seated in both grooves"), _ALL_RIGHT, _NOT_RIGHT, (_CRACK, _LOOSE))
_CORD_FINDINGS = _choices(Finding.BROKEN_STRAND, Finding.DEEP_FUZZ, Finding.GLAZED, IncidentKind.CUT)
_CORDS = Topic(
    "cords", _("cords"), _("no broken strand, no fuzz at a track, not glazed"), _ALL_RIGHT, _NOT_RIGHT, _CORD_FINDINGS
)
_STRING = Topic(
    "string", _("string"), _("no broken strand, loops sound, not glazed"), _ALL_RIGHT, _NOT_RIGHT, _CORD_FINDINGS
)
_SERVINGS = Topic(
    "servings",
    _("servings"),
    _("tight, not separated, not cut through"),
    _ALL_RIGHT,
    _NOT_RIGHT,
    _choices(Finding.SERVING_SEPARATED),
)
_LOOP = Topic("nocking_point", _("nocking point, loop"), _("fast and where it was"), _ALL_RIGHT, _NOT_RIGHT, (_LOOSE,))
_NOCK = Topic("nocking_point", _("nocking point"), _("fast and where it was"), _ALL_RIGHT, _NOT_RIGHT, (_LOOSE,))
_REST = Topic("rest", _("rest"), _("fast, straight, not worn through"), _ALL_RIGHT, _NOT_RIGHT, (_LOOSE,))
_MARKS = Topic(
    "timing_marks",
    _("timing marks"),
    _("at brace: each cam's mark on its line. Do not draw the bow for this"),
    _("on the line"),
    _("off the line"),
    timing=True,
    may_lack_marks=True,
)
_BRACE = Topic(
    "brace_height",
    _("brace height"),
    _("string to grip as it hangs on its card"),
    _("as it should be"),
    _("off"),
    timing=True,
)

SHORT_LISTS: dict[str, tuple[Topic, ...]] = {
    BowKind.COMPOUND: (_LIMBS, _CAMS, _CORDS, _SERVINGS, _LOOP, _REST, _MARKS),
    BowKind.RECURVE: (_LIMBS, _TIPS, _STRING, _SERVINGS, _NOCK, _REST, _BRACE),
    BowKind.LONGBOW: (_LIMBS, _TIPS, _STRING, _SERVINGS, _NOCK, _REST, _BRACE),
}

# What a quick measurement reads with a rule on the braced bow, by the cam that it tells of ("" = the whole bow).
# A hole distance or a timing mark settles its own cam; on a bow without cams the brace height settles it.
SETTLES: dict[str, str] = {
    MeasurementKind.HOLE_DISTANCE_UPPER: "upper",
    MeasurementKind.TIMING_MARK_UPPER: "upper",
    MeasurementKind.HOLE_DISTANCE_LOWER: "lower",
    MeasurementKind.TIMING_MARK_LOWER: "lower",
    MeasurementKind.BRACE_HEIGHT: "",
    MeasurementKind.AXLE_TO_AXLE: "",
}


def ends_to_settle(bow_kind: str, cam_system: str) -> frozenset[str]:
    """Whose timing a quick measurement must show inside tolerance before a doubt about it is settled."""
    if bow_kind != BowKind.COMPOUND:
        return frozenset({""})
    return frozenset({"lower"}) if cam_system == "single" else frozenset({"upper", "lower"})
