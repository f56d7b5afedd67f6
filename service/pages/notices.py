"""Notices (recalls and campaigns): issue one with a preview, answer it bow by bow, and see all that one touches."""

from datetime import UTC, datetime
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet import record
from fleet.models import Bow, Incident, Notice
from fleet.record.notices import matched_bows
from fleet.refusal import Refused
from fleet.vocabulary import Role
from service import affected
from service.pages.access import Here, bow_page, page
from service.pages.notice_form import NoticeForm
from service.schedule import today_at

PER_PAGE = 50


@page(Role.TECHNICIAN)
def notices(request: HttpRequest, here: Here) -> HttpResponseBase:
    """All notices, the latest first, with how many bows of the reader's sites are still to be answered."""
    mine = Q(matches__bow__site__in=here.sites)
    found = Notice.objects.select_related("spec_sheet").annotate(
        matched=Count("matches", filter=mine),
        open=Count("matches", filter=mine & Q(matches__answered_at=None)),
    )
    shown = Paginator(found.order_by("-issued_on", "-pk"), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "desk/notices.html", {"notices": shown})


@page(Role.MANAGER)
def new(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Write a notice; first see which bows it would hold, then issue it."""
    now = datetime.now(UTC)
    known = {"issued_on": today_at(here.site, now), "holds": True, "cord_lot": request.GET.get("cord_lot", "")}
    form = NoticeForm(request.POST or None, initial=known)
    content: dict[str, Any] = {"form": form}
    if request.method == "POST" and form.is_valid():
        try:
            if request.POST.get("action") == "issue":
                notice = record.issue_notice(by=here.person, at=now, **form.cleaned_data)
                told = _("The notice is issued. %(count)d bows are matched.") % {"count": notice.matches.count()}
                messages.success(request, told, extra_tags="good")
                return redirect("notice", pk=notice.pk)
            found = matched_bows(form.draft)
            content["would_match"] = [bow for bow in found if bow.site in here.sites]
            content["elsewhere"] = len(found) - len(content["would_match"])
        except Refused as problem:
            form.add_error(None, str(problem))
    return render(request, "desk/notice_new.html", content, status=422 if form.errors else 200)


@page(Role.TECHNICIAN)
def notice(request: HttpRequest, here: Here, pk: int) -> HttpResponseBase:
    """One notice with every bow that it concerns."""
    found = get_object_or_404(Notice.objects.select_related("spec_sheet"), pk=pk)
    concerned = affected.of_notice(found, here.sites, datetime.now(UTC), request.GET.get("page"))
    content = {"notice": found, "affected": concerned}
    return render(request, "desk/notice.html", content)


@require_POST
@bow_page(Role.TECHNICIAN)
def answer(request: HttpRequest, here: Here, bow: Bow, match: int) -> HttpResponseBase:
    """Write down how one bow was answered."""
    found = get_object_or_404(bow.notices, pk=match)
    try:
        record.answer_notice(by=here.person, match=found, answer=request.POST.get("answer", ""), at=datetime.now(UTC))
        told = _("Written down. %(tag)s is released only by the bench.") % {"tag": bow.tag}
        messages.success(request, told, extra_tags="good")
    except Refused as problem:
        messages.error(request, f"{bow.tag}: {problem}", extra_tags="stop")
    return redirect("notice", pk=found.notice_id)


@page(Role.TECHNICIAN)
def trace(request: HttpRequest, here: Here) -> HttpResponseBase:
    """From a lot or an incident to every bow, guest and order that it concerns."""
    now, lot, page_number = datetime.now(UTC), request.GET.get("lot", "").strip(), request.GET.get("page")
    content: dict[str, Any] = {"lot": lot}
    if request.GET.get("incident"):
        content["incident"] = incident = _incident(here, request.GET["incident"])
        content["affected"] = affected.of_incident(incident, here.sites, now, page_number)
    elif lot:
        content["affected"] = affected.of_lot(lot, here.sites, now, page_number)
    return render(request, "desk/trace.html", content)


def _incident(here: Here, given: str) -> Incident:
    found = Incident.objects.filter(bow__site__in=here.sites).select_related("bow", "reported_by")
    incident = found.filter(pk=given).first() if given.isdecimal() else None
    if incident is None:
        raise Http404(_("There is no incident %(given)s at your sites.") % {"given": given[:20]})
    return incident
