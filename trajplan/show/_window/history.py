"""What was, what is, and what was taken back."""

from __future__ import annotations

from typing import Generic, TypeVar

__all__ = ["History"]

T = TypeVar("T")


class History(Generic[T]):
    """States in the order in which they came about, and where in them we are.

    Parameters
    ----------
    first : T
        The state to begin with.
    """

    __slots__ = ("_at", "_states")

    def __init__(self, first: T) -> None:
        self._states = [first]
        self._at = 0

    @property
    def now(self) -> T:
        """The state that holds."""
        return self._states[self._at]

    @property
    def first(self) -> T:
        """The state that all began with."""
        return self._states[0]

    @property
    def can_undo(self) -> bool:
        """Whether there is a state before this one."""
        return self._at > 0

    @property
    def can_redo(self) -> bool:
        """Whether a state was taken back."""
        return self._at + 1 < len(self._states)

    def add(self, state: T) -> None:
        """Go on to a new state; those that were taken back are gone.

        Parameters
        ----------
        state : T
            The new state.
        """
        self._states[self._at + 1 :] = [state]
        self._at += 1

    def swap(self, state: T) -> None:
        """Put another state in the place of the one that holds.

        Parameters
        ----------
        state : T
            The other state.
        """
        self._states[self._at] = state

    def undo(self) -> None:
        """Go back by one state, if there is one."""
        self._at = max(0, self._at - 1)

    def redo(self) -> None:
        """Go forward again by one state, if one was taken back."""
        self._at = min(len(self._states) - 1, self._at + 1)
