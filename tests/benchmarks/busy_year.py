"""What a year at the counter and the bench leaves in the big book: hires, checks, incidents, results, notices, parts.

Written straight into the tables like the book itself, so that every list and page has a shop's amount behind it.
"""

from typing import Any

import numpy as np
from django.db.models import Max

from fleet.models import Bow, Notice, ReferenceSet, Release, SignedResult, Stay
from tests import personas
from tests.benchmarks.big_book import BOWS, DAY_S, FIRST_S, HOUR_S, NOW_S, YEAR_S, BigBook, insert, instants

HIRES_PER_BOW, OUT_SHARE, HELD_SHARE = 8, 0.03, 0.02
BOOKED_A_DAY, DAYS_BOOKED = max(2, BOWS // 200), 30
RESULTS_PER_BOW, INCIDENTS_PER_BOW = 2, 1
MOVEMENTS, SUPPLIER_ORDERS = max(20, BOWS // 2), max(5, BOWS // 50)
NOTICES, NAMED_BY_EACH = 60, 20


def busy_year(book: BigBook, seed: int = 5) -> None:
    """Fill in what guests and the bench did with the big book's bows over the year, up to its day."""
    random = np.random.default_rng(seed)
    ids = np.array(list(Bow.objects.order_by("pk").values_list("pk", flat=True)))
    _where_now()
    _references(ids, book)
    _hires(ids, book, random)
    _bookings(book, random)
    _incidents(ids, book, random)
    _results(ids, book, random)
    _stock(book, random)
    _notices(ids, book)


def _times(count: int, random: np.random.Generator) -> "np.ndarray[Any, Any]":
    """So many instants of the year before, in order."""
    return np.sort(FIRST_S + random.integers(0, YEAR_S - DAY_S, count))


def _where_now() -> None:
    """Every bow still hangs where it was put last."""
    latest = Stay.objects.values("bow").annotate(latest=Max("pk")).values("latest")
    Stay.objects.filter(pk__in=list(latest.values_list("latest", flat=True))).update(end=None)


def _references(ids: Any, book: BigBook) -> None:
    """One current reference set a bow, with the measurements of its kind."""
    at, by = instants(np.array([FIRST_S]))[0], book.owner.pk
    insert(
        "fleet_referenceset",
        "bow_id version origin taken_at taken_by_id current",
        ((bow, 1, "draw_board", at, by, True) for bow in ids.tolist()),
    )
    values = personas.reference_values("compound", book.sheet.cam_system)
    insert(
        "fleet_referencemeasurement",
        "reference_set_id kind position value tolerance",
        (
            (pk, one.kind, "", one.value, one.tolerance)
            for pk in ReferenceSet.objects.order_by("pk").values_list("pk", flat=True)
            for one in values
        ),
    )


def _hires(ids: Any, book: BigBook, random: np.random.Generator) -> None:
    """Guests who brought their bow back, each with the check after it, and those who have one now."""
    count, by = ids.size * HIRES_PER_BOW, book.owner.pk
    start = _times(count, random)
    out, back = instants(start), instants(start + 2 * HOUR_S)
    bow = random.choice(ids, count).tolist()
    now = instants(np.full(ids.size, NOW_S - HOUR_S))
    fields = "bow_id reference out_at out_by_id back_at back_by_id known_at_hand_out"
    insert("fleet_hire", fields, ((bow[n], f"W{n:06d}", out[n], by, back[n], by, "{}") for n in range(count)))
    still = random.choice(ids, int(ids.size * OUT_SHARE), replace=False).tolist()
    insert("fleet_hire", fields, ((one, f"OUT-{one}", now[0], by, None, None, "{}") for one in still))
    insert(
        "fleet_turnaroundcheck",
        "bow_id at by_id answers measurements verdict because key",
        ((bow[n], back[n], by, "{}", "[]", "ready", "[]", f"t{n}") for n in range(count)),
    )


def _bookings(book: BigBook, random: np.random.Generator) -> None:
    """Guests of the coming weeks, by what they need."""
    count = BOOKED_A_DAY * DAYS_BOOKED
    start = NOW_S + np.repeat(np.arange(DAYS_BOOKED), BOOKED_A_DAY) * DAY_S + random.integers(1, 6, count) * HOUR_S
    begins, ends, weight = instants(start), instants(start + 2 * HOUR_S), random.uniform(150.0, 190.0, count)
    insert(
        "fleet_booking",
        "site_id reference start end hand draw_length_m peak_weight_min_n peak_weight_max_n expected_shots",
        (
            (book.site.pk, f"B-{n:05d}", begins[n], ends[n], "right", 0.7, weight[n], weight[n] + 20.0, 60)
            for n in range(count)
        ),
    )


def _incidents(ids: Any, book: BigBook, random: np.random.Generator) -> None:
    """One incident a bow, released since; some bows are held by one now."""
    count, by = ids.size * INCIDENTS_PER_BOW, book.owner.pk
    at = _times(count, random)
    since, until = instants(at), instants(at + HOUR_S)
    bow = random.choice(ids, count).tolist()
    insert("fleet_release", "bow_id at by_id order_number note", ((bow[n], until[n], by, "", "") for n in range(count)))
    releases = list(Release.objects.order_by("pk").values_list("pk", flat=True))
    held = random.choice(ids, int(ids.size * HELD_SHARE), replace=False).tolist()
    now, kind = instants(np.array([NOW_S - HOUR_S]))[0], "dry_fire"
    rows = [(bow[n], since[n], releases[n]) for n in range(count)] + [(one, now, None) for one in held]
    insert(
        "fleet_hold",
        "id bow_id reason detail since by_id released_id",
        ((n + 1, one, "incident", kind, at, by, release) for n, (one, at, release) in enumerate(rows)),
    )
    insert(
        "fleet_incident",
        "bow_id kind happened_at reported_by_id note photo key hold_id",
        ((one, kind, at, by, "", "", f"i{n}", n + 1) for n, (one, at, _release) in enumerate(rows)),
    )


def _results(ids: Any, book: BigBook, random: np.random.Generator) -> None:
    """Signed and released orders with their readings."""
    count, by = ids.size * RESULTS_PER_BOW, book.owner.pk
    at = _times(count, random)
    begun, done = instants(at), instants(at + HOUR_S)
    bow = random.choice(ids, count).tolist()
    sets = dict(ReferenceSet.objects.values_list("bow_id", "pk"))
    insert(
        "fleet_signedresult",
        "order_number bow_id reference_set_id work cords_changed steps_done note signed_at performed_by_id "
        "released_by_id released_at",
        ((f"W-{n:06d}", bow[n], sets[bow[n]], _WORK, "[]", "[]", "", done[n], by, by, done[n]) for n in range(count)),
    )
    insert(
        "service_workorder",
        "number site_id bow_id day place_in_day technician_id minutes status reference_set_id frozen steps_done note "
        "issued_at issued_by_id started_at signed_at closed_at",
        (
            (f"W-{n:06d}", book.site.pk, bow[n], begun[n][:10], 1, by, 20, "released", sets[bow[n]], "{}", "[]", "",
             begun[n], by, begun[n], done[n], done[n])
            for n in range(count)
        ),
    )  # fmt: skip
    values = personas.reference_values("compound", book.sheet.cam_system)
    insert(
        "fleet_resultmeasurement",
        "result_id kind position as_found as_left tool_overdue",
        (
            (pk, one.kind, "", one.value + one.tolerance / 2, one.value, False)
            for pk in SignedResult.objects.order_by("pk").values_list("pk", flat=True)
            for one in values
        ),
    )


_WORK = '[{"kind": "inspection", "reason": "asked for"}]'


def _stock(book: BigBook, random: np.random.Generator) -> None:
    """Cords that came and went, and orders at the suppliers."""
    specs, by = [row.cord_spec_id for row in book.sheet.cords.all()], book.owner.pk
    at, spec = instants(_times(MOVEMENTS, random)), random.choice(specs, MOVEMENTS).tolist()
    insert(
        "fleet_stockmovement",
        "cord_spec_id site_id kind quantity at by_id order_number key",
        (
            (spec[n], book.site.pk, "used" if n % 2 else "received", -1 if n % 2 else 2, at[n], by, "", f"m{n}")
            for n in range(MOVEMENTS)
        ),
    )
    day = at[0][:10]
    insert(
        "fleet_supplierorder",
        "cord_spec_id site_id reference quantity ordered_on expected_on received_at",
        (
            (spec[n], book.site.pk, f"PO-{n:04d}", 10, day, day, at[n] if n % 10 else None)
            for n in range(SUPPLIER_ORDERS)
        ),
    )


def _notices(ids: Any, book: BigBook) -> None:
    """Some recalls: one names every bow of the fleet, the others a few; half of them are answered."""
    day, at = instants(np.array([NOW_S]))[0][:10], instants(np.array([NOW_S]))[0]
    insert(
        "fleet_notice",
        "title text issued_on spec_sheet_id serial_from serial_to cord_lot holds due_on",
        ((f"Recall {n}", "", day, book.sheet.pk, "", "", "", False, "2026-12-01") for n in range(NOTICES)),
    )
    everyone, *others = Notice.objects.order_by("pk").values_list("pk", flat=True)
    rows = [(everyone, bow) for bow in ids.tolist()]
    rows += [(notice, bow) for notice in others for bow in ids[:: max(1, ids.size // NAMED_BY_EACH)].tolist()]
    insert(
        "fleet_noticematch",
        "notice_id bow_id answer answered_at answered_by_id",
        ((notice, bow, "seen", at, book.owner.pk) for notice, bow in rows),
    )
