"""Every write to the register: one verb per state change, with the acting person and its audit row."""

from fleet.record.arms import measure_arm
from fleet.record.bookings import cancel_booking, change_booking, promise_bow, put_booking
from fleet.record.bows import defer, leave_bench, move_to_site, put_bow, retire, set_up, take_to_bench
from fleet.record.bring_bow import bring_bow
from fleet.record.bulk import ShotsRow, StayRow, TemperatureRow, add_many_readings, add_many_shots, add_many_stays
from fleet.record.coefficients import set_coefficient, withdraw_coefficient
from fleet.record.cords import fit_cord, put_cord, remove_cord, reset_cord
from fleet.record.desk import choose_language, choose_theme, forget_view, save_view
from fleet.record.devices import make_device_token, revoke_device_token
from fleet.record.erasing import (
    erase_guest_name,
    erase_guest_names,
    erase_person,
    let_go,
    let_in_again,
)
from fleet.record.feeds import ask_for_digest, make_feed, revoke_feed, stop_digest
from fleet.record.heat import add_stay, move_to_place, park_in_vehicle, relax, string_up
from fleet.record.holds import hold, release
from fleet.record.incidents import report_incident
from fleet.record.many_holds import Undone, hold_many, undo_hold_many
from fleet.record.measurements import Reading, put_tool, record_reference_set, sign_release, sign_result
from fleet.record.notices import answer_notice, issue_notice
from fleet.record.orders import note_order
from fleet.record.plans import note_job_moved, note_plan_published
from fleet.record.second_factor import drop_second_factor, take_second_factor
from fleet.record.sites import (
    add_absence,
    close_day,
    found_book,
    put_person,
    put_place,
    put_press,
    put_site,
    set_bench_hours,
    set_checklist,
    set_skills,
)
from fleet.record.specs import ReferenceValue, put_cord_spec, put_spec_sheet
from fleet.record.stock import cancel_order, move_stock, put_supplier_order, receive_order
from fleet.record.usage import (
    add_shots,
    correct_shots,
    hand_out,
    keep_check_photo,
    record_turnaround,
    take_back,
    withdraw_shots,
)
from fleet.refusal import Refused

__all__ = [
    "Reading",
    "ReferenceValue",
    "Refused",
    "ShotsRow",
    "StayRow",
    "TemperatureRow",
    "Undone",
    "add_absence",
    "add_many_readings",
    "add_many_shots",
    "add_many_stays",
    "add_shots",
    "add_stay",
    "answer_notice",
    "ask_for_digest",
    "bring_bow",
    "cancel_booking",
    "cancel_order",
    "change_booking",
    "choose_language",
    "choose_theme",
    "close_day",
    "correct_shots",
    "defer",
    "drop_second_factor",
    "erase_guest_name",
    "erase_guest_names",
    "erase_person",
    "fit_cord",
    "forget_view",
    "found_book",
    "hand_out",
    "hold",
    "hold_many",
    "issue_notice",
    "keep_check_photo",
    "leave_bench",
    "let_go",
    "let_in_again",
    "make_device_token",
    "make_feed",
    "measure_arm",
    "move_stock",
    "move_to_place",
    "move_to_site",
    "note_job_moved",
    "note_order",
    "note_plan_published",
    "park_in_vehicle",
    "promise_bow",
    "put_booking",
    "put_bow",
    "put_cord",
    "put_cord_spec",
    "put_person",
    "put_place",
    "put_press",
    "put_site",
    "put_spec_sheet",
    "put_supplier_order",
    "put_tool",
    "receive_order",
    "record_reference_set",
    "record_turnaround",
    "relax",
    "release",
    "remove_cord",
    "report_incident",
    "reset_cord",
    "retire",
    "revoke_device_token",
    "revoke_feed",
    "save_view",
    "set_bench_hours",
    "set_checklist",
    "set_coefficient",
    "set_skills",
    "set_up",
    "sign_release",
    "sign_result",
    "stop_digest",
    "string_up",
    "take_back",
    "take_second_factor",
    "take_to_bench",
    "undo_hold_many",
    "withdraw_coefficient",
    "withdraw_shots",
]
