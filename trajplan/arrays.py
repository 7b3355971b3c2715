"""Array aliases, the checks at the edge of the core, ragged rows, and rows of records.

Ragged results (a line may cross a bone any number of times) are flat arrays plus
``offsets (n + 1,)``: row ``i`` is ``flat[offsets[i]:offsets[i + 1]]``, and may be empty.
"""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trajplan.errors import DegenerateError, ShapeError

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = [
    "Bools",
    "Floats",
    "Int8s",
    "Ints",
    "Vec3",
    "Vec3s",
    "as_directions",
    "as_points",
    "as_vector",
    "freeze",
    "joined",
    "offsets_of",
    "rows_of",
    "taken",
]

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Int8s: TypeAlias = NDArray[np.int8]
Bools: TypeAlias = NDArray[np.bool_]
Vec3: TypeAlias = NDArray[np.float64]  # (3,)
Vec3s: TypeAlias = NDArray[np.float64]  # (n, 3)

Part = TypeVar("Part")

#: Below this length a vector has no direction that float64 could be trusted with.
MIN_LENGTH = 1e-12


def freeze(*arrays: NDArray[Any]) -> None:
    """Make arrays read-only, so that a frozen dataclass holds frozen numbers."""
    for array in arrays:
        array.setflags(write=False)


def as_points(values: ArrayLike, name: str = "points") -> Vec3s:
    """Copy anything array-like into a read-only float64 array of points.

    Parameters
    ----------
    values : array_like, (n, 3) or (3,)
        Coordinates in mm; one point becomes one row.
    name : str
        Name used in the error.

    Returns
    -------
    (n, 3) float array, read-only

    Raises
    ------
    ShapeError
        If the rows do not have three numbers.
    DegenerateError
        If a number is not finite.
    """
    points = np.array(values, dtype=np.float64, ndmin=2)
    if points.size == 0:
        points = points.reshape(0, 3)
    if points.ndim != 2 or points.shape[1] != 3:
        raise ShapeError(name, "(n, 3)", points.shape)
    if not np.isfinite(points).all():
        row = int(np.flatnonzero(~np.isfinite(points).all(axis=1))[0])
        raise DegenerateError(f"{name}: row {row} holds a number that is not finite")
    freeze(points)
    return points


def as_directions(values: ArrayLike, name: str = "directions") -> Vec3s:
    """Copy anything array-like into a read-only array of unit vectors.

    Parameters
    ----------
    values : array_like, (n, 3) or (3,)
        Vectors of any length above zero.
    name : str
        Name used in the error.

    Returns
    -------
    (n, 3) float array, read-only, rows of length 1

    Raises
    ------
    ShapeError
        If the rows do not have three numbers.
    DegenerateError
        If a row is zero or not finite.
    """
    vectors = as_points(values, name)
    length = np.linalg.norm(vectors, axis=1)
    if (length < MIN_LENGTH).any():
        row = int(np.flatnonzero(length < MIN_LENGTH)[0])
        raise DegenerateError(f"{name}: row {row} has no length, so it has no direction")
    unit: Vec3s = vectors / length[:, None]
    freeze(unit)
    return unit


def as_vector(values: ArrayLike, name: str = "vector") -> Vec3:
    """Copy three numbers into a read-only float64 array.

    Parameters
    ----------
    values : array_like, (3,)
        Coordinates.
    name : str
        Name used in the error.

    Returns
    -------
    (3,) float array, read-only

    Raises
    ------
    ShapeError
        If there are not exactly three numbers.
    DegenerateError
        If a number is not finite.
    """
    shape = np.shape(values)
    if shape != (3,):
        raise ShapeError(name, "(3,)", shape)
    vector: Vec3 = as_points(values, name)[0]
    return vector


def offsets_of(counts: Iterable[int] | NDArray[Any]) -> Ints:
    """Offsets of ragged rows from the number of items in each row.

    Parameters
    ----------
    counts : (n,) int array
        Items in each row.

    Returns
    -------
    (n + 1,) int array
    """
    sizes = np.asarray(counts, dtype=np.int64)
    offsets = np.zeros(len(sizes) + 1, dtype=np.int64)
    np.cumsum(sizes, out=offsets[1:])
    return offsets


def rows_of(offsets: Ints) -> Ints:
    """Row number of every item of ragged rows.

    Parameters
    ----------
    offsets : (n + 1,) int array
        Offsets as from `offsets_of`.

    Returns
    -------
    (offsets[-1],) int array
    """
    return np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))


def taken(part: Part, rows: Ints) -> Part:
    """Take rows of every array of a record, and of the records in it.

    Parameters
    ----------
    part : dataclass
        A record whose arrays have a row for each of ``n`` axes; a record in it that keeps
        its rows otherwise has a ``take`` of its own.
    rows : (m,) int array
        Rows to take, in any order.

    Returns
    -------
    dataclass
        Of the same type, with ``m`` rows; what is no array stays as it is.
    """
    values = {field.name: getattr(part, field.name) for field in fields(part)}  # type: ignore[arg-type]
    return replace(part, **{name: _taken(value, rows) for name, value in values.items()})  # type: ignore[type-var]


def _taken(value: Any, rows: Ints) -> Any:  # noqa: ANN401 - a field of any type
    if isinstance(value, np.ndarray):
        return value[rows]
    if hasattr(value, "take"):
        return value.take(rows)
    return taken(value, rows) if is_dataclass(value) else value


def joined(first: Part, second: Part) -> Part:
    """Put the rows of a record behind those of another, and those of the records in it.

    Parameters
    ----------
    first, second : dataclasses of one type
        Records whose arrays have a row for each axis; a record in them that keeps its rows
        otherwise has a ``join`` of its own.

    Returns
    -------
    dataclass
        Of the same type, the rows of `first` before those of `second`; what is no array is
        the same in both, and stays as it is.
    """
    values = {
        field.name: (getattr(first, field.name), getattr(second, field.name))
        for field in fields(first)  # type: ignore[arg-type]
    }
    return replace(first, **{name: _joined(*both) for name, both in values.items()})  # type: ignore[type-var]


def _joined(first: Any, second: Any) -> Any:  # noqa: ANN401 - a field of any type
    if isinstance(first, np.ndarray):
        return np.concatenate([first, second])
    if hasattr(first, "join"):
        return first.join(second)
    return joined(first, second) if is_dataclass(first) else first
