"""A draft's figures beside it in the book, and back; worked out anew for a draft that has none."""

from dataclasses import replace
from datetime import date, datetime
from typing import Any

from service.kept_figures import as_kept, as_was
from service.models import Plan
from service.plan.frame import frame_of, spots_in
from service.plan.words import plan_in_words
from service.planning.figures import LeftOut, PlanFigures, figures_of
from service.planning.problem import site_plan
from service.planning.pure_plans import pure_plan
from service.saved_figures import DraftOutlook


def keep_figures(draft: Plan, figures: PlanFigures) -> None:
    """Keep them beside the draft, in place of former ones."""
    DraftOutlook.objects.update_or_create(plan=draft, defaults={"content": kept(figures)})


def kept(figures: PlanFigures) -> dict[str, Any]:
    """The figures as JSON; sentences stay sentences."""
    content = as_kept(replace(figures, unplaced=(), later=()))
    for name, left in (("unplaced", figures.unplaced), ("later", figures.later)):
        content[name] = [[one.need, one.due.isoformat(), one.limit] for one in left]
    return dict(content)


def was(content: dict[str, Any]) -> PlanFigures:
    """The figures again."""
    plain = as_was(PlanFigures, {**content, "unplaced": [], "later": []})
    left = {
        name: tuple(LeftOut(need, date.fromisoformat(due), limit) for need, due, limit in content[name])
        for name in ("unplaced", "later")
    }
    return replace(plain, **left)


def figures_for(draft: Plan, now: datetime) -> PlanFigures:
    """The figures kept with a draft; where there are none, they are worked out on the facts of now, and kept."""
    row = DraftOutlook.objects.filter(plan=draft).first()
    if row is not None:
        return was(row.content)
    figures = fresh_figures(draft, now)
    keep_figures(draft, figures)
    return figures


def fresh_figures(draft: Plan, now: datetime) -> PlanFigures:
    """The figures of a draft's jobs on the facts of now."""
    there = site_plan(draft.site, draft.first_day, draft.days, now)
    frame = frame_of(there.problem)
    return figures_of(there, plan_in_words(frame, spots_in(frame, pure_plan(draft))))
