"""Mechanics of a plan: holding strength, preload, squeeze and slip, contact and opening.

Numbers of this floor compare plans with each other. They predict nothing for a patient.
"""

from trajplan.mechanics._bearing import Bearing, bearing, seat_limit, wall_limit
from trajplan.mechanics._bone_class import (
    BoneClass,
    Material,
    Strength,
    cancellous_material,
    find_bone_class,
    load_bone_classes,
)
from trajplan.mechanics._contact import ContactResult, contact_of, solve_contact
from trajplan.mechanics._core import CORE_STRENGTH, breaking_torque, core_limit, core_stress
from trajplan.mechanics._engaged import Engaged, engaged
from trajplan.mechanics._friction_limit import friction_limit
from trajplan.mechanics._holding import CORTEX_SPREAD, holding, trajectory_holding
from trajplan.mechanics._load import (
    Load,
    clamp_forces,
    clamp_load,
    shaft_load,
    squeeze_and_shear,
)
from trajplan.mechanics._measured import (
    Turns,
    measured_holding,
    measured_turns,
    scaled_cortex,
    soft_strength,
)
from trajplan.mechanics._opening import OpeningLoad, opening_load
from trajplan.mechanics._overbend import Overbend, overbend, plate_pull, resultant
from trajplan.mechanics._plate_section import (
    Bonded,
    PlateSection,
    ShaftSection,
    bonded,
    plate_section,
    shaft_section,
)
from trajplan.mechanics._pressed import Pressed, press_surface
from trajplan.mechanics._pull_out import pull_out, shear_area, thread_shape_factor
from trajplan.mechanics._range import BONE_FRICTION, METAL_FRICTION, Friction, Range
from trajplan.mechanics._region import Region, region_quadrature, surface_regions
from trajplan.mechanics._slip import SlipReserve, critical_tilt, slip_reserve
from trajplan.mechanics._torque import (
    HAND_TORQUE,
    USEFUL_SHARE,
    force_from_torque,
    hand_torque,
    preload,
    stripping_torque,
    thread_torque,
    torque_per_force,
)
from trajplan.mechanics._wedge import (
    HEAD_FRICTION,
    SQUEEZING_SCREWS,
    axial_squeeze,
    buttress_force,
    wedge_share,
)

__all__ = [
    "BONE_FRICTION",
    "CORE_STRENGTH",
    "CORTEX_SPREAD",
    "HAND_TORQUE",
    "HEAD_FRICTION",
    "METAL_FRICTION",
    "SQUEEZING_SCREWS",
    "USEFUL_SHARE",
    "Bearing",
    "Bonded",
    "BoneClass",
    "ContactResult",
    "Engaged",
    "Friction",
    "Load",
    "Material",
    "OpeningLoad",
    "Overbend",
    "PlateSection",
    "Pressed",
    "Range",
    "Region",
    "ShaftSection",
    "SlipReserve",
    "Strength",
    "Turns",
    "axial_squeeze",
    "bearing",
    "bonded",
    "breaking_torque",
    "buttress_force",
    "cancellous_material",
    "clamp_forces",
    "clamp_load",
    "contact_of",
    "core_limit",
    "core_stress",
    "critical_tilt",
    "engaged",
    "find_bone_class",
    "force_from_torque",
    "friction_limit",
    "hand_torque",
    "holding",
    "load_bone_classes",
    "measured_holding",
    "measured_turns",
    "opening_load",
    "overbend",
    "plate_pull",
    "plate_section",
    "preload",
    "press_surface",
    "pull_out",
    "region_quadrature",
    "resultant",
    "scaled_cortex",
    "seat_limit",
    "shaft_load",
    "shaft_section",
    "shear_area",
    "slip_reserve",
    "soft_strength",
    "solve_contact",
    "squeeze_and_shear",
    "stripping_torque",
    "surface_regions",
    "thread_shape_factor",
    "thread_torque",
    "torque_per_force",
    "trajectory_holding",
    "wall_limit",
    "wedge_share",
]
