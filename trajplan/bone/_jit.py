"""Compile with numba, and keep the result on disk where a folder can be written.

What lies on disk may be cut short, by a full disk or a killed process, and what is written may
find no room: it is then built anew, or done without, and one line says so.
"""

from __future__ import annotations

import logging
from functools import cache
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import numba
from numba.core.caching import FunctionCache

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["jit", "jit_inline", "jit_parallel"]

P = ParamSpec("P")
R = TypeVar("R")


def jit(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function; it runs on one core.

    Fast-math stays off: contracting a product and a sum into one rounding would take the
    exactness from the rule of crossings.
    """
    return _compiled(function, parallel=False)


def jit_inline(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function into each of its callers: for steps so small that a call costs more."""
    return _compiled(function, parallel=False, forceinline=True)


def jit_parallel(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a function whose `numba.prange` loops run on all cores."""
    return _compiled(function, parallel=True)


def _compiled(
    function: Callable[P, R], *, parallel: bool, forceinline: bool = False
) -> Callable[P, R]:
    options = {
        "parallel": parallel, "error_model": "numpy", "fastmath": False, "forceinline": forceinline,
    }  # fmt: skip
    compiled: Any = numba.njit(**options)(function)
    try:
        # as `enable_caching` of numba's dispatcher does, with a cache that bears damage
        compiled._cache = _Cache(function)  # noqa: SLF001 - numba names no other way
    except RuntimeError:  # no folder for it can be written
        _say(
            "cannot be kept, so every start takes some seconds longer; let NUMBA_CACHE_DIR "
            "name a folder that can be written"
        )
    result: Callable[P, R] = compiled
    return result


class _Cache(FunctionCache):
    """Compiled code on disk that may be damaged, or find no room."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:  # noqa: ANN401 - numba's types
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # noqa: BLE001 - a damaged pickle raises whatever it likes
            _say("was damaged on disk, and is built again")
            try:
                self.flush()
            except OSError:
                self.disable()
            return None

    def save_overload(self, sig: Any, data: Any) -> None:  # noqa: ANN401 - numba's types
        try:
            super().save_overload(sig, data)
        except OSError as error:
            _say(f"cannot be kept on disk ({error.strerror}), so the next start takes longer")
            self.disable()


@cache
def _say(what: str) -> None:
    """Say one thing once: logging prints a warning to standard error unless told otherwise."""
    logging.getLogger("trajplan").warning("trajplan: the compiled code %s", what)
