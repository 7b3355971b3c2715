"""CT volumes and label maps: reading, one frame, what each label holds."""

from trajplan.volume._bodies import LabelBody, label_bodies
from trajplan.volume._grid import Grid, grid_of
from trajplan.volume._image import Ct, LabelMap, Source
from trajplan.volume._read import is_volume, read_ct, read_labels, read_volume

__all__ = [
    "Ct",
    "Grid",
    "LabelBody",
    "LabelMap",
    "Source",
    "grid_of",
    "is_volume",
    "label_bodies",
    "read_ct",
    "read_labels",
    "read_volume",
]
