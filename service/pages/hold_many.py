"""Holding many bows in one act: preview who is meant, hold them, see past acts, take one back."""

import hashlib
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, NamedTuple

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpRequest, HttpResponseBase, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from fleet import lookups, record
from fleet.models import Bow, Cord, Fitting, HoldAction, Site
from fleet.record.many_holds import holds_to_undo
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
    """A bow that an act would hold, as much of it as the preview names."""

    tag: str
    state: str


@dataclass(frozen=True)
class Picked:
    """The bows that an act would hold, by tag: how they were picked, in words, and what else the reader must know.

    A recall may mean the whole fleet: only those that the preview names are more than a number here.
    """

    ids: tuple[int, ...]
    told: str
    out: tuple[str, ...] = ()
    """Tags of those that are with guests now: holding them does not bring them back."""
    held_already: int = 0
    named: tuple[Meant, ...] = ()
    elsewhere: int = 0
    on_the_shelf: int = 0

    @property
    def unnamed(self) -> int:
        """How many the preview does not name."""
        return len(self.ids) - len(self.named)

    @property
    def seal(self) -> str:
        """Stands for just these bows: what was previewed is what is held."""
        ids = ",".join(map(str, sorted(self.ids)))
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
        "asked": data.get("list", "") in LISTS,
    }
    return render(request, "desk/hold_many.html", content)


def _hold(request: HttpRequest, here: Here, picked: Picked) -> HttpResponseBase:
    try:
        action = record.hold_many(
            by=here.person,
            site=here.site,
            bows=list(Bow.objects.filter(pk__in=picked.ids).order_by("tag")),
            detail=request.POST.get("detail", ""),
            picked=picked.told,
            at=datetime.now(UTC),
        )
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
        query = QueryDict(mutable=True)
        query.update({name: request.POST.get(name, "") for name in ("list", "query", "lot")})
        return redirect(f"{request.path}?{query.urlencode()}")
    told = ngettext("%(count)d bow is held.", "%(count)d bows are held.", len(picked.ids))
    messages.success(request, told % {"count": len(picked.ids)}, extra_tags="good")
    return redirect("held-together", pk=action.pk)


def _picked(here: Here, data: QueryDict) -> Picked:
    """The bows that the address or the form picks: those with a cord of a lot, or those of a narrowed list."""
    source, lot, query = data.get("list", ""), data.get("lot", "").strip(), QueryDict(data.get("query", ""))
    if source == "lot" and lot:
        return _of_lot(here, lot)
    if source == "due":
        form = DueForm(here.site, query)
        found = narrowed(wears_in_order(here.site), form.wanted)
        wears = due_when(found, query.get("when", ""), schedule.today_at(here.site, datetime.now(UTC)))
        told = _("the due list, %(query)s") % {"query": form.in_words(query)}
        return _preview(here, wears.order_by().values("fitting__bow"), told)
    if source == "bows":
        text, state = query.get("find", "").strip(), query.get("state", "")
        words = [f"“{text}”"] if text else []
        words += [str(whereabouts(state))] if state in BowState.values else []
        told = _("the list of bows, %(query)s") % {"query": ", ".join(words) or _("all of it")}
        return _preview(here, bows_of(here.site, text, state).order_by().values("pk"), told)
    return Picked((), "")


def _of_lot(here: Here, lot: str) -> Picked:
    # A lot is typed in any case; it is looked up once as it is written.
    written = list(Cord.objects.filter(lot__iexact=lot).values_list("lot", flat=True).distinct().order_by())
    carriers = Fitting.objects.filter(cord__lot__in=written, removed_at=None).order_by().values("bow")
    picked = _preview(here, carriers, _("every bow with a cord of lot %(lot)s") % {"lot": lot})
    elsewhere = 0
    if Site.objects.exclude(pk=here.site.pk).exists():
        elsewhere = Bow.objects.filter(pk__in=carriers, retirement=None).exclude(site=here.site).count()
    on_a_bow = Fitting.objects.filter(cord=OuterRef("pk"), removed_at=None)
    shelf = Cord.objects.filter(~Exists(on_a_bow), lot__in=written, scrapped_at=None)
    return replace(picked, elsewhere=elsewhere, on_the_shelf=shelf.count())


def _preview(here: Here, wanted: QuerySet[Any, Any], told: str) -> Picked:
    """The bows in service here whose ids are wanted. Few of a fleet are anything but ready: those are looked at."""
    bows = Bow.objects.filter(site=here.site, retirement=None)
    ids = tuple(bows.filter(pk__in=wanted).order_by("tag").values_list("pk", flat=True))
    meant = set(ids)
    not_ready = lookups.with_state(bows.filter(lookups.happening())).order_by("tag").values_list("pk", "tag", "state")
    states = {pk: Meant(tag, state) for pk, tag, state in not_ready if pk in meant}
    tags = dict(Bow.objects.filter(pk__in=ids[:NAMED]).values_list("pk", "tag"))
    return Picked(
        ids,
        told,
        tuple(one.tag for one in states.values() if one.state == BowState.OUT),
        sum(one.state == BowState.HELD for one in states.values()),
        tuple(states.get(pk) or Meant(tags[pk], BowState.READY) for pk in ids[:NAMED]),
    )


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
    ours = holds_to_undo(action)
    kept = ours.filter(stays=True).order_by("pk")
    content = {
        "action": action,
        "held": shown,
        "ends": ours.filter(stays=False).count(),
        "kept": list(kept.values_list("bow__tag", flat=True)[:NAMED]),
        "kept_unnamed": max(0, kept.count() - NAMED),
    }
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
