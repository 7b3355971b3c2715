"""Rules, one a function: each answers with a verdict, a measure, a limit and a source."""

from trajplan.checks._access import Approach, approach, one_approach
from trajplan.checks._aim import TO_FRACTURE, Aim, aim, aimed_slip
from trajplan.checks._alone import end_alone, pulled_apart, screws_alone
from trajplan.checks._clearance import Obstacle, clearance, head_on_joint, too_near
from trajplan.checks._closed import fractures_closed
from trajplan.checks._crossing import crosses_fracture, local_tilt, meets_bone, tilt
from trajplan.checks._edge import fracture_edge
from trajplan.checks._forces import (
    contact_share,
    head_pressure,
    holding,
    opening,
    slip,
)
from trajplan.checks._fragments import (
    NOT_REDUCED,
    fragments_gap,
    fragments_overlap,
    fragments_step,
    fragments_turn,
)
from trajplan.checks._guide import drill_access, guide_way
from trajplan.checks._hand import ByHand, Odds, by_hand
from trajplan.checks._head import drills_named, entry_angle, exit_angle, head_seat, head_support
from trajplan.checks._head_across import head_across
from trajplan.checks._holes import as_obstacle, beside_holes
from trajplan.checks._joint_given import joint_given
from trajplan.checks._limits import LIMIT_NOTES, LimitNote, Limits
from trajplan.checks._others import other_fractures
from trajplan.checks._parallel import parallel_to_joint
from trajplan.checks._plate_holes import (
    END_REACH,
    SCREWS_EACH_SIDE,
    SideNote,
    antiglide_hole,
    buttress_push,
    buttress_reach,
    eccentric_screws,
    hole_cone,
    hole_over_fracture,
    plate_density,
    screws_each_side,
    screws_wanted,
    span_ratio,
)
from trajplan.checks._plates import (
    BODY_CLEAR,
    HANGS,
    growth_plate_distance,
    off_its_line,
    plate_bend,
    plate_clear,
    plate_cuts,
    plate_fit,
    plate_meets_screw,
    plate_on_bone,
    side_open,
)
from trajplan.checks._plunge import drill_meets, plunge
from trajplan.checks._reduction import reduction_findings, trusted
from trajplan.checks._rests import Rests, doubts_of, in_doubt
from trajplan.checks._rules import (
    Surroundings,
    named_by,
    pair_names,
    pair_rulings,
    plan_findings,
    screw_rulings,
)
from trajplan.checks._shaft import along_shaft, bone_share
from trajplan.checks._spacing import (
    Cylinders,
    cylinders,
    holds_rotation,
    pair_gap,
    pairs_of,
    screw_gap,
    screw_spacing,
    shaft_gap,
)
from trajplan.checks._thread import closes_gap, near_thread, purchase, thread_across
from trajplan.checks._tip import tip_past, tip_short
from trajplan.checks._transverse import transverse
from trajplan.checks._types import DOES_NOT_APPLY, Finding, Ruling, Verdict, grade, worst
from trajplan.checks._wall import cortex_known, inside_known, leaves_bone, wall_breach
from trajplan.checks._wires import (
    wire_clear,
    wire_clearance,
    wire_hold,
    wire_path,
    wire_tilt,
)

__all__ = [
    "BODY_CLEAR",
    "DOES_NOT_APPLY",
    "END_REACH",
    "HANGS",
    "LIMIT_NOTES",
    "NOT_REDUCED",
    "SCREWS_EACH_SIDE",
    "TO_FRACTURE",
    "Aim",
    "Approach",
    "ByHand",
    "Cylinders",
    "Finding",
    "LimitNote",
    "Limits",
    "Obstacle",
    "Odds",
    "Rests",
    "Ruling",
    "SideNote",
    "Surroundings",
    "Verdict",
    "aim",
    "aimed_slip",
    "along_shaft",
    "antiglide_hole",
    "approach",
    "as_obstacle",
    "beside_holes",
    "bone_share",
    "buttress_push",
    "buttress_reach",
    "by_hand",
    "clearance",
    "closes_gap",
    "contact_share",
    "cortex_known",
    "crosses_fracture",
    "cylinders",
    "doubts_of",
    "drill_access",
    "drill_meets",
    "drills_named",
    "eccentric_screws",
    "end_alone",
    "entry_angle",
    "exit_angle",
    "fracture_edge",
    "fractures_closed",
    "fragments_gap",
    "fragments_overlap",
    "fragments_step",
    "fragments_turn",
    "grade",
    "growth_plate_distance",
    "guide_way",
    "head_across",
    "head_on_joint",
    "head_pressure",
    "head_seat",
    "head_support",
    "holding",
    "holds_rotation",
    "hole_cone",
    "hole_over_fracture",
    "in_doubt",
    "inside_known",
    "joint_given",
    "leaves_bone",
    "local_tilt",
    "meets_bone",
    "named_by",
    "near_thread",
    "off_its_line",
    "one_approach",
    "opening",
    "other_fractures",
    "pair_gap",
    "pair_names",
    "pair_rulings",
    "pairs_of",
    "parallel_to_joint",
    "plan_findings",
    "plate_bend",
    "plate_clear",
    "plate_cuts",
    "plate_density",
    "plate_fit",
    "plate_meets_screw",
    "plate_on_bone",
    "plunge",
    "pulled_apart",
    "purchase",
    "reduction_findings",
    "screw_gap",
    "screw_rulings",
    "screw_spacing",
    "screws_alone",
    "screws_each_side",
    "screws_wanted",
    "shaft_gap",
    "side_open",
    "slip",
    "span_ratio",
    "thread_across",
    "tilt",
    "tip_past",
    "tip_short",
    "too_near",
    "transverse",
    "trusted",
    "wall_breach",
    "wire_clear",
    "wire_clearance",
    "wire_hold",
    "wire_path",
    "wire_tilt",
    "worst",
]
