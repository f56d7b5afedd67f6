"""Saved plans as the pure package takes them."""

from service import models
from service.plan.outcome import Placement, Plan


def placements_of(saved: models.Plan) -> list[Placement]:
    """Where a saved plan has each need."""
    return [
        Placement(entry["id"], job.day, job.technician.username)
        for job in saved.jobs.select_related("technician")
        for entry in job.needs
    ]


def pure_plan(saved: models.Plan) -> Plan:
    """A saved plan's placements as the pure package takes them; why a need has no place is worked out anew there."""
    return Plan(tuple(placements_of(saved)), (), (), ())
