"""The digest of plain data, which keys are made of. Light to load: a build with nothing to do needs it."""

import hashlib
import json
from fractions import Fraction
from typing import Any


def digest(value: Any) -> str:
    """A digest of plain data: equal data, equal digest, on any machine."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), default=_plain)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    raise TypeError(f"{type(value).__name__} is not plain data")
