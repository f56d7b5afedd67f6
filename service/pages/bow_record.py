"""A bow's whole record: as one PDF, as JSON that another book can take in, as CSV for a spreadsheet."""

from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.utils.text import slugify

from fleet.models import Bow
from fleet.vocabulary import Role
from service.bow_record.contents import contents_of
from service.bow_record.files import as_zip
from service.bow_record.record import as_json, document_of
from service.pages.access import Here, bow_page
from service.printing.pdf_record import render_record


def _file(content: bytes, kind: str, bow: Bow, ending: str) -> HttpResponse:
    name = f"{slugify(bow.tag) or 'bow'}-record.{ending}"
    shown = "inline" if ending == "pdf" else "attachment"
    return HttpResponse(content, content_type=kind, headers={"Content-Disposition": f'{shown}; filename="{name}"'})


@bow_page(Role.TECHNICIAN)
def as_paper(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """The record to print."""
    content = render_record(contents_of(bow, datetime.now(UTC)), bow.site.paper)
    return _file(content, "application/pdf", bow, "pdf")


@bow_page(Role.MANAGER)
def as_document(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """The record for another book."""
    return _file(as_json(document_of(bow, datetime.now(UTC))), "application/json", bow, "json")


@bow_page(Role.MANAGER)
def as_tables(request: HttpRequest, here: Here, bow: Bow) -> HttpResponseBase:
    """The record for a spreadsheet."""
    return _file(as_zip(document_of(bow, datetime.now(UTC))), "application/zip", bow, "zip")
