"""Every address of the site."""

from django.urls import URLPattern, URLResolver, path

from service.pages import account, bow_record, bows, cord_specs, notices, order, queue, take_in

handler400 = "service.pages.problems.bad_request"
handler403 = "service.pages.problems.not_open"
handler404 = "service.pages.problems.not_found"
handler500 = "service.pages.problems.broken"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", account.home, name="home"),
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("due/", bows.due, name="due"),
    path("bows/", bows.bows, name="bows"),
    path("bows/<str:tag>/", bows.bow, name="bow"),
    path("bows/<str:tag>/issue/", queue.issue_order, name="issue-order"),
    path("queue/", queue.queue, name="queue"),
    path("queue/issue/", queue.issue, name="issue-day"),
    path("queue/paper.pdf", queue.queue_pdf, name="queue-pdf"),
    path("orders/<str:number>/", order.order, name="order"),
    path("orders/<str:number>/sheet.pdf", queue.order_pdf, name="order-pdf"),
    path("notices/", notices.notices, name="notices"),
    path("notices/new/", notices.new, name="notice-new"),
    path("notices/trace/", notices.trace, name="trace"),
    path("notices/<int:pk>/", notices.notice, name="notice"),
    path("bows/<str:tag>/record.pdf", bow_record.as_paper, name="bow-record-pdf"),
    path("bows/<str:tag>/record.json", bow_record.as_document, name="bow-record-json"),
    path("bows/<str:tag>/record.zip", bow_record.as_tables, name="bow-record-zip"),
    path("bows/<str:tag>/notices/<int:match>/answer/", notices.answer, name="notice-answer"),
    path("cord-specs/", cord_specs.cord_specs, name="cord-specs"),
    path("cord-specs/<path:code>/history/", cord_specs.spec_history, name="spec-history"),
    path("cord-specs/<path:code>/coefficients/<str:name>/", cord_specs.coefficient, name="coefficient"),
    path("cord-specs/<path:code>/", cord_specs.cord_spec, name="cord-spec"),
    path("take-in/", take_in.take_in, name="take-in"),
    path("take-in/sample/<str:kind>.csv", take_in.sample, name="take-in-sample"),
    path("take-in/<str:token>/", take_in.preview, name="take-in-preview"),
    path("take-in/<str:token>/apply/", take_in.apply_upload, name="take-in-apply"),
    path("take-in/<str:token>/drop/", take_in.drop_upload, name="take-in-drop"),
    path("take-in/<str:token>/bad-cells.csv", take_in.problems_csv, name="take-in-problems"),
]
