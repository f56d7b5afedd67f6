"""Every form of consequence, filled in once: what it takes to send it, and to whom the second sending is told.

A case is a function of the shop that sets the scene and returns a `Form`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from django.test import Client

from fleet import record
from fleet.models import Bow, CordSpec, DeviceToken, Person
from fleet.record.devices import make_device_token
from service import decide, schedule
from service.models import Need, NeedKind
from service.orders import close, work
from service.orders.work import TypedReading
from tests import personas
from tests.pages import orders
from tests.pages.conftest import BACKEND
from tests.personas import NOW, Shop
from tests.service.test_schedule import need
from tests.turnaround.typed import fine

TODAY = NOW.date()


@dataclass(frozen=True)
class Form:
    """Who sends what where, and words on the page that the second sending leads to."""

    by: Person
    address: str
    typed: dict[str, str]
    told: str


Case = Callable[[Shop], Form]
CASES: dict[str, Case] = {}


def form_of(name: str) -> Callable[[Case], Case]:
    """Names the address (its name in service/urls.py) whose form a case fills in; after a dot, which act of it."""

    def put(case: Case) -> Case:
        CASES[name] = case
        return case

    return put


def _recurve(shop: Shop, tag: str = "L-1") -> Bow:
    bow = personas.fitted_bow(shop, kind="recurve", tag=tag, days_ago=10)
    decide.refresh([bow.pk], NOW)
    return bow


def _typed_order(shop: Shop) -> tuple[str, dict[str, str]]:
    order = orders.issued(shop, orders.worn_bow(shop, "single"))
    return order.number, {**orders.on_reference(order), **orders.new_set(order)}


@form_of("order.save")
def typed_results(shop: Shop) -> Form:
    number, typed = _typed_order(shop)
    return Form(shop.technician, f"/orders/{number}/", {"action": "save", **typed}, "Kept")


@form_of("order.sign")
def sign(shop: Shop) -> Form:
    number, typed = _typed_order(shop)
    return Form(shop.technician, f"/orders/{number}/", {"action": "sign", **typed}, "signed")


@form_of("order.release")
def release(shop: Shop) -> Form:
    order = orders.issued(shop, _recurve(shop))
    work.start(order, by=shop.technician, now=NOW)
    readings = [TypedReading(one.kind, one.value, one.value) for one in order.reference_set.measurements.all()]
    order = work.enter(
        order, by=shop.technician, now=NOW, readings=readings, cords=[], steps_done=[], note="as it should be"
    )
    close.sign(order, by=shop.technician, now=NOW)
    return Form(shop.manager, f"/orders/{order.number}/", {"action": "release"}, "already released|only a signed order")


@form_of("order.cancel")
def cancel_order(shop: Shop) -> Form:
    order = orders.issued(shop, _recurve(shop))
    return Form(shop.technician, f"/orders/{order.number}/", {"action": "cancel", "why": "wrong bow"}, "cancelled")


@form_of("issue-order")
def issue_order(shop: Shop) -> Form:
    return Form(shop.technician, f"/bows/{_recurve(shop).tag}/issue/", {}, "has an open order")


@form_of("issue-day")
def issue_day(shop: Shop) -> Form:
    bow = _recurve(shop)
    need(bow, NeedKind.INSPECTION, earliest_on=TODAY, due_on=TODAY, latest_on=TODAY)
    schedule.draft(shop.site, TODAY, 14, NOW)
    return Form(shop.technician, "/queue/issue/", {"day": TODAY.isoformat()}, "")


@form_of("turnaround")
def check_that_is_the_return(shop: Shop) -> Form:
    bow = _recurve(shop)
    record.hand_out(by=shop.counter, bow=bow, reference="G-1", at=personas.before(hours=2), known={})
    return Form(shop.counter, f"/turnaround/{bow.tag}/", fine("recurve", dropped="yes"), "HOLD|Hold")


@form_of("turnaround-hand-over")
def hand_out(shop: Shop) -> Form:
    bow = _recurve(shop)
    Need.objects.all().delete()
    return Form(
        shop.counter, f"/turnaround/{bow.tag}/hand-over/", {"reference": "W-7"}, "is out|out already|pick another"
    )


@form_of("hold-many")
def hold_many(shop: Shop) -> Form:
    _recurve(shop)
    query = {"list": "lot", "lot": "LOT-A"}
    client = Client()
    client.force_login(shop.manager, backend=BACKEND)
    seal = client.get("/hold/", query).context["picked"].seal
    return Form(shop.manager, "/hold/", {**query, "seal": seal, "detail": "frays"}, "already|changed since")


@form_of("held-undo")
def take_the_hold_back(shop: Shop) -> Form:
    bow = _recurve(shop)
    action = record.hold_many(by=shop.manager, site=shop.site, bows=[bow], detail="frays", picked="by hand", at=NOW)
    return Form(shop.manager, f"/held/{action.pk}/undo/", {}, "already: hold the bows anew")


@form_of("notice-new")
def issue_notice(shop: Shop) -> Form:
    _recurve(shop)
    typed = {"title": "Strings of LOT-A part", "issued_on": "2026-07-01", "cord_lot": "LOT-A", "holds": "on"}
    return Form(shop.manager, "/notices/new/", {**typed, "action": "issue"}, "already")


@form_of("notice-answer")
def answer_notice(shop: Shop) -> Form:
    bow = _recurve(shop)
    notice = record.issue_notice(by=shop.manager, title="Limbs", issued_on=TODAY, at=NOW, spec_sheet=bow.spec_sheet)
    address = f"/bows/{bow.tag}/notices/{notice.matches.get().pk}/answer/"
    return Form(shop.technician, address, {"answer": "limbs changed"}, "already")


@form_of("outlook-publish")
def publish(shop: Shop) -> Form:
    need(_recurve(shop), NeedKind.INSPECTION, earliest_on=TODAY, due_on=TODAY + timedelta(days=5))
    schedule.draft(shop.site, TODAY, 14, NOW)
    return Form(shop.manager, "/outlook/publish/", {"until": "2026-07-10"}, "published already")


@form_of("outlook-enter")
def enter_what_if(shop: Shop) -> Form:
    away = {"away": shop.technician.username, "away_from": "2026-07-06", "away_to": "2026-07-12"}
    return Form(shop.manager, "/outlook/what-if/enter/", {"ask": "1", "use": "0", "warmer": "0", **away}, "")


@form_of("move-stock")
def move_stock(shop: Shop) -> Form:
    personas.cord_spec(shop.owner)
    typed = {"cord_spec": "QW-string", "kind": "received", "quantity": "4", "at": "2026-06-30T10:00", "key": "k1"}
    return Form(shop.technician, "/parts/movements/", _prefixed("movement", typed), "in the book")


@form_of("put-supplier-order")
def put_supplier_order(shop: Shop) -> Form:
    personas.cord_spec(shop.owner)
    days = {"ordered_on": "2026-07-01", "expected_on": "2026-07-11"}
    typed = {"reference": "PO-9", "cord_spec": "QW-string", "quantity": "6", **days}
    return Form(shop.manager, "/parts/orders/", _prefixed("order", typed), "on order")


def _prefixed(prefix: str, typed: dict[str, str]) -> dict[str, str]:
    return {f"{prefix}-{name}": value for name, value in typed.items()}


def _supplier_order(shop: Shop) -> int:
    spec: CordSpec = personas.cord_spec(shop.owner)
    return record.put_supplier_order(
        by=shop.owner, site=shop.site, cord_spec=spec, reference="PO", quantity=2, ordered_on=TODAY, expected_on=TODAY
    ).pk


@form_of("receive-order")
def receive(shop: Shop) -> Form:
    return Form(shop.technician, f"/parts/orders/{_supplier_order(shop)}/receive/", {}, "already received")


@form_of("cancel-order")
def cancel_supplier_order(shop: Shop) -> Form:
    return Form(shop.manager, f"/parts/orders/{_supplier_order(shop)}/cancel/", {"why": "late"}, "was cancelled at")


BOOKED = {
    "reference": "B-77", "hand": "right", "draw_length": "28", "peak_weight_min": "38", "peak_weight_max": "42 lb",
    "expected_shots": "45", "start": "2026-07-02T10:00", "end": "2026-07-02T11:00", "bow": "", "guest_name": "Ada Fern",
}  # fmt: skip


@form_of("book")
def book(shop: Shop) -> Form:
    return Form(shop.counter, "/guests/book/", BOOKED, "in the book already")


def _booking(shop: Shop) -> int:
    start, end = personas.before(-1), personas.before(-2)
    return record.put_booking(by=shop.owner, site=shop.site, reference="B-1", start=start, end=end, hand="right").pk


@form_of("promise-bow")
def promise(shop: Shop) -> Form:
    bow = personas.fitted_bow(shop, tag="L-1")
    personas.shoot(shop, bow, 120, days_ago=90)
    decide.refresh([bow.pk], NOW)
    Need.objects.filter(kind__in=[NeedKind.INSPECTION, NeedKind.SETTLE_IN]).delete()
    return Form(shop.counter, f"/guests/{_booking(shop)}/promise/", {"bow": bow.tag}, "promised")


@form_of("cancel-booking")
def cancel_booking(shop: Shop) -> Form:
    return Form(shop.counter, f"/guests/{_booking(shop)}/cancel/", {}, "cancelled")


@form_of("devices")
def make_token(shop: Shop) -> Form:
    return Form(shop.manager, "/devices/", {"name": "Lane 3", "scopes": "shots"}, "already")


@form_of("device-revoke")
def revoke_token(shop: Shop) -> Form:
    token: DeviceToken = make_device_token(by=shop.owner, site=shop.site, name="Lane 3", scopes=["shots"], now=NOW)[0]
    return Form(shop.manager, f"/devices/{token.pk}/revoke/", {}, "revoked")


@form_of("bow-move")
def move_bow(shop: Shop) -> Form:
    personas.shop("ridgecamp")
    return Form(shop.owner, f"/bows/{_recurve(shop).tag}/move/", {"site": "ridgecamp"}, "Ridgecamp")


@form_of("bow-retire")
def retire(shop: Shop) -> Form:
    return Form(shop.manager, f"/bows/{_recurve(shop).tag}/retire/", {"why": "limb cracked"}, "retired")


@form_of("defer")
def put_off(shop: Shop) -> Form:
    bow = personas.fitted_bow(shop, "single", "L-1", days_ago=20, in_service_on=personas.before(5).date())
    personas.shoot(shop, bow, 4_700, days_ago=2)
    decide.rebuild(NOW)
    until = (TODAY + timedelta(days=3)).isoformat()
    return Form(shop.manager, "/bows/L-1/defer/", {"until": until, "why": "spare set comes Friday"}, "already")


@form_of("arms")
def measured_arms(shop: Shop) -> Form:
    bow = personas.fitted_bow(shop, "single", "L-1")
    return Form(shop.technician, f"/bows/{bow.tag}/arms/", {"lower-string": "1 3/4"}, "")


@form_of("record-new")
def add_a_place(shop: Shop) -> Form:
    typed = {"name": "Trailer", "site": "larkspur", "temperature_source": "logger"}
    return Form(shop.manager, "/house/places/new/", typed, "already|Trailer")


@form_of("coefficient")
def coefficient(shop: Shop) -> Form:
    personas.cord_spec(shop.owner)
    typed = {"action": "set", "label": "own measurement", "source": "twelve cords", "why": "ours differ"}
    address = "/cord-specs/QW-string/coefficients/load_exponent/"
    return Form(shop.manager, address, {**typed, "value": "6"}, "")


@form_of("house-coefficient")
def house_coefficient(shop: Shop) -> Form:
    typed = {"action": "set", "label": "own measurement", "source": "twelve cords", "why": "ours differ"}
    return Form(shop.owner, "/coefficients/shelf_fraction/", {**typed, "value": "0.4"}, "")


@form_of("erase-guest")
def erase_a_guests_name(shop: Shop) -> Form:
    times = {"start": personas.before(3), "end": personas.before(2)}
    booking = record.put_booking(
        by=shop.owner, site=shop.site, reference="B-1", hand="right", guest_name="Ada Fern", **times
    )
    return Form(shop.manager, f"/guests/{booking.pk}/erase/", {}, "")


@form_of("references")
def next_reference_set(shop: Shop) -> Form:
    bow = personas.fitted_bow(shop, "single", "L-1")
    address, client = f"/bows/{bow.tag}/references/", Client()
    client.force_login(shop.manager, backend=BACKEND)
    opened = {one.header: one.text for one in client.get(address).context["form"].fields}
    typed = {"origin": "draw_board", "length_tool": shop.tool_codes["rule"], "brace_height_in": "7 5/64"}
    return Form(shop.manager, address, opened | typed, "Version 2")


# Each writes the values of its form over those that are there, or takes away what is gone then.
SETS_THE_SAME = {
    "bench-opens", "change-booking", "draw-board", "language", "leaving", "morning-mail", "outlook-move", "password",
    "record-change", "revoke-feed", "second-factor-reset", "stop-morning-mail", "theme", "view-forget", "view-save",
    "wear-choice",
}  # fmt: skip
# Looks, computes anew, or lays something out.
CHANGES_NOTHING = {
    "labels-pdf", "order-live", "outlook-plan", "outlook-what-if", "queue", "queue-pdf", "sign-in", "sign-out",
}  # fmt: skip
# Held elsewhere, with what happens the second time.
ITS_OWN_TESTS = {
    "first-site": "the page is gone: tests/pages/test_who_may.py",
    "make-feed": "another address, listed and revocable; the first was shown once: tests/feeds/test_feeds.py",
    "second-factor": "a code is taken once: tests/pages/test_second_factor.py",
    "sign-in-code": "a code is taken once: tests/pages/test_second_factor.py",
    "take-in": "the file is kept under another number, and not taken in: tests/pages/test_take_in.py",
    "take-in-apply": "the file is not here any more; sent again it changes nothing: tests/intake/test_fuzzed_files.py",
    "take-in-drop": "the file is not here any more: tests/pages/test_take_in.py",
}
