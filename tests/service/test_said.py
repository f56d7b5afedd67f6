"""Sentences kept with their parts: English as text, the reader's language on a page, the same after they were kept."""

import copy
import math
import pickle
import re
from datetime import UTC, date, datetime

import pytest
from django.template import Context, Template
from django.utils import timezone, translation
from django.utils.formats import date_format

from fleet import record
from fleet.models import Hold
from service.intake import KINDS
from service.intake.desk import Desk
from service.intake.problems import CellError
from service.planning.facts import NamedNeed
from service.said import (
    Figure,
    Said,
    figure,
    heard,
    heard_deep,
    joined,
    kept,
    kept_deep,
    moment,
    say,
    say_many,
    to_keep,
    to_keep_deep,
    worded,
)
from service.units import Dimension, QuantityError, Units, format_quantity, format_tolerance, to_si
from service.wear.learning import LifePrior, history_of, learn
from tests import personas

REASON = say(
    "%(cord)s at %(total)s of rated life: shots %(shots)s, time %(time)s, heat %(heat)s",
    cord=say("string"),
    total=figure(0.861, ".2f"),
    shots=figure(0.58, ".2f"),
    time=figure(0.17, ".2f"),
    heat=figure(0.11, ".2f"),
)
HELD = say("held since %(day)s: %(detail)s", day=date(2026, 7, 1), detail="cut & <frayed>")


def test_it_is_its_english_text() -> None:
    assert REASON == "string at 0.86 of rated life: shots 0.58, time 0.17, heat 0.11"
    assert HELD == "held since 2026-07-01: cut & <frayed>"
    assert say_many("%(count)d half turn", "%(count)d half turns", 1) == "1 half turn"
    assert say_many("%(count)d half turn", "%(count)d half turns", 3) == "3 half turns"


def test_a_page_says_it_in_the_readers_language_and_escapes_it() -> None:
    page = Template("{{ one }}|{{ number }}")
    with translation.override("fr"):
        shown = page.render(Context({"one": HELD, "number": Figure("1,844.5 mm")}))
        assert worded(REASON) == "corde à 0,86 de la vie nominale\u00a0: tirs 0,58, temps 0,17, chaleur 0,11"
        assert worded(say_many("%(count)d half turn", "%(count)d half turns", 3)) == "3 demi-tours"
        assert worded("as somebody wrote it") == "as somebody wrote it"
        assert worded(REASON.as_sentence()).startswith("Corde à ")
    assert "1 juillet 2026" in shown and "cut &amp; &lt;frayed&gt;" in shown
    assert shown.endswith("|1\u00a0844,5 mm")
    with translation.override("en"):
        assert page.render(Context({"one": REASON, "number": Figure("1,844.5 mm")})) == f"{REASON}|1,844.5 mm"


@pytest.mark.parametrize("one", [REASON, HELD, joined("; ", [REASON, HELD, "50 % by hand"]), REASON.as_sentence()])
@pytest.mark.parametrize(
    "again", [lambda one: heard(kept(one)), copy.deepcopy, lambda one: pickle.loads(pickle.dumps(one))]
)
def test_it_is_the_same_after_it_was_kept(one: Said, again) -> None:
    found = again(one)
    assert isinstance(found, Said) and found == one
    with translation.override("fr"):
        assert worded(found) == worded(one) != one


def test_plain_text_is_kept_as_it_is() -> None:
    for text in ("", "a person's note", "say: nothing", 'say:["%(a)s"', "say:{}", 'say:["%(a)s",{}]'):
        assert heard(kept(text)) == text and kept(text) == text
    tree = {"steps": [REASON, "typed"], "count": 3}
    assert heard_deep(kept_deep(tree)) == tree and isinstance(heard_deep(kept_deep(tree))["steps"][0], Said)


LOOKS_KEPT = 'say:["%(a)999999999d",{"a":1}]'


def test_what_somebody_typed_is_no_sentence_though_it_looks_like_a_kept_one() -> None:
    assert heard(to_keep(LOOKS_KEPT)) == LOOKS_KEPT
    assert heard_deep(to_keep_deep({"note": [LOOKS_KEPT]})) == {"note": [LOOKS_KEPT]}
    assert heard(to_keep(REASON)) == REASON and to_keep("a person's note") == "a person's note"


@pytest.mark.django_db
def test_a_hold_told_in_such_words_is_kept_in_them() -> None:
    shop = personas.shop()
    bow = personas.bare_bow(shop, personas.spec_sheet(shop.owner))
    record.hold(by=shop.manager, bow=bow, reason="person", detail=LOOKS_KEPT, since=personas.NOW)
    assert Hold.objects.get(bow=bow).detail == LOOKS_KEPT


@pytest.mark.parametrize("language", ["en", "fr"])
def test_a_part_that_ends_in_a_full_stop_brings_no_second_one(language: str) -> None:
    """An abbreviation, or a note that somebody ended as a sentence; an ellipsis and a path stay as they are."""
    with translation.override(language):
        for part in ("turned 3/8 in max.", "Limb creaks."):
            told = worded(say("%(what)s is not possible: %(words)s.", what="it", words=part))
            assert told.endswith(part) and not told.endswith("..")
        assert worded(say("%(one)s.", one="and so on..")) == "and so on..."
        assert worded(say("%(one)s: x", one="../there")) == "../there: x"


@pytest.mark.parametrize("language", ["en", "fr"])
def test_a_time_of_day_ends_in_no_full_stop(language: str) -> None:
    """So that no sentence that ends in one gets two, wherever it is put together."""
    moment = datetime(2026, 7, 1, 2, 20)
    with translation.override(language):
        for form in ("TIME_FORMAT", "DATETIME_FORMAT", "SHORT_DATETIME_FORMAT", "DATE_FORMAT", "SHORT_DATE_FORMAT"):
            for hour in (2, 14):
                assert not date_format(moment.replace(hour=hour), form).endswith("."), form
        shown = Template('{{ at|date:"DATETIME_FORMAT" }}|{{ at|time }}').render(Context({"at": moment}))
        assert shown in ("July 1, 2026, 2:20 AM|2:20 AM", "1 juillet 2026 02:20|02:20")


def test_what_a_life_rests_on_and_why_a_quantity_is_refused_are_said_in_french() -> None:
    account = learn(history_of([]), LifePrior(b10=1.0, beta=3.0)).account()
    assert heard(kept(account)) == account and account.startswith("10 % are expected to be condemned by life used 1.00")
    with translation.override("fr"):
        assert worded(account).startswith("10 % devraient être condamnés avant une vie consommée de 1,00 (90 %")
        assert worded(account).endswith("l'emporte encore.")
        for act in (lambda: to_si(1.0, "yd"), lambda: format_tolerance(-1.0, Dimension.LENGTH, Units.METRIC)):
            with pytest.raises(QuantityError, match=r"n'est pas connue|est inférieure à 0"):
                act()
        with pytest.raises(QuantityError, match="nombre fini"):
            format_quantity(math.inf, Dimension.LENGTH, Units.METRIC)


@pytest.mark.django_db
def test_a_refusal_names_moments_on_the_sites_clock_in_the_readers_language() -> None:
    shop = personas.shop()
    bow = personas.fitted_bow(shop, "single")
    record.take_to_bench(by=shop.technician, bow=bow, order_number="W-1", at=personas.NOW)
    told = {
        ("en", "UTC"): "2026-07-01 15:00 UTC, after 2026-07-01 14:00 UTC",
        ("en", "America/Denver"): "2026-07-01 09:00 MDT, after 2026-07-01 08:00 MDT",
        ("fr", "America/Denver"): "01/07/2026 09:00 MDT, après 01/07/2026 08:00 MDT",
    }
    for (language, zone), words in told.items():
        refused = pytest.raises(record.Refused, match=re.escape(words))
        with translation.override(language), timezone.override(zone), refused:
            record.leave_bench(by=shop.technician, bow=bow, order_number="W-1", at=personas.before(hours=1))


@pytest.mark.django_db
def test_a_need_has_one_name_in_the_plan_and_one_for_each_reader() -> None:
    shop = personas.shop()
    bow = personas.fitted_bow(shop, "single")
    need = NamedNeed(bow, "settle_in", "", date(2026, 7, 1), 20, after_new_set=True)
    told = say("%(id)s makes it pointless.", id=need.called)
    with translation.override("fr"):
        assert need.id == f"{bow.tag} settle-in re-check after the new set"
        assert worded(told) == f"{bow.tag}, contrôle après rodage après le nouveau jeu le rend inutile."
    assert str(told) == f"{need.id} makes it pointless."


def test_a_moment_keeps_its_clock_and_is_written_as_the_reader_writes_it() -> None:
    told = say(
        "%(kind)s on %(at)s", kind=say("drop"), at=moment(datetime(2026, 7, 1, 15, tzinfo=UTC), "America/Denver")
    )
    assert told == "drop on 2026-07-01 09:00 MDT"
    again = heard(kept(told))
    with translation.override("fr"):
        assert worded(again) == worded(told) == f"{worded(say('drop'))} le 01/07/2026 09:00 MDT"


@pytest.mark.django_db
def test_a_column_and_what_is_wrong_with_a_cell_are_said_in_french() -> None:
    desk = Desk(personas.shop().owner, personas.NOW, None)
    column = next(one for one in KINDS["bookings"].columns if one.field == "expected_shots")
    with translation.override("fr"):
        assert (worded(column.about), worded(column.allowed)) == ("tirs attendus", "0 à 5000 tirs par inscription")
        with pytest.raises(CellError) as refused:
            column.read("9000", "", {}, desk)
        assert worded(refused.value.why) == "9000 dépasse les limites admises"
    assert str(refused.value.why) == "9000 is above the range"
