"""What the register tells those who compute from it, inside the transaction that wrote the fact."""

from django.dispatch import Signal

# Sent with `bow_ids: set[int]`: facts of these bows changed, so whatever was computed from them is stale.
bows_touched = Signal()
# Sent with `bow_id: int`, `added: list[Shots]`, `struck: list[Shots]`: nothing but these entries of a bow changed.
shots_changed = Signal()
# Sent with `place_ids: set[int]` and `since: datetime`: temperatures of these places changed from that instant on.
places_touched = Signal()
# Sent with nothing: names were erased, so whoever keeps the list of erasures beside the backups writes it anew.
names_erased = Signal()
