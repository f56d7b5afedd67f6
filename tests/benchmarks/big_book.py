"""The big fleet as rows of the register, written straight into its tables: one book of 10,000 bows for benchmarks.

`BRACEBOOK_BENCHMARK_SCALE` scales it (1 by default): 0.01 is a book of 100 bows.
"""

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import islice
from typing import Any

import numpy as np
from django.db import connection, transaction

from fleet import record
from fleet.models import Bow, Person, Place, Site, SpecSheet
from tests import personas

SCALE = float(os.environ.get("BRACEBOOK_BENCHMARK_SCALE", "1"))
BOWS, CORDS, SHOTS = int(10_000 * SCALE), int(25_000 * SCALE), int(2_000_000 * SCALE)
PLACES, READINGS = max(2, int(200 * SCALE)), 8_760
STAYS_PER_BOW, PARKINGS_PER_BOW, SLACKS_PER_BOW = 20, 5, 2
HOUR_S, DAY_S = 3_600, 86_400
YEAR_S = READINGS * HOUR_S
NOW = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
NOW_S = int(NOW.timestamp())
FIRST_S = NOW_S - YEAR_S
AT_ONCE = 50_000
MOVED_EVERY = 12
"""One cord in so many was on another bow before."""

Rows = Iterable[tuple[Any, ...]]


@dataclass(frozen=True)
class BigBook:
    """Whose book it is; everything else is in the tables."""

    owner: Person
    site: Site
    sheet: SpecSheet


def big_book(seed: int = 11) -> BigBook:
    """Fill the tables; rows of one kind arrive as they would over the year, bows mixed."""
    shop = personas.shop()
    sheet = personas.spec_sheet(shop.owner, "twin")
    for row in sheet.cords.select_related("cord_spec"):
        record.put_cord_spec(by=shop.owner, code=row.cord_spec.code, rated_peak_weight_n=180.0)
    random = np.random.default_rng(seed)
    with transaction.atomic():
        _places(shop.site)
        _bows(shop.site, sheet)
        bow_ids = np.array(list(Bow.objects.order_by("pk").values_list("pk", flat=True)))
        place_ids = np.array(list(Place.objects.order_by("pk").values_list("pk", flat=True)))
        _set_ups(bow_ids, random)
        _cords(bow_ids, sheet, shop.technician, random)
        _where(bow_ids, place_ids, random)
        _readings(place_ids, random)
        _shots(bow_ids, shop.counter, random)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return BigBook(shop.owner, shop.site, sheet)


def insert(table: str, fields: str, rows: Rows) -> None:
    """Rows of a table, its fields named in one text, as they come."""
    names = ", ".join(f'"{name}"' for name in fields.split())
    marks = ", ".join(["%s"] * len(fields.split()))
    iterator = iter(rows)
    with connection.cursor() as cursor:
        while batch := list(islice(iterator, AT_ONCE)):
            cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", batch)


def instants(epoch_s: "np.ndarray[Any, Any]") -> list[str]:
    """Whole epoch seconds as the database's text; quicker than a datetime each."""
    return [
        text.replace("T", " ") for text in np.datetime_as_string(epoch_s.astype("datetime64[s]"), unit="s").tolist()
    ]


def _places(site: Site) -> None:
    insert(
        "fleet_place",
        "site_id name temperature_source shade boot",
        ((site.pk, f"place {n}", "logger", False, False) for n in range(PLACES - site.places.count())),
    )


def _bows(site: Site, sheet: SpecSheet) -> None:
    insert(
        "fleet_bow",
        "tag serial spec_sheet_id hand site_id in_service_on",
        ((f"G-{n:05d}", f"S{n:05d}", sheet.pk, "right", site.pk, "2025-01-01") for n in range(BOWS)),
    )


def _set_ups(bow_ids: Any, random: np.random.Generator) -> None:
    """Each bow set up three times over the year."""
    since = FIRST_S - DAY_S + np.sort(random.integers(0, YEAR_S, (bow_ids.size, 3)), axis=1)
    since[:, 0] = FIRST_S - DAY_S
    weight = random.uniform(150.0, 220.0, since.shape)
    bow = np.repeat(bow_ids, 3)
    rows = zip(bow.tolist(), instants(since.ravel()), [0.7] * bow.size, weight.ravel().tolist(), strict=True)
    insert("fleet_setup", "bow_id since draw_length_m peak_weight_n", rows)


def _cords(bow_ids: Any, sheet: SpecSheet, by: Person, random: np.random.Generator) -> None:
    """Two or three cords a bow, fitted in the first half of the year; some were on the bow before this one first."""
    specs = {row.position: row.cord_spec_id for row in sheet.cords.all()}
    places = [(bow, position) for position in ("string", "upper_cable", "lower_cable") for bow in range(BOWS)][:CORDS]
    fitted = FIRST_S + 40 * DAY_S + random.integers(0, YEAR_S // 2, CORDS)
    made = FIRST_S - random.integers(0, 200, CORDS) * DAY_S
    insert(
        "fleet_cord",
        "id spec_id serial lot made_on prior_use prior_shots prior_shots_sd prior_tension_h prior_heat_h "
        "prior_heat_h_sd",
        (
            (n + 1, specs[position], f"C{n:06d}", "LOT", instants(made[n : n + 1])[0][:10], "none", 0, 0, 0, 0, 0)
            for n, (_bow, position) in enumerate(places)
        ),
    )
    rows: list[tuple[Any, ...]] = []
    starts, earlier, moved = instants(fitted), instants(fitted - 30 * DAY_S), instants(fitted - DAY_S)
    for n, (bow, position) in enumerate(places):
        if n % MOVED_EVERY == 0:
            before = int(bow_ids[(bow + 1) % BOWS])
            rows.append((n + 1, before, position, earlier[n], by.pk, 40, moved[n], "planned", ""))
        rows.append((n + 1, int(bow_ids[bow]), position, starts[n], by.pk, 40, None, "", ""))
    insert(
        "fleet_fitting",
        "cord_id bow_id position fitted_at fitted_by_id half_twists removed_at removed_why finding",
        rows,
    )


def _disjoint(bow_ids: Any, per_bow: int, longest_s: int, random: np.random.Generator) -> list[list[Any]]:
    cuts = np.sort(FIRST_S + random.integers(0, YEAR_S, (bow_ids.size, 2 * per_bow)), axis=1)
    # Two cuts may fall on one second.
    cuts = np.maximum.accumulate(cuts, axis=1) + np.arange(2 * per_bow)
    start, end = cuts[:, 0::2].ravel(), cuts[:, 1::2].ravel()
    return [np.repeat(bow_ids, per_bow).tolist(), instants(start), instants(np.minimum(end, start + longest_s))]


def _where(bow_ids: Any, place_ids: Any, random: np.random.Generator) -> None:
    stays = _disjoint(bow_ids, STAYS_PER_BOW, YEAR_S, random)
    place = random.choice(place_ids, len(stays[0])).tolist()
    insert("fleet_stay", "bow_id place_id start end", zip(stays[0], place, stays[1], stays[2], strict=True))
    bow, start, end = _disjoint(bow_ids, PARKINGS_PER_BOW, 5 * HOUR_S, random)
    facts = zip(
        random.uniform(5.0, 35.0, len(bow)).tolist(),
        (random.random(len(bow)) < 0.5).tolist(),
        (random.random(len(bow)) < 0.2).tolist(),
        strict=True,
    )
    insert(
        "fleet_vehicleparking",
        "bow_id start end outside_c shade boot key",
        ((b, s, e, *fact, f"p{n}") for n, (b, s, e, fact) in enumerate(zip(bow, start, end, facts, strict=True))),
    )
    bow, start, end = _disjoint(bow_ids, SLACKS_PER_BOW, DAY_S, random)
    insert("fleet_relaxation", "bow_id start end why", zip(bow, start, end, ["press"] * len(bow), strict=True))


def _readings(place_ids: Any, random: np.random.Generator) -> None:
    hours = np.arange(READINGS)
    at = instants(FIRST_S + hours * HOUR_S)
    season = 16.0 - 9.0 * np.cos(2 * np.pi * hours / READINGS) + 6.0 * np.sin(2 * np.pi * (hours % 24 - 9) / 24)

    def rows() -> Iterator[tuple[Any, ...]]:
        for place in place_ids.tolist():
            celsius = season + random.normal(0.0, 2.0, READINGS) + random.uniform(-3.0, 8.0)
            yield from zip([place] * READINGS, at, celsius.tolist(), [""] * READINGS, strict=True)

    insert("fleet_temperaturereading", "place_id at celsius source", rows())


def _shots(bow_ids: Any, by: Person, random: np.random.Generator) -> None:
    """In order of time, as they were entered: the bows are mixed."""
    start = np.sort(FIRST_S + random.integers(0, YEAR_S - 4 * HOUR_S, SHOTS))
    end = start + random.integers(0, 4, SHOTS) * HOUR_S
    bow, count = random.choice(bow_ids, SHOTS), random.integers(1, 60, SHOTS)

    def rows() -> Iterator[tuple[Any, ...]]:
        for first in range(0, SHOTS, AT_ONCE):
            part = slice(first, first + AT_ONCE)
            starts, ends = instants(start[part]), instants(end[part])
            columns = zip(bow[part].tolist(), starts, ends, count[part].tolist(), strict=True)
            for n, (b, s, e, c) in enumerate(columns, start=first):
                yield b, s, e, c, "counter", 0.0, f"s{n}", e, by.pk

    insert("fleet_shots", "bow_id start end count how_known count_sd key entered_at entered_by_id", rows())
