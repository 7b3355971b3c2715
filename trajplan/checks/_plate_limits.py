"""What a limit means, and the limits of plates."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["PLATE_NOTES", "LimitNote"]

_AO = "AO Foundation, online surgery reference"
_WHEELESS = "Wheeless' Textbook of Orthopaedics"


class LimitNote(NamedTuple):
    """What a limit means."""

    unit: str
    source: str
    meaning: str


#: Limits of the rules on plates, by name.
PLATE_NOTES: Mapping[str, LimitNote] = {
    "plate_screws": LimitNote(
        "screws",
        f"{_AO}, femoral shaft, 32-A3 (at least three through both walls in each fragment); for "
        "other bones an assumption, unless plate.region names one",
        "least screws of a plate through both walls on each side of the fracture",
    ),
    "plate_enough": LimitNote(
        "screws",
        "Stoffel et al. 2003, Injury 34 Suppl 2:B11 (not verified against the source): past "
        "three screws on either "
        "side a plate is no stiffer along the bone, past four no stiffer in torsion",
        "most screws of a plate on each side of the fracture; the rest of its holes stay empty",
    ),
    "plate_fit": LimitNote(
        "mm",
        f"{_AO}, dog humerus: contoured exactly; how exactly is an assumption",
        "gap under a plate at a screw without a caution: tightening pulls the bone to the plate",
    ),
    "plate_bend": LimitNote(
        "degrees",
        f"{_WHEELESS}, reconstruction plates; for other plates an assumption",
        "greatest bend of a plate between two holes, where its row names none",
    ),
    "plate_hole_least": LimitNote(
        "mm",
        f"{_AO}, malleoli, antiglide plate",
        "least distance of a buttress plate's nearest hole from the fracture line",
    ),
    "plate_hole_most": LimitNote(
        "mm", f"{_AO}, malleoli, antiglide plate", "greatest distance of the same hole"
    ),
    "plate_eccentric": LimitNote(
        "screws",
        f"{_WHEELESS}, theory of compression plates",
        "eccentric screws past which more rarely press more",
    ),
    "growth_plate": LimitNote(
        "mm",
        "Heyworth et al. 2013, J Bone Joint Surg Am 95:526 (abstract), children's distal femur",
        "distance of a plate's end from a growth plate below which the bone may grow crooked",
    ),
}
