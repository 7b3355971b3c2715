"""Bone classes: strengths of cortical and cancellous bone and of test blocks, as data."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from trajplan.errors import CaseError
from trajplan.implants import Provenance, kind_key, nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "BoneClass",
    "Material",
    "Strength",
    "cancellous_material",
    "find_bone_class",
    "load_bone_classes",
    "power_law",
    "sound_cortex",
]

DATA = Path(__file__).with_name("bone_classes.toml")

#: Apparent density of bone, g/cm³: no bone is denser than compact bone, about 2.
DENSEST = 2.2


@dataclass(frozen=True, slots=True)
class Strength:
    """A strength in MPa with the bounds that the sources leave, and where each is from.

    Raises
    ------
    CaseError
        If the three are not finite, not above zero, or out of order.
    """

    low: float
    estimate: float
    high: float
    sources: Mapping[str, Provenance]  # "low", "estimate", "high"

    def __post_init__(self) -> None:
        if not 0.0 < self.low <= self.estimate <= self.high < math.inf:
            raise CaseError(
                f"a strength of {self.low:g} / {self.estimate:g} / {self.high:g} MPa cannot be",
                remedy="give three numbers above 0, in rising order",
                where="bone class",
            )


@dataclass(frozen=True, slots=True)
class Material:
    """One material; a strength that no source gives is None."""

    name: str
    shear: Strength | None
    compression: Strength | None


@dataclass(frozen=True, slots=True)
class BoneClass:
    """What a screw meets in the cortex and inside it."""

    name: str
    about: str  # one sentence
    cortical: Material
    cancellous: Material


def find_bone_class(name: str) -> BoneClass:
    """Find a bone class by its name; spaces and case do not count.

    Parameters
    ----------
    name : str
        Such as ``poor`` or ``foam 20``.

    Returns
    -------
    BoneClass

    Raises
    ------
    CaseError
        If there is none; offers the names that look most like it.
    """
    classes = load_bone_classes()
    for known, found in classes.items():
        if kind_key(known) == kind_key(name):
            return found
    raise CaseError(f'no bone class is called "{name}"', remedy=nearest(name, classes))


@lru_cache(maxsize=1)
def load_bone_classes() -> Mapping[str, BoneClass]:
    """Read the package's bone classes.

    Returns
    -------
    mapping of str to BoneClass
        In the order of the file.
    """
    data = _data()
    sources, laws = _sources(data), data["law"]
    materials = {row["name"]: _material(row, laws, sources) for row in data["material"]}
    return MappingProxyType(
        {
            row["name"]: BoneClass(
                name=row["name"],
                about=row["about"],
                cortical=materials[row["cortical"]],
                cancellous=materials[row["cancellous"]],
            )
            for row in data["class"]
        }
    )


def cancellous_material(low: float, estimate: float, high: float) -> Material:
    """Cancellous bone of an apparent density.

    Parameters
    ----------
    low, estimate, high : float, g/cm³
        Apparent density and its bounds, as from a quantitative CT.

    Returns
    -------
    Material
        Strengths by the power laws of the data file, each with its source.

    Raises
    ------
    CaseError
        If the densities cannot be those of bone, or are out of order.
    """
    if not 0.0 < low <= estimate <= high <= DENSEST:
        raise CaseError(
            f"an apparent density of {low:g} / {estimate:g} / {high:g} g/cm³ cannot be",
            remedy=f"give three numbers above 0 and up to {DENSEST:g}, in rising order",
            where="bone class",
        )
    data = _data()
    row = {
        "name": f"cancellous of {estimate:g} g/cm³",
        "density": [low, estimate, high],
        "shear": {"law": "cancellous-shear"},
        "compression": {"law": "cancellous-compression"},
    }
    return _material(row, data["law"], _sources(data))


def power_law(name: str) -> tuple[float, float]:
    """A power law of the data file, from apparent density in g/cm³ to a strength in MPa.

    Parameters
    ----------
    name : {"cancellous-shear", "cancellous-compression"}
        The law.

    Returns
    -------
    coefficient, exponent : float
    """
    law = _data()["law"][name]
    return float(law["coefficient"]), float(law["exponent"])


def sound_cortex(key: Literal["shear", "compression"]) -> Strength:
    """Strength of sound cortex.

    Parameters
    ----------
    key : {"shear", "compression"}
        Which.

    Returns
    -------
    Strength
    """
    found = getattr(load_bone_classes()["normal"].cortical, key)
    assert isinstance(found, Strength)
    return found


@lru_cache(maxsize=1)
def _data() -> dict[str, Any]:
    return tomllib.loads(DATA.read_text(encoding="utf-8"))


def _sources(data: dict[str, Any]) -> dict[str, Provenance]:
    return {name: Provenance(**fields) for name, fields in data["source"].items()}


def _material(
    row: dict[str, Any], laws: dict[str, Any], sources: Mapping[str, Provenance]
) -> Material:
    shear, compression = (_strength(row, key, laws, sources) for key in ("shear", "compression"))
    return Material(row["name"], shear, compression)


def _strength(
    row: dict[str, Any], key: str, laws: dict[str, Any], sources: Mapping[str, Provenance]
) -> Strength | None:
    if key not in row:
        return None
    table = row[key]
    bounds = ("low", "estimate", "high")
    if "law" not in table:
        named = {bound: sources[table["sources"][bound]] for bound in bounds}
        low, estimate, high = (float(table[bound]) for bound in bounds)
        return Strength(low, estimate, high, named)
    law = laws[table["law"]]
    low, estimate, high = (
        float(law["coefficient"] * rho ** law["exponent"]) for rho in row["density"]
    )
    return Strength(low, estimate, high, dict.fromkeys(bounds, sources[law["source"]]))
