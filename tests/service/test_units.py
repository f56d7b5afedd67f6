"""Quantities at the border: reading, writing, headers. Our own cases."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service import units
from service.quantity_refusals import QuantityError
from service.units import Dimension, Units

INCH_M = 0.0254
ANYTHING = {"low": -1e9, "high": 1e9}


def read_length(text: str, unit: str = "in", low: float = 0.0, high: float = 2.0) -> float:
    return units.read_quantity(text, unit, name="Axle to axle", low=low, high=high)


class TestReading:
    @pytest.mark.parametrize(
        "text",
        [
            *("33 1/4", "33-1/4 in", "33.25in", '33 1/4"', "33¼", "33 ¼ in", "33\N{NO-BREAK SPACE}1/4 IN"),
            *("33 1\N{FRACTION SLASH}4", "33,25 in", " 33.250 inches ", "844.55 mm", "84,455 cm"),
            *("0.84455 m", "+33 1/4", "33 - 1/4"),
        ],
    )
    def test_every_way_of_writing_a_length(self, text):
        assert read_length(text) == pytest.approx(33.25 * INCH_M, rel=1e-12)

    @pytest.mark.parametrize("text", ["-1/32", "\N{MINUS SIGN}1/32 in", "- 1/32"])
    def test_a_deviation_below_zero(self, text):
        assert read_length(text, low=-0.1) == pytest.approx(-INCH_M / 32)

    @pytest.mark.parametrize(
        ("text", "unit", "expected"),
        [
            ("845 mm", "in", 0.845),
            ("84,5 cm", "mm", 0.845),
            ("84.5", "cm", 0.845),
            (".5", "in", 0.0127),
            ("5.", "mm", 0.005),
            ("60 lb", "lb", 266.8933),
            ("60#", "n", 266.8933),
            ("267 N", "lb", 267.0),
            ("27 kg", "n", 264.77955),
            ("23.5 C", "f", 296.65),
            ("23,5 °C", "c", 296.65),
            ("74 F", "c", 296.4833),
            ("-4", "f", 253.15),
            ("296.65 K", "c", 296.65),
            ("80 %", "percent", 0.8),
            ("80", "percent", 0.8),
            ("2 1/2 turns", "turns", 2.5),
            ("0.75 per inch", "per_in", 29.52756),
            ("0.75 /in", "per_m", 29.52756),
            ("2°", "deg", 0.0349066),
        ],
    )
    def test_units_of_each_dimension(self, text, unit, expected):
        assert units.read_quantity(text, unit, name="x", **ANYTHING) == pytest.approx(expected, rel=1e-6)

    @pytest.mark.parametrize(
        "text",
        ["", "  ", "abc", "1/", "/4", "1e3", "nan", "inf", "33 1/4 1/4", "33.5 1/4", "--3", "1.2.3", "٣٣"],
    )
    def test_what_is_no_number_is_refused_with_an_example(self, text):
        with pytest.raises(QuantityError) as refused:
            read_length(text, low=3 * INCH_M, high=12 * INCH_M)
        message = str(refused.value)
        assert "Axle to axle" in message and "3 to 12 in" in message

    def test_the_message_names_value_range_unit_and_next_step(self):
        with pytest.raises(QuantityError) as refused:
            read_length("99 1/4", low=20 * INCH_M, high=48 * INCH_M)
        assert str(refused.value) == (
            "Axle to axle: '99 1/4' (99.25 in) is out of range. Measure again and type 20 to 48 in."
        )

    def test_the_range_is_told_in_the_unit_that_was_asked_for(self):
        with pytest.raises(QuantityError, match=r"'5 cm' \(50 mm\) is out of range.* 508 to 1219\.2 mm"):
            read_length("5 cm", "mm", low=20 * INCH_M, high=48 * INCH_M)

    @pytest.mark.parametrize(("text", "wrong"), [("60 lb", "lb"), ("23 C", "C"), ("9 furlongs", "furlongs")])
    def test_a_unit_of_another_dimension_is_refused(self, text, wrong):
        with pytest.raises(QuantityError, match=f"'{wrong}', which is not a unit of length.*in, mm, cm, m"):
            read_length(text)

    @pytest.mark.parametrize("text", ["331/4", "33 4/4", "33 5/4", "1/0", "5/4"])
    def test_a_fraction_that_is_not_below_one_is_a_slip(self, text):
        """Our own rule: "331/4" is far likelier a lost space than 82 3/4."""
        with pytest.raises(QuantityError, match="not below one"):
            read_length(text, high=10.0)

    @pytest.mark.parametrize("text", ["1,250", "1,250 mm"])
    def test_a_comma_that_may_part_thousands_is_asked_about(self, text):
        with pytest.raises(QuantityError, match=r"as 1\.25 or as 1250 mm, and both are in the range 0 to 2000"):
            read_length(text, "mm")

    def test_a_comma_is_not_asked_about_when_only_one_reading_is_in_range(self):
        assert read_length("84,455 cm") == pytest.approx(0.84455)
        assert read_length("1,250 mm", low=0.5) == pytest.approx(1.25)

    def test_neither_reading_in_range(self):
        with pytest.raises(QuantityError, match="is out of range"):
            read_length("9,999 mm", low=0.02, high=0.05)

    def test_a_comma_after_a_zero_is_a_decimal(self):
        assert read_length("0,125 in") == pytest.approx(0.125 * INCH_M)

    def test_the_limits_are_inside_in_their_own_unit(self):
        for limit in ("7 1/2", "12"):
            read_length(limit, low=7.5 * INCH_M, high=12 * INCH_M)

    def test_a_number_of_a_thousand_digits_is_refused(self):
        with pytest.raises(QuantityError, match="Axle to axle"):
            read_length("9" * 1000)
        with pytest.raises(QuantityError, match="Axle to axle"):
            read_length("1/" + "9" * 5000)

    @given(st.text(max_size=30))
    def test_no_text_breaks_the_reader(self, text):
        try:
            value = read_length(text)
        except QuantityError:
            return
        assert 0.0 <= value <= 2.0

    def test_an_unknown_default_unit_is_named(self):
        with pytest.raises(QuantityError, match="Unit 'yd' is not in the vocabulary"):
            read_length("1", "yd")


class TestHeaders:
    @pytest.mark.parametrize(
        ("header", "expected"),
        [
            ("brace_height_in", ("brace_height", "in")),
            ("brace_height_mm", ("brace_height", "mm")),
            ("peak_weight_lb", ("peak_weight", "lb")),
            ("peak_weight_n", ("peak_weight", "n")),
            ("temperature_c", ("temperature", "c")),
            ("temperature_f", ("temperature", "f")),
            ("let_off_percent", ("let_off", "percent")),
            ("twists_per_in", ("twists", "per_in")),
            ("limb_bolt_turns", ("limb_bolt", "turns")),
            ("\ufeffBrace height (mm) ", ("brace_height", "mm")),
            ("Temperature [°C]", ("temperature", "c")),
            ("asset_tag", ("asset_tag", None)),
            ("shots", ("shots", None)),
            ("in", ("in", None)),
            ("peak_weight_kg", ("peak_weight_kg", None)),
        ],
    )
    def test_field_and_unit(self, header, expected):
        assert units.split_header(header) == expected

    def test_every_suffix_has_a_dimension_and_a_symbol(self):
        for dimension in Dimension:
            for suffix in units.suffixes(dimension):
                assert units.dimension_of(suffix) is dimension
                assert units.split_header(f"field_{suffix}") == ("field", suffix)
                assert units.symbol(suffix)

    @pytest.mark.parametrize("system", Units)
    def test_each_site_reads_each_dimension_in_one_unit_of_it(self, system):
        for dimension in Dimension:
            assert units.dimension_of(units.unit_shown(dimension, system)) is dimension

    @given(st.floats(-1e4, 1e4), st.sampled_from([s for d in Dimension for s in units.suffixes(d)]))
    def test_there_and_back(self, value, unit):
        assert units.from_si(units.to_si(value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-9)

    def test_the_factors_are_pints(self):
        for dimension in Dimension:
            for suffix in units.suffixes(dimension):
                quantity = units.registry().Quantity(3.7, units._known(suffix).pint_name)
                assert units.to_si(3.7, suffix) == pytest.approx(quantity.to_base_units().magnitude, rel=1e-14)


class TestWriting:
    @pytest.mark.parametrize(
        ("inches", "expected"),
        [
            (33.25, "33 1/4 in"),
            (33.0, "33 in"),
            (0.0, "0 in"),
            (1 / 32, "1/32 in"),
            (33 + 31 / 32, "33 31/32 in"),
            (33 + 63.2 / 64, "34 in"),
            (33 + 1 / 64, "33 1/32 in"),
            (-0.25, "-1/4 in"),
            (-0.001, "0 in"),
        ],
    )
    def test_inches_to_a_thirty_second(self, inches, expected):
        assert units.format_length(inches * INCH_M, Units.IMPERIAL) == expected

    def test_another_denominator(self):
        assert units.format_length(33.3 * INCH_M, Units.IMPERIAL, denominator=16) == "33 5/16 in"

    @pytest.mark.parametrize(
        ("metres", "expected"),
        [
            (0.845, "845 mm"),
            (0.84455, "844.5 mm"),
            (0.0015875, "1.6 mm"),
            (0.0099, "9.9 mm"),
            (0.0, "0 mm"),
            (-0.0031, "-3.1 mm"),
            (-0.00001, "0 mm"),
        ],
    )
    def test_millimetres(self, metres, expected):
        assert units.format_length(metres, Units.METRIC) == expected

    @pytest.mark.parametrize(
        ("value", "dimension", "imperial", "metric"),
        [
            (266.8933, Dimension.FORCE, "60.0 lb", "267.0 N"),
            (296.65, Dimension.TEMPERATURE, "74.3 °F", "23.5 °C"),
            (0.8, Dimension.SHARE, "80.0 %", "80.0 %"),
            (2.5, Dimension.TURNS, "2 1/2 turns", "2 1/2 turns"),
            (0.25, Dimension.TURNS, "1/4 turn", "1/4 turn"),
            (math.radians(2), Dimension.ANGLE, "2.0°", "2.0°"),
            (29.52756, Dimension.TWIST_RATE, "0.8 per in", "29.5 per m"),
            (0.84455, Dimension.LENGTH, "33 1/4 in", "844.5 mm"),
            (253.15, Dimension.TEMPERATURE, "-4.0 °F", "-20.0 °C"),
        ],
    )
    def test_each_dimension(self, value, dimension, imperial, metric):
        assert units.format_quantity(value, dimension, Units.IMPERIAL) == imperial
        assert units.format_quantity(value, dimension, Units.METRIC) == metric

    def test_the_decimal_mark_of_another_language(self):
        assert units.format_length(0.84455, Units.METRIC, decimal_mark=",") == "844,5 mm"
        assert units.format_length(0.845, Units.METRIC, decimal_mark=",") == "845 mm"
        assert units.format_tolerance(9.0, Dimension.FORCE, Units.IMPERIAL, decimal_mark=",") == "±2 lb"

    @pytest.mark.parametrize(
        ("delta", "dimension", "imperial", "metric"),
        [
            (INCH_M / 32, Dimension.LENGTH, "+1/32 in", "+0.8 mm"),
            (-INCH_M / 16, Dimension.LENGTH, "-1/16 in", "-1.6 mm"),
            (0.00001, Dimension.LENGTH, "0", "0"),
            (-0.0, Dimension.LENGTH, "0", "0"),
            (-8.896443, Dimension.FORCE, "-2.0 lb", "-9.0 N"),
            (10.0, Dimension.TEMPERATURE, "+18.0 °F", "+10.0 °C"),
            (-0.5, Dimension.TURNS, "-1/2 turn", "-1/2 turn"),
        ],
    )
    def test_deviations_carry_their_sign(self, delta, dimension, imperial, metric):
        assert units.format_deviation(delta, dimension, Units.IMPERIAL) == imperial
        assert units.format_deviation(delta, dimension, Units.METRIC) == metric

    @pytest.mark.parametrize(
        ("tolerance", "dimension", "imperial", "metric"),
        [
            (INCH_M / 8, Dimension.LENGTH, "±1/8 in", "±3.1 mm"),
            (INCH_M / 16, Dimension.LENGTH, "±1/16 in", "±1.5 mm"),
            (INCH_M / 64, Dimension.LENGTH, "±1/64 in", "±0.3 mm"),
            (0.05 * INCH_M, Dimension.LENGTH, "±3/64 in", "±1.2 mm"),
            (0.005 * INCH_M, Dimension.LENGTH, "±0.005 in", "±0.1 mm"),
            (2 * 4.4482216152605, Dimension.FORCE, "±2 lb", "±8.5 N"),
            (0.0, Dimension.LENGTH, "±0 in", "±0 mm"),
            (0.25, Dimension.TURNS, "±1/4 turn", "±1/4 turn"),
        ],
    )
    def test_tolerances_are_never_printed_laxer(self, tolerance, dimension, imperial, metric):
        assert units.format_tolerance(tolerance, dimension, Units.IMPERIAL) == imperial
        assert units.format_tolerance(tolerance, dimension, Units.METRIC) == metric

    @given(st.floats(1e-6, 0.02))
    def test_a_printed_tolerance_is_at_most_the_real_one(self, tolerance):
        for system in Units:
            number, unit = units.format_tolerance(tolerance, Dimension.LENGTH, system)[1:].rsplit(" ", 1)
            printed = units.to_si(float(sum(Fraction(part) for part in number.split())), unit)
            assert 0 < printed <= tolerance * 1.05  # two significant digits where it is finer than the rule

    def test_a_tolerance_below_zero_is_refused(self):
        with pytest.raises(QuantityError, match=r"-0\.0625 in is below 0"):
            units.format_tolerance(-INCH_M / 16, Dimension.LENGTH, Units.IMPERIAL)

    @pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
    def test_what_is_not_finite_is_not_written(self, value):
        for write in (units.format_quantity, units.format_deviation, units.format_tolerance):
            with pytest.raises(QuantityError, match="finite"):
                write(value, Dimension.LENGTH, Units.IMPERIAL)

    def test_twists_in_half_turns(self):
        assert units.format_twists(24.5) == "24 1/2"
        assert units.format_twists(24) == "24"

    @given(st.integers(0, 60 * 32))
    def test_what_is_printed_reads_back(self, thirty_seconds):
        metres = thirty_seconds / 32 * INCH_M
        assert read_length(units.format_length(metres, Units.IMPERIAL)) == pytest.approx(metres, abs=1e-12)

    @given(st.floats(-0.1, 1.5))
    def test_printing_moves_a_length_by_at_most_half_a_step(self, metres):
        printed = read_length(units.format_length(metres, Units.IMPERIAL), low=-1.0)
        assert abs(printed - metres) <= INCH_M / 64 * (1 + 1e-6)

    def test_inches_are_plain_ascii(self):
        assert units.format_length(0.333, Units.IMPERIAL).isascii()


def test_the_register_and_the_border_name_the_same_dimensions():
    from fleet.vocabulary import Dimension as Stored

    assert {stored.value for stored in Stored} <= {dimension.value for dimension in Dimension}
