"""Every fault of a row is told with its line, column, value, allowed range in the column's unit, and a fix."""

import pytest

from fleet import record
from fleet.models import Booking, Bow, Fitting, GuestName, ReferenceSet, Shots, Stay, StockMovement, TemperatureReading
from tests.intake.book import NOW, only_problem, owner, preview, take, take_samples

pytestmark = pytest.mark.django_db
SHOTS = "tag,start,end,shots,how_known\n"
GOOD = "FH-001,2026-03-05T10:00,2026-03-05T11:00,40,counter\n"


@pytest.fixture
def bows() -> None:
    take_samples("bows")


@pytest.mark.usefixtures("bows")
class TestCells:
    def test_a_brace_height_in_inches_under_a_column_in_mm(self) -> None:
        found = only_problem("references", "tag,origin,taken_at,brace_height_mm\nFH-001,maker,2026-03-01,8\n")
        assert (found.line, found.column, found.value) == (2, "brace_height_mm", "8")
        assert found.allowed == "80 to 350 mm"
        assert "brace_height_in" in found.fix and "8 in" in found.fix

    def test_negative_shots(self) -> None:
        found = only_problem("shots", SHOTS + GOOD + "FH-001,2026-03-06T10:00,2026-03-06T11:00,-5,counter\n")
        assert (found.line, found.column, found.value) == (3, "shots", "-5")
        assert found.allowed == "0 to 5000 shots in one entry"

    @pytest.mark.parametrize("shots", ["5001", "12.5", "forty", "1e3", "٤٠"])
    def test_shots_that_are_no_count(self, shots: str) -> None:
        found = only_problem("shots", SHOTS + f"FH-001,2026-03-06T10:00,2026-03-06T11:00,{shots},counter\n")
        assert (found.column, found.value) == ("shots", shots)

    def test_a_future_date(self) -> None:
        found = only_problem("shots", SHOTS + "FH-001,2026-03-06T10:00,2026-05-06T11:00,5,counter\n")
        assert (found.column, found.value) == ("end", "2026-05-06T11:00")
        assert "future" in found.why and "2026-04-02T12:00" in found.allowed

    def test_a_bow_in_service_tomorrow(self) -> None:
        found = only_problem(
            "bows", "tag,spec_sheet,hand,site,in_service_on\nX-1,QM-HERON,right,fenhollow,2026-04-03\n"
        )
        assert found.column == "in_service_on" and "2026-04-02" in found.allowed

    def test_an_unknown_tag_names_the_nearest(self) -> None:
        found = only_problem("shots", SHOTS + GOOD.replace("FH-001", "FH-0O1"))
        assert (found.line, found.column, found.value) == (2, "tag", "FH-0O1")
        assert "FH-001" in found.fix

    def test_a_duplicate_tag_names_the_first_line(self) -> None:
        row = "X-1,QM-HERON,right,fenhollow,2026-03-01\n"
        found = only_problem("bows", "tag,spec_sheet,hand,site,in_service_on\n" + row + row.replace("right", "left"))
        assert (found.line, found.column, found.value) == (3, "tag", "X-1")
        assert "line 2" in found.why
        assert not Bow.objects.filter(tag="X-1").exists()

    def test_a_set_up_outside_the_spec_sheet_in_the_column_s_unit(self) -> None:
        found = only_problem(
            "bows",
            "tag,spec_sheet,hand,site,in_service_on,draw_length_in,peak_weight_lb\n"
            "X-1,QM-HERON,right,fenhollow,2026-03-01,31,50\n",
        )
        assert (found.column, found.value, found.allowed) == ("draw_length_in", "31", "25 to 30 in")

    def test_a_word_outside_the_vocabulary(self) -> None:
        found = only_problem("shots", SHOTS + GOOD.replace("counter", "conter"))
        assert found.column == "how_known" and "counter" in found.fix and "scorecard" in found.allowed

    def test_every_bad_cell_of_every_row_is_listed(self) -> None:
        content = (
            SHOTS + "FH-001,yesterday,2026-03-05T11:00,-1,guess\n" + GOOD + "NO-1,2026-03-05T10:00,now,4,counter\n"
        )
        found = preview("shots", content)
        assert [(one.line, one.column) for one in found.problems] == [
            (2, "shots"), (2, "how_known"), (2, "start"), (4, "tag"), (4, "end"),
        ]  # fmt: skip
        assert (found.new, found.problem_count) == (1, 5)
        assert not take("shots", content).written
        assert not Shots.objects.exists()

    def test_an_empty_required_cell(self) -> None:
        found = only_problem("shots", SHOTS + "FH-001,,2026-03-05T11:00,4,counter\n")
        assert (found.column, found.why) == ("start", "the cell is empty")

    def test_too_many_cells(self) -> None:
        assert "more cells than the header" in only_problem("shots", SHOTS + GOOD.strip() + ",extra\n").why

    def test_text_longer_than_the_book_keeps(self) -> None:
        found = only_problem(
            "bows", f"tag,spec_sheet,hand,site,in_service_on\n{'X' * 21},QM-HERON,right,fenhollow,2026-03-01\n"
        )
        assert (found.column, found.allowed) == ("tag", "at most 20 characters")


@pytest.mark.usefixtures("bows")
class TestHeaders:
    def test_an_unknown_header_names_the_nearest(self) -> None:
        found = only_problem("references", "tag,origin,taken_at,brace_hight_in\nFH-001,maker,2026-03-01,7\n")
        assert (found.line, found.column) == (1, "brace_hight_in")
        assert "brace_height_in" in found.fix

    def test_a_header_without_its_unit(self) -> None:
        found = only_problem("references", "tag,origin,taken_at,brace_height\nFH-001,maker,2026-03-01,7\n")
        assert "unit" in found.why and "brace_height_in or brace_height_mm" in found.fix

    def test_missing_columns_are_named(self) -> None:
        found = preview("shots", "tag,start,shots\nFH-001,2026-03-05T10:00,4\n")
        assert [one.column for one in found.problems] == ["how_known", "end"]

    def test_one_quantity_in_two_units(self) -> None:
        found = only_problem(
            "references", "tag,origin,taken_at,brace_height_in,brace_height_mm\nFH-001,maker,2026-03-01,7,180\n"
        )
        assert found.column == "brace_height_mm" and "brace_height_in" in found.why

    def test_headers_as_people_write_them(self) -> None:
        content = "Tag,Origin,Taken at,Brace height (in)\nFH-001,maker,2026-03-01,6 3/4\n"
        assert take("references", content).written


@pytest.mark.usefixtures("bows")
class TestShots:
    def test_two_identical_lines_are_two_entries_and_stay_two(self) -> None:
        for expected in ((2, 0), (0, 2)):
            outcome = take("shots", SHOTS + GOOD + GOOD)
            assert (outcome.new, outcome.unchanged) == expected
        assert [shots.count for shots in Shots.objects.all()] == [40, 40]

    def test_the_order_of_lines_does_not_matter(self) -> None:
        other = GOOD.replace(",40,", ",41,")
        take("shots", SHOTS + GOOD + other)
        outcome = take("shots", SHOTS + other + GOOD)
        assert (outcome.new, outcome.unchanged) == (0, 2)

    def test_a_longer_file_adds_its_new_lines_only(self) -> None:
        take("shots", SHOTS + GOOD)
        outcome = take("shots", SHOTS + GOOD + GOOD.replace("03-05", "03-07"))
        assert (outcome.new, outcome.unchanged) == (1, 1)

    def test_a_corrected_count_is_not_counted_twice(self) -> None:
        take("shots", SHOTS + GOOD)
        found = only_problem("shots", SHOTS + GOOD.replace(",40,", ",48,"))
        assert (found.column, found.value) == ("shots", "48")
        assert "40 shots" in found.why
        assert preview("shots", SHOTS + GOOD.replace(",40,", ",48,")).new == 0
        assert Shots.objects.get().count == 40

    def test_a_further_session_has_its_own_key(self) -> None:
        take("shots", SHOTS + GOOD)
        keyed = SHOTS.strip() + ",key\n" + GOOD.replace(",40,", ",48,").strip() + ",lane 4\n"
        assert (take("shots", keyed).new, take("shots", keyed).unchanged) == (1, 1)
        assert sum(shots.count for shots in Shots.objects.all()) == 88

    def test_a_corrected_entry_is_not_brought_back_by_the_old_file(self) -> None:
        take("shots", SHOTS + GOOD)
        record.correct_shots(by=owner(), entry=Shots.objects.get(), count=44, key="correction-1", now=NOW)
        assert take("shots", SHOTS + GOOD).unchanged == 1
        assert Shots.objects.get(superseded_at=None).count == 44

    def test_a_key_used_for_another_entry(self) -> None:
        keyed = SHOTS.strip() + ",key\n" + GOOD.strip() + ",k1\n"
        take("shots", keyed)
        assert "40 shots" in only_problem("shots", keyed.replace(",40,", ",50,")).why

    def test_a_key_twice_in_one_file(self) -> None:
        line = GOOD.strip() + ",k1\n"
        found = only_problem("shots", SHOTS.strip() + ",key\n" + line + line)
        assert (found.line, found.column) == (3, "key") and "line 2" in found.why

    def test_an_end_before_the_start(self) -> None:
        found = only_problem("shots", SHOTS + "FH-001,2026-03-05T10:00,2026-03-05T09:00,4,counter\n")
        assert found.column == "end"


@pytest.mark.usefixtures("bows")
class TestStays:
    HEAD = "tag,place,start,end\n"

    def test_overlapping_the_book(self) -> None:
        take("stays", self.HEAD + "FH-001,rack A,2026-03-01T09:00,2026-03-10T09:00\n")
        found = only_problem("stays", self.HEAD + "FH-001,cool store,2026-03-09T09:00,2026-03-11T09:00\n")
        assert (found.line, found.column, found.value) == (2, "start", "2026-03-09T09:00")
        assert "the book" in found.why and "rack A" in found.why

    def test_overlapping_within_the_file(self) -> None:
        found = only_problem(
            "stays",
            self.HEAD
            + "FH-001,rack A,2026-03-01T09:00,2026-03-10T09:00\nFH-001,cool store,2026-03-10T08:59,2026-03-11T09:00\n",
        )
        assert found.line == 3 and "line 2" in found.why
        assert not Stay.objects.exists()

    def test_stays_that_touch_do_not_overlap_whatever_their_order(self) -> None:
        lines = ["FH-001,cool store,2026-03-10T09:00,\n", "FH-001,rack A,2026-03-01T09:00,2026-03-10T09:00\n"]
        assert take("stays", self.HEAD + "".join(lines)).new == 2

    def test_the_end_of_an_open_stay_is_taken_in(self) -> None:
        take("stays", self.HEAD + "FH-001,rack A,2026-03-01T09:00,\n")
        longer = self.HEAD + ("FH-001,rack A,2026-03-01T09:00,2026-03-10T09:00\nFH-001,cool store,2026-03-10T09:00,\n")
        outcome = take("stays", longer)
        assert (outcome.new, outcome.changed) == (1, 1)
        assert take("stays", longer).unchanged == 2

    def test_an_old_file_does_not_open_a_stay_again(self) -> None:
        first = self.HEAD + "FH-001,rack A,2026-03-01T09:00,\n"
        take("stays", first)
        take("stays", first.replace("09:00,\n", "09:00,2026-03-10T09:00\n"))
        assert take("stays", first).unchanged == 1
        assert Stay.objects.get().end is not None

    def test_a_place_of_another_site(self) -> None:
        found = only_problem("stays", self.HEAD + "FH-001,trailer,2026-03-01T09:00,\n")
        assert (found.column, found.value) == ("place", "trailer")


@pytest.mark.usefixtures("bows")
class TestTimes:
    """Fenhollow is in America/Denver: clocks skip 02:00-03:00 on 2026-03-08, show 01:00-02:00 twice on 2025-11-02."""

    HEAD = "site,place,at,temperature_c\n"

    def test_a_time_that_the_clocks_skip(self) -> None:
        found = only_problem("temperatures", self.HEAD + "fenhollow,rack A,2026-03-08T02:30,20\n")
        assert "skip" in found.why and "2026-03-08T03:30:00-06:00" in found.fix

    def test_a_time_that_the_clocks_show_twice(self) -> None:
        found = only_problem("temperatures", self.HEAD + "fenhollow,rack A,2025-11-02T01:30,20\n")
        assert "2025-11-02T01:30:00-06:00" in found.fix and "2025-11-02T01:30:00-07:00" in found.fix

    def test_with_its_offset_it_is_taken(self) -> None:
        take("temperatures", self.HEAD + "fenhollow,rack A,2025-11-02T01:30-06:00,20\n")
        assert f"{TemperatureReading.objects.get().at:%H:%M}" == "07:30"

    def test_a_local_time_is_the_site_s(self) -> None:
        take("temperatures", self.HEAD + "fenhollow,rack A,2026-01-02T09:00,20\ntarnside,trailer,2026-01-02T09:00,20\n")
        assert {f"{one.at:%H:%M}" for one in TemperatureReading.objects.all()} == {"16:00", "09:00"}

    def test_a_day_without_a_time(self) -> None:
        assert "time of day" in only_problem("temperatures", self.HEAD + "fenhollow,rack A,2026-01-02,20\n").why

    @pytest.mark.parametrize(
        "at", ["0001-01-01T00:00+14:00", "9999-12-31T23:59-12:00", "3/4/2026 10:00", "1989-12-31T00:00"]
    )
    def test_times_out_of_all_range(self, at: str) -> None:
        assert only_problem("temperatures", self.HEAD + f"fenhollow,rack A,{at},20\n").column == "at"

    def test_another_value_at_a_known_time(self) -> None:
        take("temperatures", self.HEAD + "fenhollow,rack A,2026-01-02T09:00,20\n")
        found = only_problem("temperatures", self.HEAD + "fenhollow,rack A,2026-01-02T09:00,21\n")
        assert found.column == "temperature_c" and "20 °C" in found.why

    def test_the_same_reading_in_another_unit_is_the_same(self) -> None:
        take("temperatures", self.HEAD + "fenhollow,rack A,2026-01-02T09:00,20\n")
        again = take("temperatures", self.HEAD.replace("_c", "_f") + "fenhollow,rack A,2026-01-02T09:00,68\n")
        assert (again.new, again.unchanged) == (0, 1)

    def test_the_same_reading_twice_in_a_file_is_one(self) -> None:
        outcome = take("temperatures", self.HEAD + "fenhollow,rack A,2026-01-02T09:00,20\n" * 2)
        assert (outcome.new, outcome.unchanged) == (1, 1)


class TestRecords:
    def test_the_same_value_in_another_unit_changes_nothing(self) -> None:
        take_samples("bows")
        again = take(
            "bows",
            "tag,spec_sheet,hand,site,in_service_on,draw_length_mm,peak_weight_n\n"
            f"FH-001,QM-HERON,right,fenhollow,2025-04-01,723.9,{50 * 4.4482216152605}\n",
        )
        assert (again.written, again.unchanged) == (True, 1)

    def test_a_change_is_shown_before_and_after_in_the_column_s_unit(self) -> None:
        take_samples("specs")
        seen = preview(
            "specs",
            "record,code,maker,position,length_in,strands,fibre,rated_shots,rated_months\n"
            "cord_spec,OC-S58,Oddmoor Cordworks,string,58 1/2,24,hmpe,6000,12\n",
        )
        (change,) = seen.changes
        assert [(one.header, one.before, one.after) for one in change.differences] == [
            ("length_in", "58.25", "58.5"),
            ("rated_shots", "5000", "6000"),
        ]

    def test_a_cell_that_belongs_to_the_other_record(self) -> None:
        take_samples("specs")
        found = only_problem(
            "specs",
            "record,code,maker,position,length_in,strands,fibre,rated_shots,rated_months,bow_kind\n"
            "cord_spec,N-1,Oddmoor Cordworks,string,58,24,hmpe,5000,12,compound\n",
        )
        assert found.column == "bow_kind"

    def test_a_spec_sheet_may_stand_before_the_cord_it_names(self) -> None:
        take_samples("sites")
        head = (
            "record,code,maker,position,length_in,strands,fibre,rated_shots,rated_months,model,bow_kind,"
            "draw_length_min_in,draw_length_max_in,peak_weight_min_lb,peak_weight_max_lb,string_cord\n"
        )
        sheet = "spec_sheet,S-1,Quillmere,,,,,,,Rill 62,recurve,24,28,15,30,C-1\n"
        cord = "cord_spec,C-1,Oddmoor Cordworks,string,59,14,polyester,10000,24,,,,,,,\n"
        assert take("specs", head + sheet + cord).new == 2

    def test_a_cord_at_a_position_that_its_bow_has_not(self) -> None:
        take_samples("bows")
        found = only_problem("cords", "serial,cord_spec,tag,fitted_at\nZ-1,OC-U36,FH-003,2026-03-01\n")
        assert (found.column, found.value) == ("cord_spec", "OC-U36") and "string" in found.allowed

    def test_a_refusal_of_the_register_names_its_line(self) -> None:
        take_samples("cords")
        found = only_problem("cords", "serial,cord_spec,tag,fitted_at\nZ-1,OC-S58,FH-001,2026-03-01\n")
        assert found.line == 2 and "OC-25-1177" in found.why

    def test_one_bad_row_keeps_the_good_ones_out(self) -> None:
        take_samples("bows")
        only_problem(
            "cords", "serial,cord_spec,tag,fitted_at\nZ-1,OC-S58,FH-001,2026-03-01\nZ-2,OC-S58,FH-001,2026-03-02\n"
        )
        assert not Fitting.objects.exists()

    def test_twists_of_a_fitting_are_not_rewritten(self) -> None:
        take_samples("cords")
        row = "OC-25-1177,OC-S58,FH-001,44,2026-02-03T17:00\n"
        found = only_problem("cords", "serial,cord_spec,tag,twists_half_turns,fitted_at\n" + row)
        assert (found.column, found.value) == ("twists_half_turns", "44") and "41 half turns" in found.allowed

    def test_twists_in_turns_are_half_turns(self) -> None:
        take_samples("bows")
        take("cords", "serial,cord_spec,tag,twists_turns,fitted_at\nZ-1,OC-S58,FH-001,20 1/2,2026-03-01\n")
        assert Fitting.objects.get().half_twists == 41

    def test_an_older_reference_set_does_not_push_a_newer_one_aside(self) -> None:
        take_samples("references")
        found = only_problem("references", "tag,origin,taken_at,brace_height_in\nFH-001,maker,2025-04-01,6 1/2\n")
        assert found.column == "taken_at" and "version 1" in found.why
        assert ReferenceSet.objects.get(bow__tag="FH-001", current=True).origin == "draw_board"

    def test_a_measurement_without_a_house_tolerance_needs_its_own(self) -> None:
        take_samples("bows")
        found = only_problem("references", "tag,origin,taken_at,let_off_percent\nFH-001,maker,2026-03-01,80\n")
        assert "let_off_tolerance" in found.fix

    def test_a_file_does_not_bring_an_erased_name_back(self) -> None:
        take_samples("bows")
        content = "reference,tag,start,end,guest_name\nB-1,FH-001,2026-02-01T10:00,2026-02-01T12:00,Invented Guest\n"
        assert take("bookings", content).new == 1
        assert not GuestName.objects.exists()
        assert take("bookings", content).unchanged == 1

    def test_a_booking_may_lie_ahead_and_changes_by_its_reference(self) -> None:
        take_samples("bows")
        content = "reference,tag,start,end,expected_shots\nB-1,FH-001,2026-05-01T10:00,2026-05-01T12:00,60\n"
        take("bookings", content)
        assert take("bookings", content.replace(",60", ",90")).changed == 1
        assert Booking.objects.get().expected_shots == 90

    def test_two_identical_deliveries_are_two(self) -> None:
        take_samples("bows")
        content = "cord_spec,site,movement,quantity,at\n" + "OC-S58,fenhollow,received,2,2026-03-01\n" * 2
        assert take("stock", content).new == 2
        assert take("stock", content).unchanged == 2
        assert sum(StockMovement.objects.values_list("quantity", flat=True)) == 4

    def test_a_tool_has_a_resolution_of_what_it_reads(self) -> None:
        take_samples("sites")
        found = only_problem("tools", "code,kind,site,resolution_lb\nR-1,rule,fenhollow,0.2\n")
        assert found.column == "resolution_lb" and "resolution_in" in found.fix

    def test_a_person_without_a_site_does_not_get_every_site(self) -> None:
        take_samples("sites")
        found = only_problem("people", "username,display_name,role\ndag,Dag Orme,technician\n")
        assert found.column == "site"
