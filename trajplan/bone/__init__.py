"""Bones: reading, audit, shells, crossings, inside and outside, distances."""

from trajplan.bone._assemble import join_surfaces, keep_faces
from trajplan.bone._audit import audit
from trajplan.bone._audit_words import NO_CANAL
from trajplan.bone._bodies import (
    Body,
    bone_sized,
    inner_shells,
    list_bodies,
    shell_at,
)
from trajplan.bone._bone import Bone, make_bone
from trajplan.bone._cast import Caster, Engine, make_caster
from trajplan.bone._distance import (
    SurfaceDistance,
    nearer_than,
    nearest_point,
    point_distance,
    segment_distance,
)
from trajplan.bone._enclosed import Gap, gaps, walled_in
from trajplan.bone._groups import group_surface, surface_around
from trajplan.bone._lapping import running_end
from trajplan.bone._libigl import WindingTree, element_distance
from trajplan.bone._missing import Missing, missing_of
from trajplan.bone._open_canal import canal_at
from trajplan.bone._orient import oriented
from trajplan.bone._read import as_surface, check_limb, check_size, read_surface
from trajplan.bone._repair import REPAIRS, repair
from trajplan.bone._self_crossing import SelfCrossings, self_crossings
from trajplan.bone._shaft import ShaftAxis, shaft_axis
from trajplan.bone._shells import find_shells
from trajplan.bone._span_tools import (
    containing,
    covered,
    covered_unknown,
    first_after,
    overlapping,
)
from trajplan.bone._spans import line_spans, outer_spans
from trajplan.bone._split import Rough, Split, split_bone
from trajplan.bone._types import Audit, Crossings, LineSpans, Shells, Spans, Surface
from trajplan.bone._volume import Volume

__all__ = [
    "NO_CANAL",
    "REPAIRS",
    "Audit",
    "Body",
    "Bone",
    "Caster",
    "Crossings",
    "Engine",
    "Gap",
    "LineSpans",
    "Missing",
    "Rough",
    "SelfCrossings",
    "ShaftAxis",
    "Shells",
    "Spans",
    "Split",
    "Surface",
    "SurfaceDistance",
    "Volume",
    "WindingTree",
    "as_surface",
    "audit",
    "bone_sized",
    "canal_at",
    "check_limb",
    "check_size",
    "containing",
    "covered",
    "covered_unknown",
    "element_distance",
    "find_shells",
    "first_after",
    "gaps",
    "group_surface",
    "inner_shells",
    "join_surfaces",
    "keep_faces",
    "line_spans",
    "list_bodies",
    "make_bone",
    "make_caster",
    "missing_of",
    "nearer_than",
    "nearest_point",
    "oriented",
    "outer_spans",
    "overlapping",
    "point_distance",
    "read_surface",
    "repair",
    "running_end",
    "segment_distance",
    "self_crossings",
    "shaft_axis",
    "shell_at",
    "split_bone",
    "surface_around",
    "walled_in",
]
