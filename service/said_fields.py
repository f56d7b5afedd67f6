"""Columns that hold sentences (`service.said`). To a migration they are plain text and plain JSON."""

from typing import TYPE_CHECKING, Any

from django.db import models

from service.said import heard, heard_deep, to_keep, to_keep_deep

if TYPE_CHECKING:
    Text = models.TextField[Any, Any]
else:
    Text = models.TextField


class SaidField(Text):
    """Text that may be a sentence to be said in the reader's language."""

    def deconstruct(self) -> Any:
        """As a plain text column: a migration knows nothing of this project."""
        name, _path, args, options = super().deconstruct()
        return name, "django.db.models.TextField", args, options

    def from_db_value(self, value: str | None, *_: Any) -> str | None:
        """What the column holds, as a sentence again."""
        return None if value is None else heard(value)

    def get_prep_value(self, value: Any) -> Any:
        """What the column is to hold."""
        return to_keep(value) if isinstance(value, str) else super().get_prep_value(value)


class SaidJSONField(models.JSONField):
    """JSON with such texts anywhere in it."""

    def deconstruct(self) -> Any:
        """As a plain JSON column."""
        name, _path, args, options = super().deconstruct()
        return name, "django.db.models.JSONField", args, options

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Any:
        """What the column holds, with sentences again."""
        return heard_deep(super().from_db_value(value, expression, connection))

    def get_prep_value(self, value: Any) -> Any:
        """What the column is to hold."""
        return super().get_prep_value(to_keep_deep(value))
