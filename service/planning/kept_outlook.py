"""A draft's figures beside it in the book, and back; worked out anew for a draft that has none."""

import json
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
from service.said import heard_deep, kept_deep
from service.saved_figures import DraftOutlook

LEFT_SHOWN = 30
"""So many needs without a day are shown at first, those that are due first: each has a sentence to be worded."""
WHOLE = "whole"


def keep_figures(draft: Plan, figures: PlanFigures) -> None:
    """Keep them beside the draft, in place of former ones."""
    DraftOutlook.objects.update_or_create(plan=draft, defaults={"content": kept(figures)})


def kept(figures: PlanFigures) -> dict[str, Any]:
    """The figures as JSON; sentences stay sentences. All that found no day is one text, read when it is asked for."""
    content = as_kept(replace(figures, unplaced=(), later=(), unplaced_count=0, later_count=0))
    whole = {"unplaced": _rows(figures.unplaced), "later": _rows(figures.later)}
    for name, left in whole.items():
        content[name], content[f"{name}_count"] = left[:LEFT_SHOWN], len(left)
    return {**content, WHOLE: json.dumps(kept_deep(whole))}


def was(content: dict[str, Any], *, whole: bool = False) -> PlanFigures:
    """The figures again; of what found no day the first LEFT_SHOWN, or all."""
    plain = as_was(PlanFigures, {**{k: v for k, v in content.items() if k != WHOLE}, "unplaced": [], "later": []})
    found: dict[str, Any] = heard_deep(json.loads(content[WHOLE])) if whole else content
    return replace(plain, unplaced=_left(found["unplaced"]), later=_left(found["later"]))


def _rows(left: tuple[LeftOut, ...]) -> list[list[str]]:
    return [[one.need, one.due.isoformat(), one.limit] for one in left]


def _left(rows: list[list[str]]) -> tuple[LeftOut, ...]:
    return tuple(LeftOut(need, date.fromisoformat(due), limit) for need, due, limit in rows)


def figures_for(draft: Plan, now: datetime, *, whole: bool = False) -> PlanFigures:
    """The figures kept with a draft; where there are none, they are worked out on the facts of now, and kept."""
    row = DraftOutlook.objects.filter(plan=draft).first()
    if row is None:
        keep_figures(draft, fresh_figures(draft, now))
        row = DraftOutlook.objects.get(plan=draft)
    return was(row.content, whole=whole)


def fresh_figures(draft: Plan, now: datetime) -> PlanFigures:
    """The figures of a draft's jobs on the facts of now."""
    there = site_plan(draft.site, draft.first_day, draft.days, now)
    frame = frame_of(there.problem)
    return figures_of(there, plan_in_words(frame, spots_in(frame, pure_plan(draft))))
