"""CT volumes and label maps: reading, one frame, what each label holds, its mesh."""

from trajplan.volume._bodies import LabelBody, label_bodies
from trajplan.volume._grid import Grid, grid_of
from trajplan.volume._image import Ct, LabelMap, Source, as_labels
from trajplan.volume._mesh import LabelMesh, label_mesh
from trajplan.volume._read import is_volume, read_ct, read_labels, read_volume

__all__ = [
    "Ct",
    "Grid",
    "LabelBody",
    "LabelMap",
    "LabelMesh",
    "Source",
    "as_labels",
    "grid_of",
    "is_volume",
    "label_bodies",
    "label_mesh",
    "read_ct",
    "read_labels",
    "read_volume",
]
