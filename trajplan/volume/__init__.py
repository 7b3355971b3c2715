"""CT volumes and label maps: reading, one frame, meshes, density along a screw."""

from trajplan.volume._grid import Grid, grid_of
from trajplan.volume._image import Ct, LabelMap, Source
from trajplan.volume._read import is_volume, read_ct, read_labels

__all__ = ["Ct", "Grid", "LabelMap", "Source", "grid_of", "is_volume", "read_ct", "read_labels"]
