"""Properties of the wear model are judged by their numbers, not by the clock of a busy machine."""

from hypothesis import settings

settings.register_profile("wear", deadline=None)
settings.load_profile("wear")
