"""What if, asked of a large site: solved by a task and kept until the night, since two plans take a minute or more."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django.utils.translation import gettext as _
from kombu.exceptions import OperationalError

from fleet.models import Site
from service.kept_figures import as_kept, as_was
from service.models import WhatIfAnswer
from service.planning.comparison import Answer, Change, compare
from service.planning.other_conditions import Conditions

# A task that said nothing for so long was lost with its worker.
ASKED_AGAIN_AFTER = timedelta(minutes=15)
Send = Callable[[int], object]


@dataclass(frozen=True)
class Question:
    """A change to the plan of a site over so many days from a day on."""

    first_day: date
    days: int
    change: Change

    def as_text(self) -> str:
        """The question as an address: the same question, the same text."""
        conditions, (away, late) = self.change.conditions, (self.change.away, self.change.late)
        parts: list[tuple[str, object]] = [("first", self.first_day), ("days", self.days)]
        parts += [("use", conditions.use_factor), ("warmer", conditions.warmer_c)]
        parts += [("away", away[0]), ("from", away[1]), ("to", away[2])] if away else []
        parts += [("late", late[0]), ("by", late[1])] if late else []
        return urlencode(parts)

    @classmethod
    def of(cls, text: str) -> "Question":
        """The question again."""
        told = dict(parse_qsl(text))
        day = {name: date.fromisoformat(told[name]) for name in ("first", "from", "to") if name in told}
        change = Change(
            Conditions(float(told["use"]), float(told["warmer"])),
            (told["away"], day["from"], day["to"]) if "away" in told else None,
            (told["late"], int(told["by"])) if "late" in told else None,
        )
        return cls(day["first"], int(told["days"]), change)


@dataclass(frozen=True)
class Standing:
    """How a question stands: asked when, answered when (None: it is being solved), with what, or why not."""

    asked_at: datetime
    answered_at: datetime | None
    answer: Answer | None
    problem: str


def ask(site: Site, question: Question, now: datetime, send: Send, *, anew: bool = False) -> Standing:
    """The answer as kept, or the question put to the queue by `send` (it takes the row's id). ValueError: no queue."""
    rows = WhatIfAnswer.objects.filter(site=site, asked=question.as_text())
    row = rows.first()
    lost = row is not None and row.answered_at is None and row.asked_at < now - ASKED_AGAIN_AFTER
    if row is None or lost or (anew and row.answered_at is not None):
        fresh = {"asked_at": now, "answered_at": None, "problem": "", "answer": None}
        row, _made = WhatIfAnswer.objects.update_or_create(site=site, asked=question.as_text(), defaults=fresh)
        try:
            send(row.pk)
        except OperationalError as problem:
            rows.delete()
            raise ValueError(
                _("The work queue is away, and nothing can be reckoned now: try again later.")
            ) from problem
    return Standing(row.asked_at, row.answered_at, None if row.answer is None else _was(row.answer), row.problem)


def answer(answer_id: int, now: datetime) -> None:
    """Solve what was asked, unless that was done; a question that cannot be answered says why."""
    row = WhatIfAnswer.objects.select_related("site").filter(pk=answer_id, answered_at=None).first()
    if row is None:
        return
    question = Question.of(row.asked)
    found, problem = None, ""
    try:
        found = _kept(compare(row.site, question.first_day, question.days, question.change, now))
    except ValueError as wrong:
        problem = str(wrong)
    WhatIfAnswer.objects.filter(pk=row.pk).update(answered_at=now, answer=found, problem=problem)


def forget_answers(site: Site) -> None:
    """The facts that they were solved on are computed anew."""
    WhatIfAnswer.objects.filter(site=site).delete()


def _kept(found: Answer) -> dict[str, Any]:
    return {**as_kept(replace(found, unplaced=())), "unplaced": [list(one) for one in found.unplaced]}


def _was(kept: dict[str, Any]) -> Answer:
    plain = as_was(Answer, {**kept, "unplaced": []})
    return replace(plain, unplaced=tuple((need, limit) for need, limit in kept["unplaced"]))
