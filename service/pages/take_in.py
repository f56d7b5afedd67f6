"""Taking a file in from a page: choose, look at what it would change, then apply it or throw it away."""

import csv
from collections.abc import Iterable
from datetime import UTC, datetime

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.vocabulary import Role
from service.export import safe
from service.intake import KINDS, Outcome, Preview, Problem, TableRefused, apply, check, read_table
from service.pages import uploads
from service.pages.access import Here, page
from service.pages.take_in_scope import open_kinds, out_of_scope, with_scope
from service.pages.uploads import Upload

PROBLEMS_PER_PAGE = 200
MEGABYTE = 1024 * 1024


@page(Role.MANAGER)
def take_in(request: HttpRequest, here: Here) -> HttpResponseBase:
    """Choose a kind and a file; a file that reads as a table is kept and previewed."""
    kinds = open_kinds(here.person, list(KINDS))
    kind, error = request.POST.get("kind", "") or request.GET.get("kind", ""), ""
    if request.method == "POST":
        file = request.FILES.get("file")
        if kind not in kinds:
            error = _("Choose what the file holds.")
        elif file is None:
            error = _("Choose a file: CSV or XLSX, with a header line.")
        else:
            upload = uploads.keep(file, owner=here.person, site=here.site, kind=kind)
            try:
                read_table(upload.path, upload.name)
                return redirect("take-in-preview", token=upload.token)
            except TableRefused as problem:
                uploads.forget(upload)
                error = str(problem)
    content = {
        "kinds": [KINDS[name] for name in kinds],
        "kind": kind,
        "error": error,
        "most_megabytes": settings.UPLOAD_MAX_BYTES // MEGABYTE,
    }
    return render(request, "desk/take_in.html", content, status=422 if error else 200)


@page(Role.MANAGER)
def preview(request: HttpRequest, here: Here, token: str) -> HttpResponseBase:
    """What the kept file would change, and every bad cell."""
    upload = _upload(here, token)
    return _show(request, upload, _run(upload, here, keep=False))


@require_POST
@page(Role.MANAGER)
def apply_upload(request: HttpRequest, here: Here, token: str) -> HttpResponseBase:
    """Take the kept file in: all of it, or (if the book changed meanwhile) nothing, with the reasons."""
    upload = _upload(here, token)
    outcome = _run(upload, here, keep=True)
    if not isinstance(outcome, Outcome) or not outcome.written:
        messages.error(request, _("Nothing was taken in: see what is wrong below."), extra_tags="stop")
        return _show(request, upload, outcome)
    uploads.forget(upload)
    counts = {"name": upload.name, "new": outcome.new, "changed": outcome.changed, "unchanged": outcome.unchanged}
    told = _("%(name)s is taken in: %(new)d new, %(changed)d changed, %(unchanged)d unchanged.") % counts
    messages.success(request, told, extra_tags="good")
    return redirect("take-in")


@require_POST
@page(Role.MANAGER)
def drop_upload(request: HttpRequest, here: Here, token: str) -> HttpResponseBase:
    """Throw the kept file away; the book stays as it is."""
    uploads.forget(_upload(here, token))
    messages.success(request, _("The file is thrown away; nothing was changed."))
    return redirect("take-in")


@page(Role.MANAGER)
def problems_csv(request: HttpRequest, here: Here, token: str) -> HttpResponseBase:
    """Every bad cell of the kept file as CSV, to mend it beside."""
    upload = _upload(here, token)
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="bad-cells.csv"'
    _write_problems(response, _run(upload, here, keep=False).problems)
    return response


@page(Role.MANAGER)
def sample(request: HttpRequest, here: Here, kind: str) -> HttpResponseBase:
    """An example file of a kind."""
    path = settings.BASE_DIR / "templates" / "samples" / f"{kind}.csv"
    if kind not in KINDS or not path.exists():
        raise Http404(_("There is no sample of '%(kind)s'.") % {"kind": kind[:40]})
    return FileResponse(path.open("rb"), as_attachment=True, filename=path.name, content_type="text/csv")


def _upload(here: Here, token: str) -> Upload:
    """The person's own kept file, of a kind and site that are open to them."""
    upload = uploads.find(token, here.person)
    if upload is None or upload.kind not in open_kinds(here.person, list(KINDS)):
        raise Http404(_("This file is not here any more: it was taken in, thrown away, or a day old. Send it again."))
    return upload


def _run(upload: Upload, here: Here, *, keep: bool) -> Preview | Outcome:
    site = next(site for site in here.sites if site.code == upload.site)
    table, now = read_table(upload.path, upload.name), datetime.now(UTC)
    foreign = out_of_scope(upload.kind, table, here.person)
    if keep and not foreign:
        return apply(upload.kind, table, by=here.person, now=now, site=site)
    return with_scope(check(upload.kind, table, by=here.person, now=now, site=site), foreign)


def _show(request: HttpRequest, upload: Upload, found: Preview | Outcome) -> HttpResponseBase:
    content = {
        "upload": upload,
        "found": found,
        "about": KINDS[upload.kind].about,
        "problems": Paginator(found.problems, PROBLEMS_PER_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "desk/take_in_preview.html", content)


def _write_problems(response: HttpResponse, problems: Iterable[Problem]) -> None:
    sheet = csv.writer(response)
    sheet.writerow(["line", "column", "value", "why", "allowed", "fix"])
    for one in problems:
        cells = [str(one.line), one.column, one.value, one.why, one.allowed, one.fix]
        sheet.writerow([safe(cell) for cell in cells])
