"""How the register says no."""


class Refused(ValueError):
    """A change is refused; the text names the value, what is allowed and the next step, for the person to read."""


class OutOfRange(Refused):
    """A number outside what is allowed; carries the number, the range (both ends included) and the unit."""

    def __init__(self, text: str, value: float, low: float, high: float, unit: str) -> None:
        super().__init__(text)
        self.value, self.low, self.high, self.unit = value, low, high, unit
