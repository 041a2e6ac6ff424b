"""Values of the program as plain data (lists, texts, numbers), for keys and for files beside the film.

Equal values give equal data; where a file lies is left out (fields that are not compared), its digest is in.
"""

from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from pipeline.drawing.look import Look
from pipeline.music.fragment import Fragment


def plain(value: Any) -> Any:
    """Dataclasses as lists of their class and compared fields; tuples as lists; fractions as `a/b`."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if isinstance(value, Look | Fragment):
        return _shared(value)
    if is_dataclass(value):
        return _fields(value)
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, frozenset):
        return sorted(plain(item) for item in value)
    if isinstance(value, bytes):
        return value
    raise TypeError(f"{type(value).__name__} is not plain")


@lru_cache(maxsize=256)
def _shared(value: Look | Fragment) -> Any:
    """What thousands of scenes share is turned into plain data once."""
    return _fields(value)


def _fields(value: Any) -> list[Any]:
    names = (field.name for field in fields(value) if field.compare)
    return [type(value).__name__, *(plain(getattr(value, name)) for name in names)]
