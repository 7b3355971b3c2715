"""What a plan takes from the CT that a case names."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from trajplan.bone import oriented
from trajplan.checks import Finding, Verdict
from trajplan.errors import CaseError, VolumeError
from trajplan.files import (
    BoneProfileRecord,
    CalibrationRecord,
    CtRecord,
    RangeRecord,
    StretchRecord,
    TurnRecord,
)
from trajplan.mechanics import CORTEX_SPREAD
from trajplan.trajectory import Basis
from trajplan.volume import check_surface, measure_bone, read_ct

if TYPE_CHECKING:
    from trajplan.arrays import Bools, Ints, Vec3s
    from trajplan.bone import Bone
    from trajplan.files import Case
    from trajplan.fracture import Fracture
    from trajplan.mechanics import Range, Turns
    from trajplan.planner._setup import Setup
    from trajplan.trajectory import Settings, Trajectories
    from trajplan.volume import BoneField

__all__ = ["bone_field", "ct_findings", "ct_record", "profile_record", "with_ct"]

#: mm round the fracture within which walls are read: as far as the longest lag screws reach.
REACH = 70.0
#: mm between the places at which a wall is read.
EVERY = 1.5
#: Points spread over the surface for each of them: the nearest few cells then hold one each.
DENSE = 3.0
#: mm to another body within which a surface is taken for broken, not for a wall.
BROKEN = 3.0
#: mm that the wall of a modelled canal may differ from that of the CT: a threshold at 600 HU makes
#: walls 0.17 to 0.55 mm too thick (measured on blurred plates).
CANAL_OFF = 0.3
#: Turns in a row whose hold is compared.
RUN = 3


def bone_field(case: Case, bone: Bone, fracture: Fracture) -> BoneField | None:
    """Read the CT of a case, see that the bone lies in it, and measure it.

    Parameters
    ----------
    case : Case
        The case.
    bone : Bone
        The bone, mm.
    fracture : Fracture
        Its fracture.

    Returns
    -------
    BoneField or None
        None where the case names no CT.

    Raises
    ------
    InputError
        If the CT cannot be read, the bone does not lie in it, or no density can be taken.
    """
    if case.bone.ct is None:
        return None
    ct = read_ct(case.resolve(case.bone.ct))
    surface, shells = bone.surface, bone.shells
    faces = oriented(surface.faces)[(shells.nesting % 2 == 0)[shells.of_face]]
    body = shells.body[shells.of_face][(shells.nesting % 2 == 0)[shells.of_face]]
    middles, normals = _normals(surface.vertices, faces)
    said = check_surface(ct, "the bone", middles, normals)
    zones = np.array([zone.plane.point for zone in fracture.zones])
    places, row = _spread(surface.vertices, faces)
    kept = _walls_at(places, body[row], zones)
    calibration = case.bone.calibration
    try:
        field = measure_bone(
            ct,
            surface.vertices,
            places[kept],
            -_smooth(middles, normals, places[kept]),
            None if calibration is None else (calibration.slope, calibration.offset),
        )
    except VolumeError as error:
        raise CaseError(error.found, remedy=error.remedy, file=case.file, where="bone.ct") from None
    return replace(field, cautions=(*said, *field.cautions))


def with_ct(settings: Settings, field: BoneField | None) -> Settings:
    """Settings with the bone of a CT.

    Parameters
    ----------
    settings : Settings
        As without one.
    field : BoneField or None
        What the CT says.

    Returns
    -------
    Settings
        Where the CT shows walls, an assumed one is only held against them: else lines whose wall
        cannot be read would be preferred for a wall that nobody has seen.
    """
    shown = field is not None and field.walling is not None
    return replace(settings, field=field, cortex=None if shown else settings.cortex)


def _whole(vertices: Vec3s, faces: Ints) -> Bools:
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    whole: Bools = np.linalg.norm(normal, axis=1) > 0.0
    return whole


def _normals(vertices: Vec3s, faces: Ints) -> tuple[Vec3s, Vec3s]:
    """Middle and outward unit normal of each face that has an area; the larger side is out."""
    corners = vertices[faces[_whole(vertices, faces)]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    middle = vertices.mean(axis=0)
    content = np.einsum("ij,ij->", corners.mean(axis=1) - middle, normal)
    unit = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    return corners.mean(axis=1), unit * (1.0 if content > 0.0 else -1.0)


def _spread(vertices: Vec3s, faces: Ints) -> tuple[Vec3s, Ints]:
    """Points spread evenly over the faces, however large each is, and the face of each."""
    corners = vertices[faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    total = float(area.sum()) / 2.0
    count = max(int(DENSE * total / EVERY**2), 1)
    row = np.searchsorted(np.cumsum(area), (np.arange(count) + 0.5) / count * area.sum())
    row = np.minimum(row, len(faces) - 1)
    # steps of the golden ratio's kin fill a square evenly (Roberts 2018, from memory)
    first, second = np.modf(np.outer(np.arange(1, count + 1), [0.7548776662, 0.5698402910]))[0].T
    over = first + second > 1.0
    first, second = np.where(over, 1.0 - first, first), np.where(over, 1.0 - second, second)
    one, two, three = corners[row].transpose(1, 0, 2)
    points: Vec3s = one + first[:, None] * (two - one) + second[:, None] * (three - one)
    return points, row


def _walls_at(places: Vec3s, body: Ints, zones: Vec3s) -> Ints:
    """Places at which walls are read: near the fracture, spread evenly, not on broken surface."""
    near = np.flatnonzero(cKDTree(zones).query(places)[0] < REACH)
    _, first = np.unique(np.floor(places[near] / EVERY), axis=0, return_index=True)
    rows = near[np.sort(first)]
    broken = np.zeros(len(rows), dtype=np.bool_)
    for one in np.unique(body):
        others = places[body != one]
        own = np.flatnonzero(body[rows] == one)
        if len(others) and len(own):
            away, _ = cKDTree(others).query(places[rows[own]], distance_upper_bound=BROKEN)
            broken[own] = np.isfinite(away)
    kept: Ints = rows[~broken]
    return kept


def _smooth(middles: Vec3s, normals: Vec3s, at: Vec3s) -> Vec3s:
    """Normals averaged over the nearest faces: single ones of a mesh of voxels are rough."""
    _, row = cKDTree(middles).query(at, k=min(24, len(middles)))
    mean = normals[row.reshape(len(at), -1)].sum(axis=1)
    unit: Vec3s = mean / np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-9)
    return unit


def ct_findings(setup: Setup, screws: Trajectories) -> tuple[Finding, ...]:
    """Whether what the case or the mesh says of the walls agrees with the CT.

    Parameters
    ----------
    setup : Setup
        The case.
    screws : Trajectories
        Its screws.

    Returns
    -------
    tuple of Finding
        One; none where there is nothing to compare.
    """
    field, stated = setup.settings.field, setup.case.bone.cortex
    if field is None or field.walling is None or not screws.corridors.hit.any():
        return ()
    entry = np.where(screws.corridors.hit, 0.0, np.nan)
    seen, _ = field.wall(screws.corridors.axes.at(entry))
    modelled = (screws.walls.basis == Basis.MODELLED) & ~screws.walls.solid
    if modelled.any():
        cosine = np.cos(np.radians(screws.entry_angle))
        off = np.abs(screws.walls.near * cosine - seen)[modelled]
        words, most = "the canal of the mesh", CANAL_OFF
        own = (screws.walls.near * cosine)[modelled]
        seen = seen[modelled]
    elif stated is not None:
        off, own = np.abs(stated - seen), np.full(len(seen), stated)
        words, most = "bone.cortex", CORTEX_SPREAD * stated
    else:
        return ()
    if not np.isfinite(off).any():
        return ()
    worst = int(np.nanargmax(off))
    amiss = bool(off[worst] > most)
    told = f"{words} says {own[worst]:.1f} mm of wall where the CT shows {seen[worst]:.1f}"
    ask = "Decide which is right: name another cortex, or segment the bone again."
    return (
        Finding(
            rule="cortex_ct",
            subject="plan",
            verdict=Verdict.CAUTION if amiss else Verdict.PASS,
            measured=float(off[worst]),
            limit=most,
            unit="mm",
            why=f"Walls differ: {told}. {ask}" if amiss else f"Walls agree: {told}.",
            source="the CT",
        ),
    )


def ct_record(setup: Setup) -> CtRecord | None:
    """What a plan keeps of its CT.

    Parameters
    ----------
    setup : Setup
        The case.

    Returns
    -------
    CtRecord or None
    """
    field = setup.settings.field
    if field is None:
        return None
    line, walling, dense = field.calibration, field.walling, field.cortex()
    return CtRecord(
        name=field.source.name,
        sha256=field.source.sha256,
        form=field.source.form,
        spacing=field.spacing,
        kilovolts=field.source.kilovolts,
        calibration=CalibrationRecord(
            slope=line.slope,
            offset=line.offset,
            spread=line.spread,
            origin=line.origin,
            words=line.words,
        ),
        cortex_hu=None if walling is None else walling.plateau.hu,
        cortex=RangeRecord(
            low=float(dense.low), estimate=float(dense.estimate), high=float(dense.high)
        ),
        blur=None if walling is None else walling.plateau.fwhm,
        offset=None if walling is None else walling.offset,
        cautions=field.cautions,
    )


def profile_record(turns: Turns, i: int, median: float) -> BoneProfileRecord:
    """The thread of one screw, turn by turn.

    Parameters
    ----------
    turns : Turns
        Of all screws.
    i : int
        Row of the screw.
    median : float
        Hold over that of the middle candidate; NaN where there is none.

    Returns
    -------
    BoneProfileRecord
    """
    rows = np.flatnonzero(np.isfinite(turns.start[i]))
    records = tuple(
        TurnRecord(
            start=float(turns.start[i, row]),
            end=float(turns.end[i, row]),
            density=_range(turns.density, i, int(row)),
            holding=_range(turns.holding, i, int(row)),
        )
        for row in rows
    )
    held = turns.holding.estimate[i, rows]
    half, weakest = float("nan"), None
    if len(rows) and np.isfinite(held).all() and held.sum() > 0.0:
        at = int(np.argmax(np.cumsum(held) >= held.sum() / 2.0))
        half = float(turns.end[i, rows[at]])
        if len(rows) > RUN:
            run = int(np.argmin(np.convolve(held, np.ones(RUN), "valid")))
            weakest = StretchRecord(
                start=float(turns.start[i, rows[run]]), end=float(turns.end[i, rows[run + RUN - 1]])
            )
    return BoneProfileRecord(turns=records, half=half, weakest=weakest, median=median)


def _range(values: Range, i: int, row: int) -> RangeRecord:
    return RangeRecord(
        low=float(values.low[i, row]),
        estimate=float(values.estimate[i, row]),
        high=float(values.high[i, row]),
    )
