"""One plain act for every verb of the register, each done by somebody named: what the audit trail is held to."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.core.files.base import ContentFile
from django_otp.oath import totp

from fleet import lookups, record
from fleet.models import Bow, NoticeMatch, Person
from fleet.record.bow_rows import rows_of
from tests import personas
from tests.personas import NOW, Shop, before

Act = Callable[[Shop, Bow], Any]


def _string(bow: Bow) -> Any:
    return lookups.fitted(bow).get(position="string")


def _spec(shop: Shop) -> Any:
    return personas.cord_spec(shop.owner)


def _setting(shop: Shop) -> Any:
    return record.set_coefficient(
        by=shop.owner, name="load_exponent", value=9.0, unit="1", label="assumed", source="own", why="trial", at=NOW
    )


def _match(shop: Shop, bow: Bow) -> NoticeMatch:
    record.issue_notice(by=shop.owner, title="t", issued_on=NOW.date(), at=NOW, spec_sheet=bow.spec_sheet)
    return NoticeMatch.objects.get()


def _order(shop: Shop, by: Person) -> Any:
    day = NOW.date()
    return record.put_supplier_order(
        by=by, site=shop.site, cord_spec=_spec(shop), reference="PO", quantity=2, ordered_on=day, expected_on=day
    )


def take_second_factor(by: Person, key: str = "31" * 20) -> list[str]:
    """A second factor whose app has this key; returns the recovery codes."""
    return record.take_second_factor(by=by, key=key, code=code_now(key))


def code_now(key: str = "31" * 20) -> str:
    """What an app with this key (hex) shows now."""
    return f"{totp(bytes.fromhex(key)):06d}"


def _drop_second_factor(shop: Shop, by: Person) -> None:
    take_second_factor(shop.counter)
    record.drop_second_factor(by=by, person=shop.counter)


def _booking(shop: Shop, by: Person) -> Any:
    return record.put_booking(
        by=by, site=shop.site, reference="B-1", start=before(-1), end=before(-2), hand="left", guest_name="Ada"
    )


def _photo(shop: Shop, bow: Bow, by: Person) -> Any:
    check = record.record_turnaround(
        by=shop.counter, bow=bow, at=NOW, answers={}, measurements=[], verdict="hold", key="photo"
    )
    return record.keep_check_photo(by=by, check=check, topic="limbs", image=ContentFile(b"pixels", "limbs.jpg"))


def _result(shop: Shop, bow: Bow, by: Person) -> Any:
    references = lookups.current_reference_set(bow)
    assert references is not None
    return record.sign_result(
        by=by,
        bow=bow,
        order_number="W-1",
        reference_set=references,
        readings=[],
        work=[],
        cords_changed=[],
        steps_done=[],
        at=NOW,
    )


def _token(shop: Shop) -> Any:
    token, _secret = record.make_device_token(
        by=shop.owner, site=shop.site, name="Counter 1", scopes=["shots"], now=NOW
    )
    return token


def _shots_row(bow: Bow) -> record.ShotsRow:
    return record.ShotsRow(bow=bow, start=before(1), end=before(1), count=3, how_known="counter", key="bulk-1")


def _moved(bow: Bow, by: Person) -> None:
    day = NOW.date()
    record.note_job_moved(by=by, bow=bow, needs=["x"], from_day=day, to_day=day, technician="t", extra_cost=1.5)


def _told(shop: Shop, by: Person) -> None:
    day = NOW.date()
    record.note_plan_published(by=by, site=shop.site, plan=1, first_day=day, last_day=day, jobs=3)


def _held_together(shop: Shop, bow: Bow, by: Person) -> Any:
    return record.hold_many(by=by, site=shop.site, bows=[bow], detail="lot recall", picked="by hand", at=NOW)


def _wish(shop: Shop, by: Person) -> Any:
    return record.ask_for_digest(
        by=by, site=shop.site, email="m@example.org", time_zone="Europe/Oslo", language="en", hour=6, now=NOW
    )


def _of_another_book(shop: Shop) -> Any:
    """The rows of a bow as another book would hold them: under another tag, with nothing on it."""
    tables = rows_of(personas.bare_bow(shop, personas.spec_sheet(shop.owner, "twin"), "L-B1"))
    tables["bow"][0]["tag"] = "ELSEWHERE-1"
    return tables


def _on_bows(me: Person) -> dict[str, Act]:
    return {
        "put_bow": lambda s, b: record.put_bow(by=me, tag=b.tag, serial="NEW-1"),
        "set_up": lambda s, b: record.set_up(by=me, bow=b, since=NOW, draw_length_m=0.7, peak_weight_n=160.0, now=NOW),
        "move_to_site": lambda s, b: record.move_to_site(
            by=me, bow=b, site=record.put_site(by=s.owner, code="camp", name="Camp")
        ),
        "retire": lambda s, b: record.retire(by=me, bow=b, at=NOW, why="limb cracked"),
        "defer": lambda s, b: record.defer(
            by=me, bow=b, need_kind="replacement", until=NOW.date(), why="parts late", at=NOW
        ),
        "measure_arm": lambda s, b: record.measure_arm(
            by=me, bow=b, end="upper", arm="string", value_m=0.046, at=NOW, now=NOW
        ),
        "bring_bow": lambda s, b: record.bring_bow(
            by=me, site=s.site, tables=_of_another_book(s), people={}, files={}, digest="0"
        ),
        "take_to_bench": lambda s, b: record.take_to_bench(by=me, bow=b, order_number="W-1", at=NOW),
        "leave_bench": lambda s, b: (
            record.take_to_bench(by=s.owner, bow=b, order_number="W-1", at=before(1)),
            record.leave_bench(by=me, bow=b, order_number="W-1", at=NOW),
        ),
        "hold": lambda s, b: record.hold(by=me, bow=b, reason="person", detail="odd noise", since=NOW),
        "release": lambda s, b: record.release(by=me, bow=b, at=NOW),
        "hold_many": lambda s, b: _held_together(s, b, me),
        "undo_hold_many": lambda s, b: record.undo_hold_many(by=me, action=_held_together(s, b, s.owner), at=NOW),
    }


def _on_cords(me: Person) -> dict[str, Act]:
    return {
        "put_cord": lambda s, b: record.put_cord(by=me, serial="NEW-2", spec=_spec(s)),
        "fit_cord": lambda s, b: record.fit_cord(
            by=me,
            cord=personas.cord(s, _spec(s)),
            bow=personas.bare_bow(s, b.spec_sheet),
            position="string",
            at=NOW,
            now=NOW,
        ),
        "remove_cord": lambda s, b: record.remove_cord(by=me, fitting=_string(b), at=NOW, why="planned", now=NOW),
        "reset_cord": lambda s, b: record.reset_cord(by=me, fitting=_string(b), at=NOW, half_twists=42),
        "put_cord_spec": lambda s, b: record.put_cord_spec(by=me, code="QW-string", strands=26),
        "put_spec_sheet": lambda s, b: record.put_spec_sheet(by=me, code="TV-twin", model="Twin 31"),
        "set_coefficient": lambda s, b: record.set_coefficient(
            by=me, name="load_exponent", value=9.0, unit="1", label="assumed", source="own", why="trial", at=NOW
        ),
        "withdraw_coefficient": lambda s, b: record.withdraw_coefficient(by=me, setting=_setting(s), why="off", at=NOW),
    }


def _on_use(me: Person) -> dict[str, Act]:
    return {
        "add_shots": lambda s, b: record.add_shots(
            by=me, bow=b, start=NOW, end=NOW, count=3, how_known="counter", key="k", now=NOW
        ),
        "add_many_shots": lambda s, b: record.add_many_shots(by=me, rows=[_shots_row(b)], source="test", now=NOW),
        "correct_shots": lambda s, b: record.correct_shots(
            by=me, entry=personas.shoot(s, b, 5), count=4, key="c", now=NOW
        ),
        "withdraw_shots": lambda s, b: record.withdraw_shots(
            by=me, entry=personas.shoot(s, b, 5), why="another bow's", now=NOW
        ),
        "hand_out": lambda s, b: record.hand_out(by=me, bow=b, reference="B-1", at=NOW, known={}),
        "take_back": lambda s, b: (
            record.hand_out(by=s.owner, bow=b, reference="B-1", at=before(1), known={}),
            record.take_back(by=me, bow=b, at=NOW),
        ),
        "record_turnaround": lambda s, b: record.record_turnaround(
            by=me, bow=b, at=NOW, answers={}, measurements=[], verdict="ready", key="k"
        ),
        "keep_check_photo": lambda s, b: _photo(s, b, me),
    }


def _on_heat(me: Person) -> dict[str, Act]:
    return {
        "add_stay": lambda s, b: record.add_stay(
            by=me, bow=b, place=s.rack, start=before(150), end=before(149), now=NOW
        ),
        "add_many_stays": lambda s, b: record.add_many_stays(
            by=me, rows=[record.StayRow(b, s.rack, before(150), before(149))], source="test", now=NOW
        ),
        "add_many_readings": lambda s, b: record.add_many_readings(
            by=me, rows=[record.TemperatureRow(s.rack, NOW, 21.0)], source="test"
        ),
        "move_to_place": lambda s, b: record.move_to_place(
            by=me,
            bow=b,
            place=record.put_place(by=s.owner, site=s.site, name="Van", temperature_source="parked_vehicle"),
            at=NOW,
            now=NOW,
        ),
        "park_in_vehicle": lambda s, b: record.park_in_vehicle(
            by=me, bow=b, start=before(1), end=NOW, key="k", now=NOW, outside_c=30.0
        ),
        "relax": lambda s, b: record.relax(by=me, bow=b, start=before(1), why="press", now=NOW),
        "string_up": lambda s, b: (
            record.relax(by=s.owner, bow=b, start=before(1), why="press", now=NOW),
            record.string_up(by=me, bow=b, at=NOW, now=NOW),
        ),
    }


def _on_measurements(me: Person) -> dict[str, Act]:
    return {
        "put_tool": lambda s, b: record.put_tool(by=me, code="t", site=s.site, kind="scale"),
        "record_reference_set": lambda s, b: record.record_reference_set(
            by=me, bow=b, origin="maker", taken_at=NOW, values=personas.reference_values(), now=NOW
        ),
        "sign_result": lambda s, b: _result(s, b, me),
        "sign_release": lambda s, b: record.sign_release(by=me, result=_result(s, b, s.technician), at=NOW),
        "note_job_moved": lambda s, b: _moved(b, me),
        "note_plan_published": lambda s, b: _told(s, me),
    }


def _on_guests_and_alarms(me: Person) -> dict[str, Act]:
    return {
        "put_booking": lambda s, b: _booking(s, me),
        "cancel_booking": lambda s, b: record.cancel_booking(by=me, booking=_booking(s, me), at=NOW),
        "change_booking": lambda s, b: record.change_booking(
            by=me, booking=_booking(s, s.owner), start=before(-3), end=before(-4), now=NOW
        ),
        "promise_bow": lambda s, b: record.promise_bow(
            by=me,
            booking=record.put_booking(
                by=s.owner, site=s.site, reference="B-2", start=before(-1), end=before(-2), hand="right"
            ),
            bow=b,
        ),
        "erase_guest_names": lambda s, b: (
            _booking(s, s.owner),
            record.erase_guest_names(by=me, today=NOW.date() + timedelta(days=99)),
        ),
        "report_incident": lambda s, b: record.report_incident(
            by=me, bow=b, kind="drop", happened_at=NOW, key="k", now=NOW
        ),
        "issue_notice": lambda s, b: record.issue_notice(
            by=me, title="t", issued_on=NOW.date(), at=NOW, cord_lot="LOT-A"
        ),
        "answer_notice": lambda s, b: record.answer_notice(by=me, match=_match(s, b), answer="fine", at=NOW),
    }


def _on_people(me: Person) -> dict[str, Act]:
    return {
        "note_order": lambda s, b: record.note_order(by=me, bow=b, order_number="W-1", step="issued"),
        "take_second_factor": lambda s, b: take_second_factor(me),
        "erase_guest_name": lambda s, b: record.erase_guest_name(by=me, booking=_booking(s, s.owner), now=NOW),
        "let_go": lambda s, b: record.let_go(by=me, person=s.counter, now=NOW),
        "let_in_again": lambda s, b: (
            record.let_go(by=s.owner, person=s.counter, now=NOW),
            record.let_in_again(by=me, person=s.counter),
        ),
        "erase_person": lambda s, b: record.erase_person(by=me, person=s.counter, now=NOW),
        "drop_second_factor": lambda s, b: _drop_second_factor(s, me),
        "put_person": lambda s, b: record.put_person(
            by=me, username="new", display_name="New", site=s.site, role="counter"
        ),
        "set_skills": lambda s, b: record.set_skills(by=me, person=s.technician, skills=["press"]),
        "set_bench_hours": lambda s, b: record.set_bench_hours(by=me, person=s.technician, minutes_by_weekday={0: 60}),
        "add_absence": lambda s, b: record.add_absence(
            by=me, person=s.technician, first_day=NOW.date(), last_day=NOW.date()
        ),
        "choose_language": lambda s, b: record.choose_language(by=me, language="fr"),
        "choose_theme": lambda s, b: record.choose_theme(by=me, theme="dark"),
        "save_view": lambda s, b: record.save_view(by=me, page="due", name="Past", query="when=past"),
        "forget_view": lambda s, b: record.forget_view(
            by=me, view=record.save_view(by=me, page="due", name="Past", query="when=past")
        ),
        "make_device_token": lambda s, b: record.make_device_token(
            by=me, site=s.site, name="Counter 1", scopes=["shots"], now=NOW
        ),
        "revoke_device_token": lambda s, b: record.revoke_device_token(by=me, token=_token(s), now=NOW),
    }


def _on_sites_and_stock(me: Person) -> dict[str, Act]:
    return {
        "put_site": lambda s, b: record.put_site(by=me, code="camp", name="Camp"),
        "put_place": lambda s, b: record.put_place(by=me, site=s.site, name="Trailer", temperature_source="logger"),
        "put_press": lambda s, b: record.put_press(by=me, site=s.site, name="Second press"),
        "close_day": lambda s, b: record.close_day(by=me, site=s.site, day=NOW.date()),
        "set_checklist": lambda s, b: record.set_checklist(by=me, site=s.site, bow_kind="recurve", lines=["limbs"]),
        "move_stock": lambda s, b: record.move_stock(
            by=me, site=s.site, cord_spec=_spec(s), kind="received", quantity=1, at=NOW, key="k", now=NOW
        ),
        "put_supplier_order": lambda s, b: _order(s, me),
        "receive_order": lambda s, b: record.receive_order(by=me, order=_order(s, s.owner), at=NOW, now=NOW),
        "cancel_order": lambda s, b: record.cancel_order(by=me, order=_order(s, s.owner), at=NOW, why="late"),
    }


def _on_feeds_and_mornings(me: Person) -> dict[str, Act]:
    return {
        "ask_for_digest": lambda s, b: _wish(s, me),
        "stop_digest": lambda s, b: (_wish(s, me), record.stop_digest(by=me, site=s.site)),
        "make_feed": lambda s, b: record.make_feed(by=me, site=s.site, technician=None, now=NOW),
        "revoke_feed": lambda s, b: record.revoke_feed(
            by=me, key=record.make_feed(by=me, site=s.site, technician=None, now=NOW)[0], now=NOW
        ),
    }


def every_act(me: Person) -> dict[str, Act]:
    """Verb -> an act of it by `me`."""
    return {
        **_on_bows(me),
        **_on_cords(me),
        **_on_use(me),
        **_on_heat(me),
        **_on_measurements(me),
        **_on_guests_and_alarms(me),
        **_on_people(me),
        **_on_sites_and_stock(me),
        **_on_feeds_and_mornings(me),
    }
