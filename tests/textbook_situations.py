"""Fractures whose answer a teacher knows: bone, case, teaching, and where the teaching stands.

Each situation is a case as a user writes it, with the meshes that it names. Sources were
read as pages or abstracts; *common practice* is what the whole trade does and no one owns.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np
import textbook_bones as bones
from mesh_files import stl_bytes, write

import trajplan

if TYPE_CHECKING:
    from collections.abc import Callable

_AO = "AO Foundation, online surgery reference"
_WHEELESS = "Wheeless' Textbook of Orthopaedics"

#: Tries of the hand for each screw where a chance is not the subject.
DRAWS = 60


@dataclass(frozen=True)
class Situation:
    """A fracture, and what is taught of it."""

    name: str
    teaching: str
    source: str
    case: str  # TOML, without unit and placement
    meshes: Callable[[], dict]  # by file name without ending; "bone" is the first that it names
    draws: int = DRAWS
    asks: str = ""  # rules that may not pass, with a space between
    because: str = ""  # why a teacher asks for those decisions too, and where that stands

    def write(self, folder: Path) -> Path:
        """Write the meshes and the case into a folder; the path of the case."""
        for name, mesh in self.meshes().items():
            write(folder / f"{name}.stl", stl_bytes(mesh))
        head = f'title = "{self.name}"\nunit = "mm"\n'
        tail = f"[placement]\ndraws = {self.draws}\n"
        return write(folder / "case.toml", head + self.case + tail)


@cache
def planned(name):
    """The plan of a situation; each is planned once."""
    with TemporaryDirectory() as folder:
        return trajplan.plan_case(trajplan.read_case(SITUATIONS[name].write(Path(folder))))


@cache
def record(name):
    """What its plan.json holds."""
    return trajplan.plan_record(planned(name))


def spoken(name):
    """What a reader is told that is no pass, as (rule, verdict, sentence)."""
    told = [*record(name).findings, *(f for s in record(name).screws for f in s.findings)]
    return [(f.rule, f.verdict, f.why) for f in told if f.verdict != "pass"]


def said(name, rule):
    """The verdicts and sentences of one rule."""
    return [(verdict, why) for spoken_by, verdict, why in spoken(name) if spoken_by == rule]


def decisions(name):
    """Rules that ask for a decision, fail, or cannot be told: what keeps a plan from passing."""
    return {rule for rule, verdict, _ in spoken(name) if verdict in ("caution", "fail", "unknown")}


def asked(name):
    """The decisions that are right for a teacher too."""
    return set(SITUATIONS[name].asks.split())


def lengths(name):
    """Stocked lengths, shortest first."""
    return sorted(screw.length for screw in record(name).screws)


def _one(make, *args):
    return lambda: {"bone": make(*args)}


def _plane(point, normal):
    point, normal = [float(x) for x in point], [float(x) for x in normal]
    return f"[fracture]\nplane = {{ point = {point}, normal = {normal} }}\n"


def _joint(name, points, radius, clearance=5.0):
    points = [[float(x) for x in point] for point in np.atleast_2d(points)]
    spot = f"points = {points}\nradius = {radius}\nclearance = {clearance}\n"
    return f'[[joint]]\nname = "{name}"\n{spot}'


def _screws(count, kinds, direction, cone=60, more=""):
    direction = [float(x) for x in direction]
    return (
        f'[screws]\ncount = {count}\nkinds = ["{kinds}"]\n'
        f"approach = {{ direction = {direction}, cone = {cone} }}\n{more}"
    )


def _oblique(ratio):
    """Normal of a fracture of a shaft along z that is ``ratio`` diameters long."""
    angle = np.arctan(ratio)
    return (np.sin(angle), 0.0, np.cos(angle))


LONG = _oblique(2.3)
SHORT = _oblique(1.0)
TOP_OF_TIBIA = _joint("knee", (0, 0, 240), 14.0)
MIDDLE = (0, 0, 120)
SHAFT = '[bone]\nmesh = "bone.stl"\nplace = "shaft"\n'


def _bone(place, cortex):
    """A bone without a canal, its wall assumed."""
    return f'[bone]\nmesh = "bone.stl"\nplace = "{place}"\ncortex = {cortex}\n'


_KNEECAP = (
    _bone("end", 1.5)
    + _plane((0, 0, 0), (0, 0, 1))
    + "pulled_apart = true\n"
    + _joint("back", (0, -11, 3), 14.0, 3.0)
)
_TIBIA_LONG = SHAFT + _plane(MIDDLE, LONG) + TOP_OF_TIBIA

_WEDGE = (
    '[bone]\nfragments = ["lower.stl", "upper.stl", "wedge.stl"]\nplace = "shaft"\n'
    "[fracture]\nbetween = true\n" + TOP_OF_TIBIA + _screws(3, "HA3.5", (1, 0, 0), 75)
)


def _wedge_parts():
    return dict(zip(("lower", "upper", "wedge"), bones.wedge_shaft(), strict=True))


INVENTED = [
    Situation(
        "long oblique shaft, two screws",
        "Two 4.5 mm lag screws square to it, tips 1 to 3 mm out; ordinary work by hand. In a "
        "long bone a plate must protect them.",
        f"{_AO}, tibial shaft, simple oblique, lag screws outside protection plate; {_WHEELESS}, "
        "lag screw theory",
        _TIBIA_LONG + _screws(2, "HA4.5", (1, 0, 0.2)),
        _one(bones.tibia),
        draws=500,
        asks="screws_alone",
        because="the plate is the decision (Wheeless' Textbook, lag screw theory: screws alone "
        "have failed)",
    ),
    Situation(
        "long oblique shaft, plated",
        "The same two screws under a plate: nothing is left to decide.",
        f"{_AO}, tibial shaft, simple oblique, lag screws outside protection plate",
        _TIBIA_LONG + _screws(2, "HA4.5", (1, 0, 0.2), more='protection = "plate"\n'),
        _one(bones.tibia),
    ),
    Situation(
        "long oblique shaft, one screw",
        "One screw stops no rotation: at least two, or one and a plate.",
        f"{_AO}, metacarpal shaft, oblique; {_WHEELESS}, oblique metacarpal shaft fractures",
        _TIBIA_LONG + _screws(1, "HA4.5", (1, 0, 0.2)),
        _one(bones.tibia),
        asks="holds_rotation screws_alone",
        because="another screw or a plate is the decision (AO Foundation, metacarpal shaft, "
        "oblique)",
    ),
    Situation(
        "short oblique forearm",
        "One 3.5 mm lag screw, protected by a plate.",
        f"{_AO}, forearm shaft, oblique radial fracture, lag screw and plate fixation",
        SHAFT
        + _plane((0, 0, 100), SHORT)
        + _joint("wrist", (0, 0, 0), 7.0)
        + _screws(1, "HA3.5", (1, 0, 0.6)),
        _one(bones.forearm),
        asks="head_pressure holds_rotation screws_alone",
        because="the plate is the decision; at 45 degrees the head rests on an edge, where heads "
        "began to sink at 1300 N (Claes and Hutzschenreuter 1977)",
    ),
    Situation(
        "spiral",
        "At least two lag screws, each square to the surface where it crosses it, so each in "
        "another direction; a plate protects them.",
        f"{_AO}, tibial shaft, simple spiral, lag screws outside protection plate; hand proximal "
        "phalanges, lag screw fixation",
        SHAFT
        + '[fracture]\nmesh = "fracture.stl"\n'
        + TOP_OF_TIBIA
        + _screws(3, "HA3.5", (0, -1, 0), 90, "candidates = 4000\n"),
        lambda: {"bone": bones.tibia(), "fracture": bones.spiral()},
        asks="screws_alone slip",
        because="the plate is the decision; a spiral locks by its bends, so forceps stay on until"
        " the screws are tight (common practice)",
    ),
    Situation(
        "wedge",
        "The wedge is fixed to both main fragments by lag screws; a plate is always needed.",
        f"{_AO}, femoral shaft, intact wedge, lag screw with protection plate",
        _WEDGE,
        _wedge_parts,
        asks="fractures_closed holds_rotation screws_alone",
        because="the plate is the decision in all three: with it named, they pass (next row)",
    ),
    Situation(
        "wedge, plated",
        "The same screws under the plate: nothing is left to decide.",
        f"{_AO}, femoral shaft, intact wedge, lag screw with protection plate",
        _WEDGE + 'protection = "plate"\n',
        _wedge_parts,
    ),
    Situation(
        "transverse shaft",
        "No lag screw can press it: axial compression by a plate.",
        f"{_AO}, ulna, compression plate (transverse or very short oblique); basic technique, "
        "application of compression plate to transverse fractures",
        SHAFT + _plane(MIDDLE, (0, 0, 1)) + TOP_OF_TIBIA + _screws(2, "HA4.5", (1, 0, 0)),
        _one(bones.tibia),
        asks="count transverse",
        because="the teaching itself",
    ),
    Situation(
        "lengthwise split of a shaft",
        "Several lag screws square to the split, spread along it, through both walls; in a long "
        "bone a plate protects them.",
        f"common practice; {_AO}, tibial shaft, simple spiral (protection plate)",
        SHAFT
        + _plane((0, 0, 50), (1, 0, 0))
        + _joint("end", (0, 0, 100), 14.0)
        + _screws(3, "HA4.5", (1, 0, 0), 40),
        _one(bones.pipe),
        asks="screws_alone",
        because="the plate is the decision (Wheeless' Textbook, lag screw theory: screws alone "
        "have failed)",
    ),
    Situation(
        "poor shaft bone",
        "The thread holds badly: lag screws alone will not do, a plate with fixed angles is "
        "usual, and the screw is tightened with care.",
        "common practice; a review of the fixation of osteoporotic fractures, read as a page, its "
        "authors not: locked plating enhances stability in osteoporotic bone",
        _TIBIA_LONG + _screws(2, "HA4.5", (1, 0, 0.2)) + '[mechanics]\nbone = "poor"\n',
        _one(bones.tibia),
        asks="head_pressure screws_alone",
        because="plate and tightening are the decisions",
    ),
    Situation(
        "metacarpal, 2.0 mm",
        "Two 2.0 mm screws alone hold a fracture twice as long as the bone is thick.",
        f"{_AO}, metacarpal shaft, oblique; {_WHEELESS}, spiral metacarpal fractures",
        SHAFT
        + _plane((0, 0, 30), LONG)
        + _joint("head", (0, 0, 60), 4.0)
        + _screws(2, "HA2.0", (1, 0, 0.2)),
        _one(bones.metacarpal),
        draws=500,
    ),
    Situation(
        "ankle, inner malleolus",
        "Two 4.0 mm screws with partial thread, 30 to 50 mm long, the whole thread beyond the "
        "fracture, a washer on the thin wall.",
        f"{_AO}, malleoli, lag screw; Parker et al. 2013, Bone Joint J 95-B:1662, abstract (30 "
        "and 45 mm compared); BOFAS 2010 abstract 058 (40, 45 and 50 mm were used)",
        _bone("end", 1.5)
        + _plane((12.0, 0, 0), (-0.26, 0, 0.966))
        + _joint("plafond", (0, 0, 0), 9.0, 4.0)
        + _screws(2, "HB4.0", (0.26, 0, -0.966), 40, "washer = true\n"),
        _one(bones.ankle),
    ),
    Situation(
        "condyle split",
        "Two 6.5 mm screws with partial thread, side by side, square to the split and along the "
        "joint, with washers; enough in good bone.",
        "Moran et al. 2017, J Orthop Translat 11:30, abstract (two 6.5 mm lag screws, good bone); "
        f"{_AO}, distal femur, lateral condyle, sagittal",
        _bone("end", 1.5)
        + _plane((18.0, 0, 60), (1, 0, 0.1))
        + _joint("plateau", [(-18, 0, 80), (18, 0, 80)], 18.0)
        + _screws(2, "HB6.5", (1, 0, 0), 40, "washer = true\n"),
        _one(bones.condyles),
    ),
    Situation(
        "poor end bone",
        "The same split in poor bone: screws alone do not hold, a buttress plate is added.",
        f"{_AO}, distal femur, lateral condyle, sagittal (buttress, especially in osteoporotic "
        "bone); Orthopaedic Proceedings, abstract on tibial plateau splits, authors not read (two "
        "cancellous screws suit bone that is not osteoporotic)",
        _bone("end", 1.5)
        + _plane((18.0, 0, 60), (1, 0, 0.1))
        + _joint("plateau", [(-18, 0, 80), (18, 0, 80)], 18.0)
        + _screws(2, "HB6.5", (1, 0, 0), 40, "washer = true\n")
        + '[mechanics]\nbone = "poor"\n',
        _one(bones.condyles),
        asks="holding screws_alone",
        because="buttress, far cortex or longer thread are the decisions",
    ),
    Situation(
        "articular step",
        "A step of 3 mm in a joint is reduced first: nothing is drilled until it is.",
        "EFORT Open Rev 2017;2, doi 10.1302/2058-5241.2.160067, abstract (2 mm and more are "
        "reduced and fixed); common practice",
        '[bone]\nfragments = ["main.stl", "split.stl"]\ncortex = 1.5\nplace = "end"\n'
        "[fracture]\nbetween = true\n"
        + _joint("plateau", [(-18, 0, 80), (18, 0, 80)], 16.0)
        + _screws(2, "HB6.5", (1, 0, 0), 40, "washer = true\n"),
        lambda: dict(
            zip(
                ("main", "split"),
                bones.broken(bones.condyles(), (18, 0, 60), (1, 0, 0.1), (0.3, 0, -3.0)),
                strict=True,
            )
        ),
        asks="by_hand fragments_step",
        because="the teaching itself; what hands come to is moot until it is reduced",
    ),
    Situation(
        "femoral neck",
        "Three parallel screws with partial thread, the thread wholly in the head, tips 5 mm or "
        "more from the joint, 70 to 100 mm long.",
        f"{_AO}, femoral neck, subcapital, cancellous screws; {_WHEELESS}, hip fractures, screw "
        "length (5 to 12 mm from the joint, typically 95 mm)",
        _bone("end", 2.0)
        + _plane(40.0 * bones.NECK, bones.NECK)
        + _joint("hip", 86.0 * bones.NECK, 22.0)
        + _screws(3, "HB6.5", -bones.NECK, 25, "washer = true\n"),
        _one(bones.hip),
        asks="by_hand",
        because="free hand it goes astray: in patients 58 of 107 screws behind and above left the"
        " neck (Eur J Orthop Surg Traumatol 2020, doi 10.1007/s00590-020-02717-z, "
        "abstract), and each wire was set anew 2.4 times (PMC6595101, abstract): wires "
        "under an image are the decision",
    ),
    Situation(
        "kneecap, transverse",
        "It is pulled apart at the front: tension band, with or without the screws.",
        "BMC Musculoskelet Disord 2018, doi 10.1186/s12891-018-2092-9, abstract; BMC Musculoskelet "
        "Disord 2020;21:752, abstract (two parallel screws with an anterior wire)",
        _KNEECAP + _screws(2, "HB4.0", (0, 0, -1), 30),
        _one(bones.kneecap),
        asks="pulled_apart",
        because="the teaching itself",
    ),
    Situation(
        "kneecap, with tension band",
        "Two parallel screws and a wire before them: the usual answer.",
        "BMC Musculoskelet Disord 2020;21:752, abstract",
        _KNEECAP + _screws(2, "HB4.0", (0, 0, -1), 30, 'protection = "tension band"\n'),
        _one(bones.kneecap),
    ),
]

REAL = [
    Situation(
        "femoral neck, real femur",
        "As in the invented hip.",
        f"{_AO}, femoral neck, subcapital, cancellous screws",
        _bone("end", 2.0)
        + _plane((-2.5, -13.0, 16.0), (-0.12, -0.62, 0.77))
        + _joint("hip", (0.0, 14.0, -18.0), 20.0)
        + _screws(3, "HB6.5", (-0.12, -0.62, 0.77), 25, "washer = true\n"),
        _one(bones.real, "r_femur.stl"),
        asks="by_hand screw_spacing",
        because="as above; this neck is 24 to 32 mm thick, so that three screws two diameters "
        "apart leave 1 mm to its wall: two, or thinner ones, are the decision",
    ),
    Situation(
        "femur shaft, real, long oblique",
        "As in the invented tibia: 30 to 45 mm, less here, where the bone is only 23 mm thick.",
        f"{_AO}, tibial shaft, simple oblique",
        _bone("shaft", 7.0)
        + _plane((14.0, -187.0, 28.0), (0.0, 0.3, 0.954))
        + _joint("hip", (0.0, 14.0, -18.0), 20.0)
        + _screws(2, "HA4.5", (0, 0.3, 1)),
        _one(bones.real, "r_femur.stl"),
        asks="screws_alone",
        because="the plate is the decision (Wheeless' Textbook, lag screw theory: screws alone "
        "have failed)",
    ),
    Situation(
        "femoral condyle, real",
        "Two 6.5 mm screws with partial thread along the joint: enough in good bone.",
        "Moran et al. 2017, J Orthop Translat 11:30, abstract (two 6.5 mm lag screws, good bone)",
        _bone("end", 1.5)
        + _plane((10.0, -395.0, 11.4), (0.0, -0.3, 0.954))
        + _joint("knee", (10.0, -428.0, 0.0), 25.0)
        + _screws(2, "HB6.5", (0, 0, 1), 45, "washer = true\n"),
        _one(bones.real, "r_femur.stl"),
    ),
    Situation(
        "kneecap, real, transverse",
        "As in the invented kneecap.",
        "BMC Musculoskelet Disord 2020;21:752, abstract",
        _bone("end", 1.5)
        + _plane((2.5, 28.0, 1.0), (0, 1, 0))
        + "pulled_apart = true\n"
        + _joint("back", (-9.0, 28.0, 1.0), 14.0, 3.0)
        + _screws(2, "HB4.0", (0, 1, 0), 40),
        _one(bones.real, "r_patella.stl"),
        asks="pulled_apart",
        because="the teaching itself",
    ),
    Situation(
        "second metacarpal, real",
        "Two 2.0 mm screws of 8 to 14 mm.",
        f"{_AO}, metacarpal shaft, oblique; {_WHEELESS}, spiral metacarpal fractures",
        _bone("shaft", 2.0)
        + _plane((0.7, 1.0, 0.7), (0.64, 0.42, 0.64))
        + _joint("head", (-5.0, 27.0, -5.0), 6.0)
        + _screws(2, "HA2.0", (1, 0, 1)),
        _one(bones.real, "2mc.stl"),
    ),
    Situation(
        "ankle, real tibia",
        "As in the invented ankle: 30 to 50 mm, not the longest that fits.",
        f"{_AO}, malleoli, lag screw; Parker et al. 2013, Bone Joint J 95-B:1662, abstract",
        _bone("end", 1.5)
        + _plane((2.0, -380.0, -14.0), (0.0, 0.866, 0.5))
        + _joint("plafond", (-2.0, -376.0, 4.0), 9.0, 4.0)
        + _screws(2, "HB4.0", (0, -0.866, -0.5), 40, "washer = true\n"),
        _one(bones.real, "r_tibia.stl"),
        asks="by_hand surface_crossing",
        because="the mesh of the package crosses itself where the tips end: nothing is known "
        "there until it is mended, as the plan says",
    ),
    Situation(
        "radius shaft, real, short oblique",
        "One 3.5 mm lag screw of 14 to 22 mm, protected by a plate.",
        f"{_AO}, forearm shaft, oblique radial fracture, lag screw and plate fixation",
        _bone("shaft", 3.0)
        + _plane((19.6, -111.0, 16.8), (0.42, 0.8, 0.42))
        + _joint("wrist", (30.0, -238.0, 28.0), 12.0)
        + _screws(1, "HA3.5", (0.6, 0.3, 0.6)),
        _one(bones.real, "radius.stl"),
        asks="head_pressure holds_rotation screws_alone surface_crossing",
        because="as in the invented forearm; the mesh of the package crosses itself at the wrist,"
        " as the plan says",
    ),
]

SITUATIONS = {situation.name: situation for situation in (*INVENTED, *REAL)}
