"""Trial records, invented, and an off-screen pyvista."""

from types import MappingProxyType

import numpy as np
import pytest

from trajplan.bone import Surface
from trajplan.files import (
    CaseRecord,
    FractureRecord,
    PlanFile,
    PlateRecord,
    ProgramRecord,
    ScrewRecord,
)
from trajplan.implants import load_catalogue
from trajplan.plate import bent, make_strip


@pytest.fixture(scope="session")
def catalogue():
    return load_catalogue()


@pytest.fixture
def off_screen(monkeypatch):
    import pyvista as pv

    monkeypatch.setattr(pv, "OFF_SCREEN", True)
    return pv


@pytest.fixture
def record():
    """Build a screw along +x through a tube of radius 13, entry at x = -13."""

    def build(name="S1", y=0.0, z=0.0, **changes):
        fields = {
            "id": name,
            "kind": "HA4.5",
            "technique": "lag",
            "entry": (-13.0, y, z),
            "exit": (13.0, y, z),
            "direction": (1.0, 0.0, 0.0),
            "intervals": ((0.0, 6.0), (20.0, 26.0)),
            "seat": 0.5,
            "gauge": 25.5,
            "length": 28.0,
            "tilt": 1.2,
            "gliding_hole": {"diameter": 4.5, "from": 0.0, "to": 14.0},
            "thread": {"from": 3.0, "to": 27.0},
        }
        return ScrewRecord.model_validate(fields | changes)

    return build


@pytest.fixture
def plan(record):
    def build(*screws, findings=(), verdict="pass", plates=()):
        return PlanFile(
            created="2026-01-01T00:00:00Z",
            program=ProgramRecord(name="trajplan", version="0"),
            title="Trial",
            frame="LPS",
            cautions=(),
            case=CaseRecord(name="trial.toml", sha256=""),
            meshes=(),
            fracture=FractureRecord(zones=()),
            limits=(),
            screws=screws or (record(), record("S2", z=16.0)),
            plates=plates,
            findings=findings,
            verdict=verdict,
        )

    return build


@pytest.fixture
def plate_record(record, catalogue):
    """Build a plate along z on the tube of `bone`, at x = -13, bent as asked for."""

    def build(bends=None, twists=None, kind="Straight3.5", **changes):
        plate, holes = catalogue.plates[kind], 6
        flat, turn = (np.zeros(5) if a is None else np.asarray(a, float) for a in (bends, twists))
        strip = make_strip(plate, holes, 3.0, 5)
        frame = np.array([[[0, 0, 1.0], [0, 1.0, 0], [-1.0, 0, 0]]])
        shape = bent(
            strip, np.array([[-13.0, 0, 0]]), frame, np.radians(flat)[None], np.radians(turn)[None]
        )
        points, frames = shape.points[0], shape.frames[0]
        along = -points[strip.hole, 2]
        uses = ["neutral", "neutral", "neutral", "eccentric", "neutral", "neutral"]
        screws = tuple(
            record(
                f"P1.{number}", z=z, kind="HA3.5", technique="position", gliding_hole=None,
                seat=-0.5, length=30.0, gauge=27.0, tilt=None, hold="bicortical",
                thread_hole={"diameter": 2.5, "from": 0.0, "to": 26.4},
                tap={"diameter": 3.5, "from": 0.0, "to": 26.4},
                thread={"from": 0.0, "to": 28.3},
            )
            for number, z in enumerate(points[strip.hole, 2], start=1)
        )  # fmt: skip
        size = {
            "length": plate.length(holes), "width": plate.width, "thickness": plate.thickness,
            "back": plate.back, "form": plate.hole.form, "hole": plate.hole.thread[-1],
            "seat": plate.hole.seat,
        }  # fmt: skip
        holes_of = [
            {
                "number": i + 1, "centre": points[at], "axis": -frames[at, 2], "use": uses[i],
                "screw": f"P1.{i + 1}", "fragment": "lower" if along[i] > 0 else "upper",
                "gap": 0.1, "along": along[i], "offset": 1.0 if uses[i] == "eccentric" else 0.1,
            }
            for i, at in enumerate(strip.hole)
        ]  # fmt: skip
        steps = [
            ("Fix the plate to lower by a neutral screw in hole 3.", (3,)),
            ("Hold the reduction with a clamp on upper.", ()),
            ("Drill hole 4 eccentrically, at its end away from the fracture.", (4,)),
            ("Hole 2: neutral screw, in the middle of the hole.", (2,)),
            ("Hole 5: neutral screw, in the middle of the hole.", (5,)),
        ]
        fields = {
            "id": "P1", "kind": kind, "holes": holes, "work": "compress", "proposed": False,
            "why": "Trial.", "size": size, "line": points.tolist(),
            "across": frames[:, 1].tolist(), "out": frames[:, 2].tolist(),
            "bends": [
                {"after": i + 1, "length": strip.bridge[i], "flatwise": flat[i],
                 "twist": turn[i], "strain": 0.0}
                for i in range(5)
            ],
            "fit": {"mean": 0.1, "largest": 0.4, "edge_largest": 1.6, "share_1": 0.8,
                    "share_2": 1.0, "beside": 0.0, "depth": 0.0},
            "hole": holes_of, "screws": screws, "first_fragment": "lower", "first_why": "Because.",
            "order": [
                {"says": says, "holes": at, "screws": tuple(f"P1.{n}" for n in at)}
                for says, at in steps
            ],
            "overbend": {"low": 0.9, "estimate": 1.3, "high": 1.7},
            "density": 1.0, "screws_each_side": (3, 3),
        }  # fmt: skip
        return PlateRecord.model_validate(fields | changes)

    return build


def tube(radius, low, high, count=48):
    """Closed prism along z."""
    angle = 2 * np.pi * np.arange(count) / count
    ring = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    bottom = np.column_stack([ring, np.full(count, low)])
    top = np.column_stack([ring, np.full(count, high)])
    vertices = np.vstack([bottom, top, [[0, 0, low], [0, 0, high]]])
    a, b = np.arange(count), np.roll(np.arange(count), -1)
    faces = np.vstack(
        [
            np.stack([a, b, b + count], axis=1),
            np.stack([a, b + count, a + count], axis=1),
            np.stack([b, a, np.full(count, 2 * count)], axis=1),
            np.stack([a + count, b + count, np.full(count, 2 * count + 1)], axis=1),
        ]
    )
    return vertices, faces


@pytest.fixture
def bone():
    outer, inner = tube(13.0, -60.0, 70.0), tube(6.0, -50.0, 60.0)
    return Surface(
        vertices=np.vstack([outer[0], inner[0]]),
        faces=np.vstack([outer[1], inner[1][:, ::-1] + len(outer[0])]),
        groups=MappingProxyType({}),
        name="tube.stl",
        sha256="",
        merged=0,
    )
