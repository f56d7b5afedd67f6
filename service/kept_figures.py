"""Frozen dataclasses as JSON that a column of either engine takes, and back: what a page reads instead of computing."""

import json
import math
from typing import Any, TypeVar

from pydantic import TypeAdapter
from pydantic_core import to_json

Kept = TypeVar("Kept")
_ADAPTERS: dict[Any, TypeAdapter[Any]] = {}


def as_kept(value: Any) -> Any:
    """Lists, dictionaries, texts and numbers; days as ISO text, a number that is not finite as its name."""
    return json.loads(to_json(value, inf_nan_mode="strings"))


def as_was(kind: type[Kept], kept: Any) -> Kept:
    """The dataclass (or a list of them) again. ValidationError (pydantic): kept by a former version of the code."""
    if kind not in _ADAPTERS:
        _ADAPTERS[kind] = TypeAdapter(kind)
    found: Kept = _ADAPTERS[kind].validate_python(kept)
    return found


def same(one: Any, other: Any, tolerance: float) -> bool:
    """Whether two kept values say the same, numbers to a relative (below 1: absolute) tolerance."""
    if isinstance(one, float | int) and isinstance(other, float | int):
        return math.isclose(one, other, rel_tol=tolerance, abs_tol=tolerance)
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key], tolerance) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(same(a, b, tolerance) for a, b in zip(one, other, strict=True))
    return bool(one == other)
