"""Every address of the site."""

from django.urls import URLPattern, URLResolver, path

from service.pages import account, bows, order, queue, take_in

handler403 = "service.pages.access.refused"

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
    path("take-in/", take_in.take_in, name="take-in"),
]
