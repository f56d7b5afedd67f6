"""Between two guests, on a phone: the site's bows, one bow's check and its answer, hand-out, pictures, the line."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.files.uploadedfile import UploadedFile
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET, require_POST

from fleet.models import Booking, Bow, CheckPhoto, Hire, TurnaroundCheck
from fleet.refusal import Refused
from fleet.vocabulary import Role, Verdict
from service.bow_list import bows_of
from service.pages.access import Here, bow_page, page
from service.pages.turnaround_form import OUTSIDE_C, OUTSIDE_F, PARKED, USE, check_form
from service.turnaround.answers import read_answers
from service.turnaround.card import PhoneCard, phone_card
from service.turnaround.hires import clock_time, hand_out, next_promise
from service.turnaround.short_list import FINE
from service.turnaround.take import Sent, first_answer, take
from service.units import Units
from service.verdicts import verdicts_of

PER_PAGE = 50
LONGEST_WAIT = timedelta(days=31)
not_kept = cache_control(private=True, no_store=True)


@not_kept
@page(Role.COUNTER)
def fleet(request: HttpRequest, here: Here) -> HttpResponseBase:
    """The site's bows for whoever stands at the rack: those that are out first."""
    find = request.GET.get("find", "").strip()
    now = datetime.now(UTC)
    shown = Paginator(bows_of(here.site, find, ""), PER_PAGE).get_page(request.GET.get("page"))
    verdicts = verdicts_of(list(shown), now)
    out = Hire.objects.filter(bow__site=here.site, back_at=None).select_related("bow__spec_sheet", "booking")
    content = {
        "bows": shown,
        "lines": [(bow, verdicts[bow.pk]) for bow in shown],
        "out": [] if find else list(out.order_by("out_at")[:PER_PAGE]),
        "find": find,
        "now": now,
    }
    return render(request, "phone/fleet.html", content)


@not_kept
@bow_page(Role.COUNTER)
def turnaround(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """One bow's check: show it, or take it and answer."""
    now = datetime.now(UTC)
    if request.method != "POST":
        return _show(request, phone_card(bow, now), now)
    if request.POST.get("typed_by", str(here.person.pk)) != str(here.person.pk):
        why = _("This check was typed by somebody else. They sign in on this phone to send it.")
        return _refuse(request, bow, now, {"typed_by": why}, 409)
    try:
        key = str(UUID(request.POST.get("key", "")))
    except ValueError:
        return _refuse(request, bow, now, {"key": _("The page lost its number. Reload it and answer again.")}, 422)
    card = phone_card(bow, now)
    try:
        check = first_answer(bow, key)
        if check is None:
            answers, problems = read_answers(request.POST, card.topics, card.references, Units(bow.site.units))
            if answers is None:
                return _refuse(request, bow, now, problems, 422)
            check = take(
                Sent(key, now - _waited(request), answers, _pictures(request, card)), bow=bow, by=here.person, now=now
            )
    except Refused as problem:
        return _refuse(request, bow, now, {"key": str(problem)}, 422)
    return _answered(request, check)


def _pictures(request: HttpRequest, card: PhoneCard) -> dict[str, "UploadedFile[Any]"]:
    """The picture of each topic that is not fine."""
    found = {}
    for topic in card.topics:
        file = request.FILES.get(f"photo-{topic.key}")
        if isinstance(file, UploadedFile) and request.POST.get(f"topic-{topic.key}") != FINE:
            found[topic.key] = file
    return found


def _waited(request: HttpRequest) -> timedelta:
    """How long the phone kept the check before it could send it, by its own clock: only the difference is trusted."""
    try:
        seconds = float(request.POST.get("waited_s", "0"))
    except ValueError:
        seconds = 0.0
    return timedelta(seconds=min(max(seconds, 0.0), LONGEST_WAIT.total_seconds()))


def _wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


def _show(
    request: HttpRequest, card: PhoneCard, now: datetime, problems: dict[str, str] | None = None, status: int = 200
) -> HttpResponse:
    imperial = card.bow.site.units == Units.IMPERIAL
    content = {
        "bow": card.bow,
        "card": card,
        "now": now,
        "key": str(uuid4()),
        "form": check_form(card.topics, card.references, card.bow.site, request.POST or None),
        "use": USE,
        "parked": PARKED,
        "outside": OUTSIDE_F if imperial else OUTSIDE_C,
        "given": request.POST or {},
        "problems": problems or {},
    }
    return render(request, "phone/check.html", content, status=status)


def _refuse(request: HttpRequest, bow: Bow, now: datetime, problems: dict[str, str], status: int) -> HttpResponse:
    if _wants_json(request):
        return JsonResponse({"problems": problems}, status=status)
    return _show(request, phone_card(bow, now), now, problems, status)


def _answered(request: HttpRequest, check: TurnaroundCheck) -> HttpResponseBase:
    address = reverse("turnaround-answer", args=[check.bow.tag, check.key])
    if not _wants_json(request):
        return redirect(address)
    return JsonResponse(
        {
            "tag": check.bow.tag,
            "verdict": check.verdict,
            "word": str(Verdict(check.verdict).label),
            "because": check.because,
            "address": address,
        }
    )


@not_kept
@bow_page(Role.COUNTER)
def answer(request: HttpRequest, here: Here, bow: Bow, key: str) -> HttpResponseBase:
    """The one answer of a check, as it was given, and what to do next."""
    check = TurnaroundCheck.objects.filter(bow=bow, key=key).select_related("by").prefetch_related("photos").first()
    if check is None:
        raise Http404(_("There is no such check of %(tag)s.") % {"tag": bow.tag})
    card = phone_card(bow, datetime.now(UTC))
    return render(request, "phone/answer.html", {"bow": bow, "check": check, "card": card, "latest": card.seen.check})


@require_POST
@bow_page(Role.COUNTER)
def hand_over(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """Hand the bow to a guest, under a booking or a reference of a walk-in."""
    now = datetime.now(UTC)
    booking = Booking.objects.filter(site=bow.site, reference=request.POST.get("booking", "")).first()
    reference = booking.reference if booking else request.POST.get("reference", "")[:40]
    try:
        hand_out(bow, by=here.person, reference=reference, now=now, booking=booking)
        told = _("%(tag)s is out as %(reference)s.") % {"tag": bow.tag, "reference": reference}
        messages.success(request, told, extra_tags="good")
        other = next_promise(bow, booking, now)
        if other is not None:
            words = {"tag": bow.tag, "other": other.reference, "start": clock_time(other, now)}
            back = _("%(tag)s is promised to %(other)s from %(start)s: it must be back and checked by then.") % words
            messages.warning(request, back, extra_tags="care")
    except Refused as problem:
        messages.error(request, str(problem), extra_tags="stop")
    return redirect("turnaround", tag=bow.tag)


@not_kept
@bow_page(Role.COUNTER)
def photo(request: HttpRequest, here: Here, bow: Bow, pk: int) -> HttpResponseBase:
    """A picture of a finding, for people of the bow's site alone."""
    found = CheckPhoto.objects.filter(pk=pk, check_made__bow=bow).first()
    if found is None or not Path(found.image.path).exists():
        raise Http404(_("There is no such picture of %(tag)s.") % {"tag": bow.tag})
    return FileResponse(found.image.open("rb"), content_type="image/jpeg")


@not_kept
@require_GET
@page(Role.COUNTER)
def line(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Whether there is a line, who is signed in on it, and the token that a late form needs."""
    return JsonResponse({"person": here.person.pk, "token": get_token(request)})


@not_kept
@page(Role.COUNTER)
def no_line(request: HttpRequest, here: Here) -> HttpResponseBase:
    """What a phone without a line shows of a bow that it has not seen: kept on the phone beforehand."""
    return render(request, "phone/no_line.html", {"now": datetime.now(UTC)})


@require_GET
@login_not_required
@cache_control(no_cache=True)
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker: served from the pages' own folder, because it may only speak for what lies beneath it."""
    script = (settings.BASE_DIR / "templates" / "static" / "turnaround-worker.js").read_text(encoding="utf-8")
    return HttpResponse(script, content_type="text/javascript; charset=utf-8")
