"""Measure one step of a drag in the viewer on a large bone, without and with drawing.

Run with the ``dev`` extra installed. The bone is the femur of the package myo-sim
(Apache-2.0), subdivided by Loop's scheme to 232,000 faces. Drawing is off screen, by whatever
renders here: without a graphics processor nearly all of it is rendering in software.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from statistics import median

import numpy as np
from bench import femur

from trajplan.files import AxesTable, read_case, write_stl
from trajplan.planner import judge_axes, plan_record, set_up
from trajplan.show import Session
from trajplan.show._window.window import Window

STEPS = 40
RING = 2.0  # mm, half the height of the slice of the shaft whose middle the fracture runs through
CASE = """\
unit = "mm"
[bone]
mesh = "femur.stl"
cortex = 6.0
[fracture]
plane = { point = %s, normal = [0.0, 0.5, 0.8660254037844386] }
[screws]
kinds = ["HA4.5"]
"""


def main() -> None:
    """Print milliseconds a step."""
    with tempfile.TemporaryDirectory() as folder:
        session = opened(Path(folder))
    faces = len(session.setup.bone.surface.faces)
    print(f"{faces:,} faces, two screws; milliseconds a step, median and largest of {STEPS}")
    print("cast, length, findings, forces:  {:.1f}  {:.1f}".format(*timed(session, None)))
    window = Window(session, lambda _: Path(), off_screen=True)
    window.plotter.show(auto_close=False)
    print("the same, and drawn:             {:.1f}  {:.1f}".format(*timed(session, window)))
    window.plotter.close()


def opened(folder: Path) -> Session:
    """Open two parallel screws across an oblique fracture of the femur's shaft."""
    vertices, faces = femur(4)
    along = vertices[:, 1]  # the femur's shaft runs along y
    ring = vertices[np.abs(along - (along.min() + along.max()) / 2.0) < RING]
    middle = ring.mean(axis=0)
    write_stl(folder / "femur.stl", vertices[faces])
    case_file = folder / "case.toml"
    case_file.write_text(CASE % middle.tolist(), encoding="utf-8")
    setup = set_up(read_case(case_file))
    zone = setup.fracture.zones[0]
    points = zone.plane.point + np.outer([-6.0, 6.0], np.cross(zone.plane.normal, [1.0, 0.0, 0.0]))
    reach = 40.0 * zone.plane.normal
    table = AxesTable(
        ("screw 1", "screw 2"), ("HA4.5",) * 2, ("lag",) * 2, points - reach, points + reach, (2, 3)
    )
    record = plan_record(judge_axes(setup, table))
    assert all(screw.length for screw in record.screws)  # both are there to be drawn
    return Session(setup, record)


def timed(session: Session, window: Window | None) -> tuple[float, float]:
    """Drag the target of the first screw in small steps, then undo it."""
    taken = []
    session.grab()
    for step in range(STEPS):
        start = time.perf_counter()
        session.drag(np.array([0.05 * step, 0.0, 0.0]))
        if window is not None:
            window.refresh(moving=True)
        taken.append(1e3 * (time.perf_counter() - start))
    session.release()
    session.undo()
    return median(taken), max(taken)


if __name__ == "__main__":
    main()
