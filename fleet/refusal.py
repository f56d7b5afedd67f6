"""How the register says no."""


class Refused(ValueError):
    """A change is refused; the text names the value, what is allowed and the next step, for the person to read."""
