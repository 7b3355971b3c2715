"""Write the demonstration CT: an invented shaft in muscle, fat and air, and its label map.

    python scripts/make_ct.py [FOLDER]

The shaft is broken obliquely into two pieces; its wall is 2.7 mm thick on one side and 4.3 mm on
the other, with marrow in its lower half and soft bone in its upper. ``trajplan model`` makes its
meshes, and ``ct_shaft.toml`` plans them with the bone of the CT. Written the same way each time; no
patient stands behind it.
"""

from __future__ import annotations

import gzip
import struct
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))  # also where the tests import this file

from ct_phantom import Broken, Shaft, ct_of, labels_of

__all__ = ["EDGE", "MATRIX", "SHAFT", "SIZE", "files", "main"]

SHAFT = Shaft(
    axis=(0.06, 0.03, 1.0),
    outer=12.0,
    wall=3.5,
    thinner=0.8,
    half=44.0,
    inside=-50.0,
    inside_up=170.0,
    muscle=19.5,
    fat=23.0,
    broken=Broken((0.0, 0.0, 0.0), (0.80, 0.15, 0.58), 0.9),
)
SIZE, EDGE = (84, 82, 158), 0.6
MATRIX = np.eye(4)
MATRIX[:3, :3] *= EDGE
MATRIX[:3, 3] = [-25.0, -24.4, -47.0]


def files() -> dict[str, bytes]:
    """Every file by name."""
    ct = ct_of(SHAFT, MATRIX, SIZE, fwhm=0.7, noise=22.0)
    return {
        "ct_shaft.nii.gz": _nifti(np.round(ct / 2.0).astype(np.int16) * 2),
        "ct_shaft_labels.nii.gz": _nifti(labels_of(SHAFT, MATRIX, SIZE)),
    }


def _nifti(values: np.ndarray) -> bytes:
    """A NIfTI-1 file: x and y of its frame point to the patient's right and front."""
    head = bytearray(352)
    code, bits = {"int16": (4, 16), "uint8": (2, 8)}[str(values.dtype)]
    rows = np.diag([-1.0, -1.0, 1.0, 1.0]) @ MATRIX
    parts = (
        (0, "i", 348),
        (40, "8h", 3, *values.shape[::-1], 1, 1, 1, 1),
        (70, "hh", code, bits),
        (76, "8f", 1.0, EDGE, EDGE, EDGE, 0.0, 0.0, 0.0, 0.0),
        (108, "fff", 352.0, 1.0, 0.0),
        (123, "B", 2),  # mm
        (254, "h", 1),  # the rows below place it
        (280, "12f", *rows[:3].ravel()),
        (344, "4s", b"n+1\0"),
    )
    for at, layout, *content in parts:
        struct.pack_into("<" + layout, head, at, *content)
    return gzip.compress(bytes(head) + np.ascontiguousarray(values).tobytes(), 9, mtime=0)


def main(folder: Path) -> None:
    """Write every file into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files().items():
        (folder / name).write_bytes(content)
        print(f"{folder / name}: {len(content):,} bytes")


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "meshes"))
