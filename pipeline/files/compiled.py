"""Compiled loops over pixels: numba, with its results kept on disk so that only the first run compiles.

A function without the interpreter's lock can run beside an encoder in another thread.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

import numba

P = ParamSpec("P")
R = TypeVar("R")


def compiled(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a loop on first call. Division by zero is not looked for: loops that test cannot be widened."""
    made: Callable[P, R] = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    return made
