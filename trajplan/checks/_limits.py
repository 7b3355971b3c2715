"""Every limit of every rule: its default, its unit, and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from trajplan.checks._plate_limits import PLATE_NOTES, LimitNote

__all__ = ["LIMIT_NOTES", "LimitNote", "Limits"]


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of the rules; a case may override each by name. See `LIMIT_NOTES`."""

    friction: float = 0.364
    friction_most: float = 0.46
    max_tilt: float = 20.0
    aim_tilt: float = 30.0
    thread_margin: float = 0.5
    thread_clear: float = 2.0
    near_thread: float = 0.1
    turns_least: float = 2.0
    turns_wanted: float = 3.0
    turns_soft: float = 5.0
    tip_past: float = 2.0
    tip_least: float = 1.0
    tip_most: float = 3.0
    tip_worst: float = 8.0
    tip_short: float = 2.0
    tip_spare: float = 2.0
    breach: float = 0.1
    edge_least: float = 0.5
    edge_wanted: float = 1.0
    rim_contact: float = 0.5
    support_least: float = 1.0
    support_wanted: float = 0.5
    countersink_share: float = 0.5
    entry_angle_noted: float = 30.0
    entry_angle: float = 45.0
    entry_angle_most: float = 60.0
    exit_angle: float = 45.0
    exit_angle_most: float = 60.0
    rim_least: float = 0.2
    along_angle: float = 30.0
    along_length: float = 2.0
    along_most: float = 3.0
    bone_share: float = 0.34
    bone_share_most: float = 0.5
    screw_gap: float = 1.0
    screw_spacing: float = 2.0
    overlap: float = 0.5
    overlap_most: float = 2.0
    fragment_gap: float = 1.0
    fragment_gap_most: float = 2.0
    fragment_step: float = 1.0
    fragment_step_most: float = 2.0
    fragment_turn: float = 5.0
    fragment_turn_most: float = 10.0
    alone_length: float = 2.0
    alone_diameter: float = 15.0
    transverse: float = 30.0
    one_approach: float = 90.0
    guide_diameter: float = 8.0
    guide_length: float = 60.0
    plunge: float = 8.5
    plunge_least: float = 2.0
    holding: float = 0.2
    contact_share: float = 0.5
    placement: float = 0.25
    placement_harm: float = 0.05
    placement_harm_most: float = 0.25
    parallel: float = 10.0
    plate_screws: float = 3.0
    plate_enough: float = 4.0
    plate_fit: float = 1.0
    plate_bend: float = 15.0
    plate_hole_least: float = 3.0
    plate_hole_most: float = 5.0
    plate_eccentric: float = 2.0
    growth_plate: float = 20.0
    wire_tilt: float = 30.0
    wire_hold: float = 5.0

    @property
    def slip_angle(self) -> float:
        """Tilt in degrees past which the fragments may slide: the arctangent of friction."""
        return float(np.degrees(np.arctan(self.friction)))

    @property
    def planned_tilt(self) -> float:
        """Tilt in degrees up to which a lag screw is planned, and passes."""
        return min(self.max_tilt, self.slip_angle)

    @property
    def slide_angle(self) -> float:
        """Tilt in degrees past which the fragments slide with any plausible friction."""
        return float(np.degrees(np.arctan(max(self.friction, self.friction_most))))

    def changed(self) -> dict[str, float]:
        """Limits that differ from their defaults.

        Returns
        -------
        dict of str to float
        """
        return {
            f.name: getattr(self, f.name)
            for f in fields(self)
            if getattr(self, f.name) != f.default
        }


_AO = "AO Foundation, online surgery reference"
_WHEELESS = "Wheeless' Textbook of Orthopaedics"
_BRIOSCHI = "Brioschi et al. 2016, Vet Rec Open, doi 10.1136/vetreco-2016-000172 (abstract"
_RADIUS = "Assessment of Articular Displacement of Distal Radius Fractures, abstract"

LIMIT_NOTES: dict[str, LimitNote] = {
    "friction": LimitNote(
        "",
        "tan 20 degrees: the taught limit of tilt as friction (Wheeless' Textbook of Orthopaedics, "
        "lag screw theory); no printed measurement of bone on bone was found, models use 0.3 to "
        "0.46 (not verified against the source)",
        "friction between the fragments; a screw tilted past its arctangent may make them slide",
    ),
    "friction_most": LimitNote(
        "",
        "upper end of what models use for bone on bone (not verified against the source)",
        "greatest plausible friction; a screw tilted past its arctangent makes the fragments "
        "slide in any case",
    ),
    "max_tilt": LimitNote(
        "degrees",
        f"{_WHEELESS}, lag screw theory",
        "tilt to the fracture normal that is planned without a caution",
    ),
    "aim_tilt": LimitNote(
        "degrees",
        "derived: half of the way from the fracture normal to the bone's, at the least obliquity "
        "of an oblique fracture (30 degrees, so 60 between the normals)",
        "greatest tilt to the fracture normal of a screw that the case aims off it",
    ),
    "thread_margin": LimitNote(
        "mm", "assumption", "thread of a lag screw begins at least this far beyond the fracture"
    ),
    "thread_clear": LimitNote(
        "mm",
        "assumption: what hands err in depth",
        "a blind screw is chosen so that its thread begins this far beyond the fracture",
    ),
    "near_thread": LimitNote(
        "mm",
        "assumption: rounding of a mesh",
        "thread of a lag screw that may bite the near fragment",
    ),
    "turns_least": LimitNote("turns", "common practice", "least purchase beyond the fracture"),
    "turns_wanted": LimitNote("turns", "common practice", "purchase wanted beyond the fracture"),
    "turns_soft": LimitNote(
        "turns",
        "assumption, more than in cortex; why no more: Parker et al. 2013, Bone Joint J 95-B:1662, "
        "abstract (30 mm screws pressed more than 45 mm)",
        "a blind screw is the shortest that holds by so many turns beyond the fracture",
    ),
    "tip_past": LimitNote(
        "mm",
        f"{_AO}, lag screw fixation (small animal)",
        "a bicortical screw is chosen so that its tip leaves the far cortex by this much",
    ),
    "tip_least": LimitNote(
        "mm",
        f"{_AO}, tibial shaft, screw length",
        "least distance of the tip past the far cortex of a bicortical screw",
    ),
    "tip_most": LimitNote(
        "mm",
        "assumption (reference tables give 1 to 2)",
        "tip past the far cortex without a caution",
    ),
    "tip_worst": LimitNote(
        "mm",
        "assumption",
        "greatest distance of the tip past the far cortex: it protrudes under the skin",
    ),
    "tip_short": LimitNote(
        "mm", "assumption", "a unicortical screw stops short of the far wall by this much"
    ),
    "tip_spare": LimitNote(
        "mm",
        "assumption: what hands err in depth; with a clearance of 5 mm and a tray in steps of 5 mm "
        "tips end 7 to 12 mm from the joint, where 5 to 12 are taught (Wheeless' Textbook of "
        "Orthopaedics, hip fractures, screw length)",
        "a unicortical screw that runs towards a joint keeps this much beyond its clearance",
    ),
    "breach": LimitNote(
        "mm",
        "assumption: rounding of a mesh",
        "length on which the cylinder may lie outside the wall",
    ),
    "edge_least": LimitNote(
        "thread diameters",
        "assumption: half of the published distance",
        "least hole to fracture line",
    ),
    "edge_wanted": LimitNote(
        "thread diameters",
        f"{_AO}, lag screw fixation (small animal)",
        "distance of the hole's rim to the fracture line without a caution",
    ),
    "rim_contact": LimitNote(
        "share", "assumption", "share of the head's rim on bone below which it is noted"
    ),
    "support_least": LimitNote(
        "mm", "assumption", "least bone of the near fragment between the head and the fracture"
    ),
    "support_wanted": LimitNote(
        "thread diameters",
        "derived: a ring of cortex so deep under a head of 8 mm bears 2.9 kN in shear at 51.6 MPa "
        "(Turner et al. 2001, abstract), about the greatest force of a 4.5 mm screw in print",
        "bone of the near fragment between the head and the fracture without a caution",
    ),
    "countersink_share": LimitNote(
        "share",
        "common practice",
        "share of the near cortex that a countersink may take, where the plan cuts one",
    ),
    "entry_angle_noted": LimitNote(
        "degrees",
        f"{_BRIOSCHI}: drilling by hand is limited particularly at 60 degrees to the plank and "
        "less, that is from 30 off its normal on)",
        "angle between axis and surface normal at the entry without a note",
    ),
    "entry_angle": LimitNote(
        "degrees",
        f"{_BRIOSCHI}: at 30 to 45 degrees to the plank, 45 to 60 off its normal, four holes in "
        "five are off by more than 4 degrees)",
        "angle between axis and surface normal at the entry without a caution",
    ),
    "entry_angle_most": LimitNote(
        "degrees",
        f"{_BRIOSCHI}: the steepest slant that was drilled); as a limit: assumption",
        "greatest angle between axis and surface normal at the entry",
    ),
    "exit_angle": LimitNote(
        "degrees",
        "assumption",
        "angle between axis and far wall at the exit past which the longer side is to be read",
    ),
    "exit_angle_most": LimitNote(
        "degrees",
        "assumption",
        "greatest angle at the exit: past it the drill slides along the far wall",
    ),
    "rim_least": LimitNote(
        "share", "assumption", "least share of a circle under the head that bears on bone"
    ),
    "along_angle": LimitNote(
        "degrees", "assumption", "angle to the shaft within which a screw runs along it"
    ),
    "along_length": LimitNote(
        "shaft diameters",
        "assumption",
        "way in the bone of a screw along the shaft without a caution",
    ),
    "along_most": LimitNote(
        "shaft diameters", "assumption", "longest way in the bone of a screw along the shaft"
    ),
    "bone_share": LimitNote(
        "share",
        "common practice, about a third (AO manual of hand fixation: a fragment three thread "
        "diameters wide, not verified against the source)",
        "thread diameter over the bone's width without a caution",
    ),
    "bone_share_most": LimitNote(
        "share", "assumption", "greatest thread diameter over the bone's width"
    ),
    "screw_gap": LimitNote("mm", "assumption", "least gap between the surfaces of two screws"),
    "screw_spacing": LimitNote(
        "thread diameters",
        f"{_AO}, lag screw fixation (small animal); read as the distance of the centre lines",
        "distance of two screws without a caution",
    ),
    "overlap": LimitNote(
        "mm",
        "assumption: beyond what the noise of a segmentation explains",
        "depth to which two fragments may overlap without a caution",
    ),
    "overlap_most": LimitNote(
        "mm",
        "assumption: by so much a tip that is planned past the far cortex ends short of it",
        "greatest depth to which two fragments may overlap",
    ),
    "fragment_gap": LimitNote(
        "mm",
        f"{_RADIUS} (gap above 1 to 2 mm is reduced)",
        "gap that nine tenths of the fracture stay below without a caution",
    ),
    "fragment_gap_most": LimitNote(
        "mm",
        f"{_RADIUS} (gap above 1 to 2 mm is reduced)",
        "gap that nine tenths of the fracture must stay below: else it is not reduced",
    ),
    "fragment_step": LimitNote(
        "mm",
        f"{_RADIUS} (step above 1 to 2 mm is reduced)",
        "largest step along the rim of two fragments without a caution",
    ),
    "fragment_step_most": LimitNote(
        "mm",
        "common practice for joint surfaces (step of 2 mm and more is malunion: Altissimi et al. "
        "2001, Riv Chir Mano 38, abstract)",
        "step that nine tenths of the rim must stay below: else it is not reduced",
    ),
    "fragment_turn": LimitNote(
        "degrees",
        "assumption: half of what is felt",
        "turn of two fragments against each other without a caution",
    ),
    "fragment_turn_most": LimitNote(
        "degrees",
        "PubMed 23934503, abstract (femur: malrotation of 10 degrees and more is felt)",
        "greatest turn of two fragments against each other",
    ),
    "alone_length": LimitNote(
        "bone diameters",
        f"{_AO}, metacarpal shaft, oblique",
        "length of a shaft fracture along the shaft from which lag screws alone may do",
    ),
    "alone_diameter": LimitNote(
        "mm",
        f"assumption; that lag screws without a plate have failed in long bones: {_WHEELESS}, "
        "lag screw theory",
        "shaft diameter from which a plate is usual however long the fracture is",
    ),
    "transverse": LimitNote(
        "degrees",
        f"{_AO}, femoral shaft (dog), 32-A2: oblique lines lie up to 60 degrees to the long axis",
        "angle of a shaft fracture to the cross-section below which it is transverse",
    ),
    "one_approach": LimitNote(
        "degrees", "assumption", "angle between two screws that are drilled from one side"
    ),
    "guide_diameter": LimitNote("mm", "assumption", "outer diameter of the drill guide"),
    "guide_length": LimitNote(
        "mm", "assumption", "free length that drill guide and chuck need along the axis"
    ),
    "plunge": LimitNote(
        "mm",
        "Clement et al. 2012, J Orthop Trauma 26:482 (abstract): 5.1 on average, experienced "
        "hands, sharp drill; spread of a third: Ding and Marmor 2019, J Orthop Trauma "
        "(abstract); so one hole in forty goes deeper",
        "way of the drill behind the far wall within which nothing should lie that must be kept",
    ),
    "plunge_least": LimitNote(
        "mm",
        "assumption: the drill's point and the hook of the depth gauge need so much",
        "least way behind the far wall to what must be kept, in line with the drill",
    ),
    "holding": LimitNote(
        "share",
        "assumption: for a 3.5 mm screw 194 N, between the 107 to 113 N measured under one in "
        "artificial bone (Rev Bras Ortop 2023, doi 10.1055/s-0042-1750828, abstract) and the 490 N "
        "least set in tests (Johner et al. 1983, abstract)",
        "least holding strength, of the force that such a screw is tightened to in sound cortex",
    ),
    "contact_share": LimitNote(
        "share", "assumption", "share of the fracture that the screws should press together"
    ),
    "placement": LimitNote(
        "share",
        "assumption",
        "share of tries by hand that may do less than planned without a caution",
    ),
    "placement_harm": LimitNote(
        "share", "assumption", "share of tries by hand that may do harm without a caution"
    ),
    "placement_harm_most": LimitNote(
        "share",
        "assumption",
        "greatest share of tries that may do harm by the best way of drilling",
    ),
    "parallel": LimitNote(
        "degrees", "assumption", "deviation from a joint surface that an axis is to run parallel to"
    ),
    **PLATE_NOTES,
    "wire_tilt": LimitNote(
        "degrees", "assumption", "tilt of a wire to the fracture normal past which it is noted"
    ),
    "wire_hold": LimitNote(
        "mm", "assumption", "least bone that a wire holds in on either side of the fracture"
    ),
}
