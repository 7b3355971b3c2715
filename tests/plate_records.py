"""Records of an invented plate along z on the side of a tube, bent as asked for."""

from __future__ import annotations

import numpy as np

from trajplan.files import PlateRecord
from trajplan.plate import bent, make_strip

#: What its screws are beside their name and place.
SCREW = {
    "kind": "HA3.5", "technique": "position", "gliding_hole": None, "seat": -0.5, "length": 30.0,
    "gauge": 27.0, "tilt": None, "hold": "bicortical", "thread": {"from": 0.0, "to": 28.3},
    "thread_hole": {"diameter": 2.5, "from": 0.0, "to": 26.4},
    "tap": {"diameter": 3.5, "from": 0.0, "to": 26.4},
}  # fmt: skip
USES = ("neutral", "neutral", "neutral", "eccentric", "neutral", "neutral")
STEPS = (
    ("Fix the plate to lower by a neutral screw in hole 3.", (3,)),
    ("Hold the reduction with a clamp on upper.", ()),
    ("Drill hole 4 eccentrically, at its end away from the fracture.", (4,)),
    ("Hole 2: neutral screw, in the middle of the hole.", (2,)),
    ("Hole 5: neutral screw, in the middle of the hole.", (5,)),
)


def plate_record(plate, screw, x, bends=None, twists=None, *, middle=0.0, **changes):
    """A plate of six holes that compresses, its middle at (x, 0, middle), x below 0.

    `screw` makes the record of a screw from the number of its hole and its place along z.
    """
    flat, turn = (np.zeros(5) if a is None else np.asarray(a, float) for a in (bends, twists))
    strip = make_strip(plate, 6, 3.0, 5)
    frame = np.array([[[0, 0, 1.0], [0, 1.0, 0], [-1.0, 0, 0]]])
    start = np.array([[x, 0.0, middle]])
    shape = bent(strip, start, frame, np.radians(flat)[None], np.radians(turn)[None])
    points, frames = shape.points[0], shape.frames[0]
    along = middle - points[strip.hole, 2]
    holes = [
        {
            "number": i + 1, "centre": points[at], "axis": -frames[at, 2], "use": USES[i],
            "screw": f"plate 1 hole {i + 1}",
            "fragment": "lower" if along[i] > 0 else "upper", "gap": 0.1,
            "along": along[i], "offset": 1.0 if USES[i] == "eccentric" else 0.1,
        }
        for i, at in enumerate(strip.hole)
    ]  # fmt: skip
    fields = {
        "id": "plate 1", "kind": plate.kind, "holes": 6, "work": "compress", "proposed": False,
        "why": "Trial.", "line": points.tolist(), "across": frames[:, 1].tolist(),
        "out": frames[:, 2].tolist(), "hole": holes,
        "size": {
            "length": plate.length(6), "width": plate.width, "thickness": plate.thickness,
            "back": plate.back, "form": plate.hole.form, "hole": plate.hole.thread[-1],
            "seat": plate.hole.seat,
        },
        "bends": [
            {"after": i + 1, "length": strip.bridge[i], "flatwise": flat[i], "twist": turn[i],
             "strain": 0.0}
            for i in range(5)
        ],
        "fit": {"mean": 0.1, "largest": 0.4, "edge_largest": 1.6, "share_1": 0.8, "share_2": 1.0,
                "beside": 0.0, "depth": 0.0},
        "screws": tuple(screw(i + 1, float(points[at, 2])) for i, at in enumerate(strip.hole)),
        "first_fragment": "lower", "first_why": "Because.",
        "order": [
            {"says": says, "holes": at, "screws": tuple(f"plate 1 hole {n}" for n in at)}
            for says, at in STEPS
        ],
        "overbend": {"low": 0.9, "estimate": 1.3, "high": 1.7},
        "density": 1.0, "screws_each_side": (3, 3),
    }  # fmt: skip
    return PlateRecord.model_validate(fields | changes)
