"""The standing cautions and the audit trail, in templates."""

from django import template
from django.utils.translation import gettext as _

from fleet.models import AuditEntry, Site
from fleet.vocabulary import BowState, Finding, Position, RemovalReason
from service.history import told
from service.printing.cautions import cautions, planning_aid

register = template.Library()


@register.simple_tag
def standing_cautions(bow_kind: str = "") -> tuple[str, ...]:
    """The cautions of a bow kind (of any bow without one), and what the estimates are."""
    return (*cautions(bow_kind or ""), planning_aid())


@register.simple_tag
def happened(entry: AuditEntry, site: Site) -> str:
    """An audit row in words, its instants in the site's zone."""
    return told(entry, site.time_zone)


@register.filter
def position_name(position: str) -> str:
    """A cord's position in words."""
    return str(Position(position).label)


@register.filter
def removal_name(reason: str) -> str:
    """Why a cord came off, in words."""
    return str(RemovalReason(reason).label)


@register.filter
def finding_name(finding: str) -> str:
    """What condemned a cord, in words."""
    return str(Finding(finding).label)


@register.filter
def spaced(name: str) -> str:
    """A setting's name as words."""
    return name.replace("_", " ")


@register.filter
def whereabouts(state: str) -> str:
    """Where a bow is, in words that do not answer whether it may go out: that is the verdict's to say."""
    if state == BowState.READY:
        return _("in the shop")
    return _("held until released") if state == BowState.HELD else str(BowState(state).label)
