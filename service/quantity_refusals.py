"""Why a typed quantity cannot be taken: the field, what was typed, the allowed range, the unit and the next step."""

from service.said import Figure, Said, mark, say, worded


class QuantityError(ValueError):
    """A typed quantity that cannot be taken; the text tells the reader, in their language, what to type instead."""

    def __init__(self, told: str) -> None:
        super().__init__(worded(told))


def no_quantity(name: str, typed: str, allowed: Said, example: str) -> QuantityError:
    """Not a number with a unit."""
    pattern = mark("%(name)s: '%(typed)s' is not a number with a unit. Type %(allowed)s, for example '%(example)s'.")
    return QuantityError(_told(pattern, name, typed, allowed, example=Figure(example)))


def two_readings(name: str, typed: str, allowed: Said, both: tuple[str, str], unit: str) -> QuantityError:
    """A comma that may be a decimal or part the thousands, and either is in range."""
    pattern = mark(
        "%(name)s: '%(typed)s' can be read as %(one)s or as %(other)s %(unit)s, and both are in the range "
        "%(allowed)s. Type it with a decimal point, or without a comma."
    )
    one, other = both
    return QuantityError(_told(pattern, name, typed, allowed, one=Figure(one), other=Figure(other), unit=unit))


def out_of_range(name: str, typed: str, allowed: Said, value: str) -> QuantityError:
    """A quantity outside its range; `value` is what was understood, with the unit."""
    pattern = mark("%(name)s: '%(typed)s' (%(value)s) is out of range. Measure again and type %(allowed)s.")
    return QuantityError(_told(pattern, name, typed, allowed, value=Figure(value)))


def no_fraction(name: str, typed: str, allowed: Said, fraction: str) -> QuantityError:
    """A fraction of one or more."""
    pattern = mark(
        "%(name)s: '%(typed)s' has a fraction %(fraction)s, which is not below one. "
        "Read the rule again and type %(allowed)s."
    )
    return QuantityError(_told(pattern, name, typed, allowed, fraction=fraction))


def no_unit(name: str, typed: str, allowed: Said, unit: str, dimension: str, accepted: str) -> QuantityError:
    """A unit that measures something else, or none at all."""
    pattern = mark(
        "%(name)s: '%(typed)s' ends in '%(unit)s', which is not a unit of %(dimension)s. "
        "Type %(allowed)s; accepted units are %(accepted)s."
    )
    more = {"unit": unit, "dimension": say(dimension), "accepted": accepted}
    return QuantityError(_told(pattern, name, typed, allowed, **more))


def no_such_unit(unit: str, known: str) -> QuantityError:
    """A unit that is not in the vocabulary."""
    return QuantityError(say("Unit '%(unit)s' is not in the vocabulary; use one of %(known)s.", unit=unit, known=known))


def below_zero(tolerance: str) -> QuantityError:
    """A tolerance with a sign; it is given with its unit."""
    return QuantityError(
        say("Tolerance %(tolerance)s is below 0; give its size, 0 or more.", tolerance=Figure(tolerance))
    )


def no_number(value: float) -> QuantityError:
    """Infinite, or no number at all."""
    pattern = mark("A quantity of %(value)s cannot be written; give a finite number, or leave an unknown one out.")
    return QuantityError(say(pattern, value=str(value)))


def between(least: str, most: str, unit: str) -> Said:
    """An allowed range, both ends as numbers in a unit."""
    return say("%(least)s to %(most)s %(unit)s", least=Figure(least), most=Figure(most), unit=unit)


def _told(pattern: str, name: str, typed: str, allowed: Said, **more: str) -> Said:
    return say(pattern, name=name, typed=typed.strip(), allowed=allowed, **more)
