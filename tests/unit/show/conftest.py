"""Trial records, invented, and an off-screen pyvista."""

from types import MappingProxyType

import numpy as np
import plate_records
import pytest

from trajplan.bone import Surface
from trajplan.files import (
    CaseRecord,
    FractureRecord,
    PlanFile,
    ProgramRecord,
    ScrewRecord,
)
from trajplan.implants import load_catalogue


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

    def build(name="screw 1", y=0.0, z=0.0, **changes):
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
            screws=screws or (record(), record("screw 2", z=16.0)),
            plates=plates,
            findings=findings,
            verdict=verdict,
        )

    return build


@pytest.fixture
def plate_record(record, catalogue):
    """Build a plate along z on the tube of `bone`, at x = -13, bent as asked for."""

    def screw(number, z):
        return record(f"plate 1 hole {number}", z=z, **plate_records.SCREW)

    def build(bends=None, twists=None, kind="Straight3.5", **changes):
        plate = catalogue.plates[kind]
        return plate_records.plate_record(plate, screw, -13.0, bends, twists, **changes)

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
