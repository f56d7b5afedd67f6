"""Lists out: the due list, bows, orders and the plan of the token's site."""

from datetime import datetime
from typing import Any

from fleet.models import Site
from service.bow_list import bows_of
from service.due_list import row_of, wears_in_order
from service.models import Plan, PlannedJob, WorkOrder
from service.verdicts import verdicts_of


def due_list(site: Site, limit: int, offset: int) -> dict[str, Any]:
    """Fitted cords, the soonest replacement first."""
    wears = wears_in_order(site)
    shown = [row_of(wear).as_record() for wear in wears[offset : offset + limit]]
    return {"total": wears.count(), "items": shown}


def bow_list(site: Site, limit: int, offset: int, now: datetime) -> dict[str, Any]:
    """Bows by tag, each with the answer whether it may go out."""
    bows = bows_of(site)
    return {"total": bows.count(), "items": _bow_rows(list(bows[offset : offset + limit]), now)}


def bow_detail(site: Site, tag: str, now: datetime) -> dict[str, Any] | None:
    """One bow; None if the site has none of that tag."""
    bow = bows_of(site).filter(tag=tag).first()
    if bow is None:
        return None
    needs = bow.needs.order_by("due_on").values("kind", "reason", "due_on", "latest_on", "holds")
    cords = [row_of(wear).as_record() for wear in wears_in_order(site).filter(fitting__bow=bow)]
    return {**_bow_rows([bow], now)[0], "needs": list(needs), "cords": cords}


def _bow_rows(bows: list[Any], now: datetime) -> list[dict[str, Any]]:
    verdicts = verdicts_of(bows, now)
    return [
        {
            "tag": bow.tag,
            "serial": bow.serial,
            "kind": bow.spec_sheet.bow_kind,
            "hand": bow.hand,
            "state": bow.state,
            "may_go_out": verdicts[bow.pk].may_go,
            "because": [str(one) for one in verdicts[bow.pk].because],
            "warnings": [str(one) for one in verdicts[bow.pk].warnings],
        }
        for bow in bows
    ]


def order_list(site: Site, limit: int, offset: int, day: Any = None) -> dict[str, Any]:
    """Orders, the latest day first."""
    orders = WorkOrder.objects.filter(site=site, **({"day": day} if day else {}))
    shown = (
        orders.select_related("bow", "technician").prefetch_related("needs").order_by("-day", "place_in_day", "number")
    )
    return {"total": orders.count(), "items": [_order_row(order) for order in shown[offset : offset + limit]]}


def _order_row(order: WorkOrder) -> dict[str, Any]:
    return {
        "number": order.number,
        "bow": order.bow.tag,
        "day": order.day,
        "status": order.status,
        "technician": order.technician.username if order.technician else None,
        "minutes": order.minutes,
        "needs": [need.kind for need in order.needs.all()],
        "issued_at": order.issued_at,
    }


def plan_now(site: Site) -> dict[str, Any]:
    """The latest published plan, else the saved draft; nothing is computed here."""
    plans = Plan.objects.filter(site=site)
    plan = plans.exclude(published_at=None).order_by("-published_at").first() or plans.first()
    if plan is None:
        return {"first_day": None, "days": 0, "made_at": None, "published_at": None, "jobs": [], "unplaced": []}
    return {
        "first_day": plan.first_day,
        "days": plan.days,
        "made_at": plan.made_at,
        "published_at": plan.published_at,
        "jobs": [_job_row(job) for job in plan.jobs.select_related("bow", "technician")],
        "unplaced": [
            {"bow": need.bow.tag, "kind": need.kind, "due_on": need.due_on, "limit": need.limit}
            for need in plan.unplaced.select_related("bow").order_by("due_on", "bow__tag")
        ],
    }


def _job_row(job: PlannedJob) -> dict[str, Any]:
    return {
        "bow": job.bow.tag,
        "day": job.day,
        "technician": job.technician.username,
        "minutes": job.minutes,
        "needs": [str(need.get("kind", "")) for need in job.needs],
        "why": job.why,
    }
