"""A check between two guests goes into the book, exactly once however often a phone sends it.

First the use (shots, hot vehicle), so that wear and needs are computed with it; then, in one transaction, the answer,
the incidents and holds that follow from it, and the bow's return. The same key again gets the first answer.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any

import numpy as np
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils.translation import gettext as _

from fleet import record
from fleet.models import Bow, Hire, Person, Shots, TurnaroundCheck, VehicleParking
from fleet.refusal import Refused
from fleet.vocabulary import HowKnown
from service.gather import coefficients
from service.house import HIRE_SHOTS_AN_HOUR, HIRE_SHOTS_AN_HOUR_SD
from service.said import SEMICOLON, joined
from service.turnaround.answers import Answers
from service.turnaround.judge import CabinHeat, Judgement, judge
from service.turnaround.photos import cleaned
from service.turnaround.short_list import SHORT_LISTS, ends_to_settle
from service.units import Dimension, Units, format_quantity, to_si
from service.verdicts import verdict_of
from service.wear.cautions import HeatLimits, caution_sentence, heat_caution
from service.wear.vehicle import SECONDS_PER_MINUTE, CabinModel, Cabins, cabin_temperature_c

LONGEST_USE = timedelta(days=31)


@dataclass(frozen=True)
class Sent:
    """One check as it arrived: its key, when it was answered at the bow, what was answered, and its pictures."""

    key: str
    answered_at: datetime
    answers: Answers
    pictures: Mapping[str, "UploadedFile[Any]"]


def first_answer(bow: Bow, key: str) -> TurnaroundCheck | None:
    """The check that this key already made, if any; refused where it was made on another bow."""
    check = TurnaroundCheck.objects.filter(key=key).select_related("bow", "by").first()
    if check is not None and check.bow_id != bow.pk:
        raise Refused(
            _("This check was already taken for %(tag)s. Open the bow's page and check it anew.")
            % {"tag": check.bow.tag}
        )
    return check


def take(sent: Sent, *, bow: Bow, by: Person, now: datetime) -> TurnaroundCheck:
    """Enter a check and answer it. Raises Refused only for a key that belongs to another bow."""
    there = first_answer(bow, sent.key)
    if there is not None:
        return there
    at = min(sent.answered_at, now)
    pictures, notes = _pictures(sent.pictures)
    notes += _enter_use(sent, bow, by, at, now)
    with transaction.atomic():
        # Whoever comes second with the same key, or about the same bow, waits here.
        locked = (
            Bow.objects.select_for_update(of=("self",), no_key=True).select_related("site", "spec_sheet").get(pk=bow.pk)
        )
        return first_answer(locked, sent.key) or _enter_check(sent, locked, by, at, now, pictures, notes)


def _pictures(given: Mapping[str, "UploadedFile[Any]"]) -> tuple[dict[str, "ContentFile[bytes]"], list[str]]:
    """Pictures made anew; one that cannot be read is named and does not stop the check."""
    kept, notes = {}, []
    for topic, file in given.items():
        try:
            kept[topic] = cleaned(file)
        except Refused as problem:
            notes.append(f"{topic.replace('_', ' ')}: {problem}")
    return kept, notes


def _enter_use(sent: Sent, bow: Bow, by: Person, at: datetime, now: datetime) -> list[str]:
    """Shots and hot vehicle; what the book will not take is told, and the check goes on."""
    shots = _once(Shots, f"{sent.key}-shots", partial(_enter_shots, sent, bow, by, at, now))
    parked = _once(VehicleParking, f"{sent.key}-heat", partial(_enter_parking, sent, bow, by, at, now))
    notes = []
    if shots:
        notes.append(_("the shots were not entered: %(why)s") % {"why": shots})
    if parked:
        notes.append(_("the hot vehicle was not entered: %(why)s") % {"why": parked})
    return notes


def _once(kind: type[Shots] | type[VehicleParking], key: str, enter: Callable[[], None]) -> str:
    """Enter what is not there yet; why it was refused, unless the same check did it at the same instant."""

    def is_there() -> bool:
        return kind._default_manager.filter(key=key).exists()

    if is_there():
        return ""
    try:
        enter()
    except Refused as problem:
        return "" if is_there() else str(problem)
    return ""


def _enter_parking(sent: Sent, bow: Bow, by: Person, at: datetime, now: datetime) -> None:
    answers = sent.answers
    if not answers.parked_minutes or answers.outside_c is None:
        return
    record.park_in_vehicle(
        by=by,
        bow=bow,
        start=at - timedelta(minutes=answers.parked_minutes),
        end=at,
        outside_c=answers.outside_c,
        shade=answers.shade,
        boot=answers.boot,
        key=f"{sent.key}-heat",
        now=now,
    )


def _enter_shots(sent: Sent, bow: Bow, by: Person, at: datetime, now: datetime) -> None:
    answers = sent.answers
    if answers.hours is not None:
        count, how, sd = answers.hours * HIRE_SHOTS_AN_HOUR, HowKnown.ESTIMATED, answers.hours * HIRE_SHOTS_AN_HOUR_SD
        length = timedelta(hours=answers.hours)
    elif answers.shots:
        count, how, sd = answers.shots, HowKnown.COUNTER, 0.0
        length = timedelta(hours=answers.shots / HIRE_SHOTS_AN_HOUR)
    else:
        return
    hire = Hire.objects.filter(bow=bow, back_at=None, out_at__lte=at).first()
    start = max(hire.out_at if hire else at - length, at - LONGEST_USE)
    record.add_shots(
        by=by,
        bow=bow,
        start=start,
        end=at,
        count=round(count),
        how_known=how,
        count_sd=sd,
        key=f"{sent.key}-shots",
        now=now,
    )


def _enter_check(
    sent: Sent,
    bow: Bow,
    by: Person,
    at: datetime,
    now: datetime,
    pictures: Mapping[str, "ContentFile[bytes]"],
    notes: list[str],
) -> TurnaroundCheck:
    """The answer with everything that follows from it; the caller holds the bow's row."""
    sheet, units = bow.spec_sheet, Units(bow.site.units)
    found = judge(
        sent.answers,
        SHORT_LISTS[sheet.bow_kind],
        ends_to_settle(sheet.bow_kind, sheet.cam_system),
        cabin_heat(sent.answers, units),
        verdict_of(bow, now),
        units,
    )
    found.notes.extend(notes)
    found.notes.extend(_take_back(bow, by, at))
    _hold(found, sent, bow, by, at, now)
    check = record.record_turnaround(
        by=by,
        bow=bow,
        at=at,
        answers=sent.answers.as_kept(),
        measurements=sent.answers.measurements_as_kept(),
        verdict=found.verdict,
        because=found.because,
        key=sent.key,
        hold_because=joined(SEMICOLON, found.off_time) if found.off_time else "",
        held_already=not found.off_time,
    )
    for topic, image in pictures.items():
        record.keep_check_photo(by=by, check=check, topic=topic, image=image)
    return check


def _take_back(bow: Bow, by: Person, at: datetime) -> list[str]:
    """The check is the return. One that was answered before the bow went out again leaves it with its guest."""
    hire = Hire.objects.filter(bow=bow, back_at=None).first()
    if hire is None:
        return []
    if hire.out_at > at:
        return [_("answered before it went out as %(reference)s; it is out now") % {"reference": hire.reference}]
    record.take_back(by=by, bow=bow, at=at)
    return []


def _hold(found: Judgement, sent: Sent, bow: Bow, by: Person, at: datetime, now: datetime) -> None:
    """Report what happened and hold the bow for what was seen, at once."""
    for kind in found.incidents:
        record.report_incident(
            by=by, bow=bow, kind=kind, happened_at=at, key=f"{sent.key}-{kind}", now=now, note=sent.answers.note
        )
    for reason, text in found.holds:
        record.hold(by=by, bow=bow, reason=reason, detail=text, since=at)


def cabin_heat(answers: Answers, units: Units) -> CabinHeat | None:
    """What the parked vehicle did by the published table and the house's limits; None where it was in none."""
    if not answers.parked_minutes or answers.outside_c is None:
        return None
    house = coefficients().house
    limits = HeatLimits(*(house[f"heat_caution_{name}"].value for name in ("notice", "inspect", "hold")))
    model = CabinModel(*(house[f"cabin_{name}"].value for name in ("shade_factor", "boot_factor", "cap")))
    cabin = Cabins(
        np.array([answers.outside_c]), np.array([np.nan]), np.array([answers.shade]), np.array([answers.boot])
    )
    hottest = float(cabin_temperature_c(cabin, [answers.parked_minutes * SECONDS_PER_MINUTE], model)[0])
    return CabinHeat(heat_caution(hottest, limits), caution_sentence(hottest, limits, partial(_shown, units)))


def _shown(units: Units, celsius: float) -> str:
    return format_quantity(to_si(celsius, "c"), Dimension.TEMPERATURE, units)
