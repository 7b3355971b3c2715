"""Compile with numba, and keep the result on disk where a folder can be written."""

from __future__ import annotations

from typing import TYPE_CHECKING, ParamSpec, TypeVar

import numba

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["jit", "jit_parallel"]

P = ParamSpec("P")
R = TypeVar("R")


def jit(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function; it runs on one core.

    Fast-math stays off: contracting a product and a sum into one rounding would take the
    exactness from the rule of crossings.
    """
    return _compiled(function, parallel=False)


def jit_parallel(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function whose `numba.prange` loops run on all cores."""
    return _compiled(function, parallel=True)


def _compiled(function: Callable[P, R], *, parallel: bool) -> Callable[P, R]:
    options = {"parallel": parallel, "error_model": "numpy", "fastmath": False}
    try:
        compiled: Callable[P, R] = numba.njit(cache=True, **options)(function)
    except RuntimeError:  # no folder for the cache can be written: compile every time
        compiled = numba.njit(**options)(function)
    return compiled
