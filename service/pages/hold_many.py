"""Holding many bows in one act: preview who is meant, hold them, see past acts, take one back."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import NamedTuple

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Exists, OuterRef
from django.http import HttpRequest, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from fleet import lookups, record
from fleet.models import Bow, Cord, Fitting, HoldAction
from fleet.record.many_holds import what_undo_would_do
from fleet.refusal import Refused
from fleet.vocabulary import BowState, Role
from service import schedule
from service.bow_list import bows_of
from service.due_list import due_when, narrowed, wears_in_order
from service.pages.access import Here, hold_page, page
from service.pages.due_form import DueForm
from service.templatetags.bench import whereabouts

PER_PAGE = 50
NAMED = 200
LISTS = ("lot", "due", "bows")


class Meant(NamedTuple):
    """A bow that an act would hold, as much of it as the preview shows: a recall may mean the whole fleet."""

    pk: int
    tag: str
    state: str


@dataclass(frozen=True)
class Picked:
    """The bows that an act would hold: how they were picked, in words, and what else the reader must know."""

    bows: tuple[Meant, ...]
    told: str
    elsewhere: int = 0
    on_the_shelf: int = 0

    @cached_property
    def out(self) -> list[Meant]:
        """Those that are with guests now: holding them does not bring them back."""
        return [bow for bow in self.bows if bow.state == BowState.OUT]

    @property
    def held_already(self) -> int:
        """How many something holds by now."""
        return sum(bow.state == BowState.HELD for bow in self.bows)

    @property
    def seal(self) -> str:
        """Stands for just these bows: what was previewed is what is held."""
        ids = ",".join(map(str, sorted(bow.pk for bow in self.bows)))
        return hashlib.sha256(ids.encode()).hexdigest()[:16]


@page(Role.MANAGER)
def hold_many(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Show whom the act would hold; posted, hold them, if they are still the bows that were shown."""
    data = request.POST if request.method == "POST" else request.GET
    picked = _picked(here, data)
    if request.method == "POST" and "seal" in data:
        if data["seal"] == picked.seal:
            return _hold(request, here, picked)
        messages.error(request, _("The list changed since you looked at it: look again, then hold."), extra_tags="stop")
    content = {
        "picked": picked,
        "source": data.get("list", ""),
        "query": data.get("query", ""),
        "lot": data.get("lot", ""),
        "detail": data.get("detail", ""),
        "named": picked.bows[:NAMED],
        "unnamed": max(0, len(picked.bows) - NAMED),
        "asked": data.get("list", "") in LISTS,
    }
    return render(request, "desk/hold_many.html", content)


def _hold(request: HttpRequest, here: Here, picked: Picked) -> HttpResponseBase:
    try:
        action = record.hold_many(
            by=here.person,
            site=here.site,
            bows=list(Bow.objects.filter(pk__in=[bow.pk for bow in picked.bows]).order_by("tag")),
            detail=request.POST.get("detail", ""),
            picked=picked.told,
            at=datetime.now(UTC),
        )
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        query = QueryDict(mutable=True)
        query.update({name: request.POST.get(name, "") for name in ("list", "query", "lot")})
        return redirect(f"{request.path}?{query.urlencode()}")
    told = ngettext("%(count)d bow is held.", "%(count)d bows are held.", len(picked.bows))
    messages.success(request, told % {"count": len(picked.bows)}, extra_tags="good")
    return redirect("held-together", pk=action.pk)


def _picked(here: Here, data: QueryDict) -> Picked:
    """The bows that the address or the form picks: those with a cord of a lot, or those of a narrowed list."""
    source, lot, query = data.get("list", ""), data.get("lot", "").strip(), QueryDict(data.get("query", ""))
    if source == "lot" and lot:
        carriers = Fitting.objects.filter(cord__lot__iexact=lot, removed_at=None)
        everywhere = Bow.objects.filter(pk__in=carriers.values("bow"), retirement=None)
        on_a_bow = Fitting.objects.filter(cord=OuterRef("pk"), removed_at=None)
        shelf = Cord.objects.filter(~Exists(on_a_bow), lot__iexact=lot, scrapped_at=None)
        return Picked(
            _with_state(here, carriers.values_list("bow", flat=True)),
            _("every bow with a cord of lot %(lot)s") % {"lot": lot},
            everywhere.exclude(site=here.site).count(),
            shelf.count(),
        )
    if source == "due":
        form = DueForm(here.site, query)
        found = narrowed(wears_in_order(here.site), form.wanted)
        wears = due_when(found, query.get("when", ""), schedule.today_at(here.site, datetime.now(UTC)))
        ids = wears.order_by().values_list("fitting__bow", flat=True)
        return Picked(_with_state(here, ids), _("the due list, %(query)s") % {"query": form.in_words(query)})
    if source == "bows":
        text, state = query.get("find", "").strip(), query.get("state", "")
        words = [f"“{text}”"] if text else []
        words += [str(whereabouts(state))] if state in BowState.values else []
        told = _("the list of bows, %(query)s") % {"query": ", ".join(words) or _("all of it")}
        return Picked(_with_state(here, bows_of(here.site, text, state).values_list("pk", flat=True)), told)
    return Picked((), "")


def _with_state(here: Here, ids: Iterable[int]) -> tuple[Meant, ...]:
    bows = lookups.with_state(Bow.objects.filter(site=here.site, retirement=None, pk__in=ids))
    return tuple(map(Meant._make, bows.order_by("tag").values_list("pk", "tag", "state")))


@page(Role.MANAGER)
def held_before(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Every act that held many bows of the site, the latest first."""
    actions = HoldAction.objects.filter(site=here.site).select_related("by", "undone_by")
    shown = Paginator(actions, PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "desk/held_before.html", {"actions": shown})


@hold_page(Role.MANAGER)
def held_together(request: HttpRequest, here: Here, action: HoldAction) -> HttpResponseBase:
    """One act: which bows it held, which are released since, and what taking it back would do."""
    held = action.held.select_related("hold__bow", "hold__released__by").order_by("hold__bow__tag")
    shown = Paginator(held, PER_PAGE).get_page(request.GET.get("page"))
    ends, kept = what_undo_would_do(action)
    content = {"action": action, "held": shown, "ends": len(ends), "kept": [hold.bow for hold in kept]}
    return render(request, "desk/held_together.html", content)


@require_POST
@hold_page(Role.MANAGER)
def undo(request: HttpRequest, here: Here, action: HoldAction) -> HttpResponseBase:
    """Take an act back: release what it held, except bows that got another reason meanwhile."""
    try:
        undone = record.undo_hold_many(by=here.person, action=action, at=datetime.now(UTC))
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        return redirect("held-together", pk=action.pk)
    told = ngettext("%(count)d bow is released.", "%(count)d bows are released.", len(undone.released))
    messages.success(request, told % {"count": len(undone.released)}, extra_tags="good")
    if undone.kept:
        kept = _("These got another reason meanwhile and stay held: %(tags)s.") % {"tags": ", ".join(undone.kept)}
        messages.warning(request, kept, extra_tags="care")
    return redirect("held-together", pk=action.pk)
