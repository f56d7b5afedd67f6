"""Makes a book that is open now, with people and devices for a crowd:  python -m tests.load.book PEOPLE DEVICES

The book is the benchmarks' big one at BRACEBOOK_BENCHMARK_SCALE (0.1: 1,000 bows), moved up to this minute, each bow
measured and looked over within the month. The last line on the output is JSON: who may sign in, and the devices.
"""

import json
import os
import sys
from datetime import UTC, datetime, timedelta
from typing import Any

import django

PLACES = 5


def main(people: int, devices: int) -> dict[str, Any]:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service.settings")
    django.setup()
    from service import decide, schedule
    from service.models import NightlyRun
    from tests import personas
    from tests.benchmarks import big_book

    now = datetime.now(UTC).replace(microsecond=0) - timedelta(minutes=10)
    personas.NOW = big_book.NOW = now
    big_book.NOW_S = int(now.timestamp())
    big_book.FIRST_S = big_book.NOW_S - big_book.YEAR_S
    # A bow hangs now here, now there, but not all over a chain: a site has a few places.
    big_book.PLACES = PLACES
    book = big_book.big_book()
    _looked_over(book, now)
    decide.rebuild(datetime.now(UTC))
    # As last night left it: its own night is over, and no second one goes on beside the crowd.
    today = schedule.today_at(book.site, now)
    schedule.current_draft(book.site, today, schedule.DEFAULT_DAYS, datetime.now(UTC))
    NightlyRun.objects.create(site=book.site, night=today, started_at=now, ended_at=datetime.now(UTC), tries=1)
    return {**_people(book, people), **_devices(book, devices, now)}


def _looked_over(book: Any, now: datetime) -> None:
    """Each bow hangs where it was put last, has a current reference set, and was inspected within the month."""
    from django.db.models import Max

    from fleet.models import Bow, ReferenceMeasurement, ReferenceSet, SignedResult, Stay
    from tests import personas

    latest = Stay.objects.values("bow").annotate(latest=Max("start")).values_list("bow", "latest")
    for bow, start in latest:
        Stay.objects.filter(bow=bow, start=start).update(end=None)
    bows, by = list(Bow.objects.order_by("pk")), book.owner
    taken = now - timedelta(days=40)
    sets = ReferenceSet.objects.bulk_create(
        ReferenceSet(bow=bow, version=1, origin="draw_board", taken_at=taken, taken_by=by, current=True) for bow in bows
    )
    values = personas.reference_values("compound", "twin")
    ReferenceMeasurement.objects.bulk_create(
        ReferenceMeasurement(reference_set=one, kind=value.kind, value=value.value, tolerance=value.tolerance)
        for one in sets
        for value in values
    )
    SignedResult.objects.bulk_create(
        SignedResult(
            order_number=f"L-{one.bow.tag}", bow=one.bow, reference_set=one, work=[{"kind": "inspection"}],
            signed_at=now - timedelta(days=number % 28), performed_by=by, released_by=by,
            released_at=now - timedelta(days=number % 28),
        )
        for number, one in enumerate(sets)
    )  # fmt: skip


def _people(book: Any, count: int) -> dict[str, Any]:
    from tests import personas

    counters = [personas.person(book.owner, book.site, "counter", f"counter-{n}").username for n in range(count)]
    managers = [personas.person(book.owner, book.site, "manager", f"manager-{n}").username for n in range(count)]
    return {"counters": counters, "managers": managers}


def _devices(book: Any, count: int, now: datetime) -> dict[str, Any]:
    from fleet import record
    from fleet.models import Bow, Place

    made = [
        record.make_device_token(
            by=book.owner, site=book.site, name=f"Lane {n}", scopes=["shots", "readings", "read"], now=now
        )[1]
        for n in range(count)
    ]
    places = Place.objects.filter(site=book.site, temperature_source="logger").order_by("pk")[:count]
    return {
        "site": book.site.pk,
        "devices": made,
        "places": [place.name for place in places],
        "tags": list(Bow.objects.order_by("pk").values_list("tag", flat=True)),
    }


if __name__ == "__main__":
    print(json.dumps(main(int(sys.argv[1]), int(sys.argv[2]))))
