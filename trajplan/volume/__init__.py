"""CT volumes and label maps: reading, one frame, what each label holds, its mesh."""

from trajplan.volume._bodies import LabelBody, label_bodies
from trajplan.volume._fits import check_surface, on_the_grid, share_on_bone
from trajplan.volume._grid import Grid, grid_of
from trajplan.volume._image import Ct, LabelMap, Source, as_labels
from trajplan.volume._mesh import MESHING, LabelMesh, label_mesh
from trajplan.volume._peaks import Peaks, find_peaks, scale_doubt
from trajplan.volume._pieces import Crumbs, Pieces, apart_pieces, touching
from trajplan.volume._read import is_volume, read_ct, read_labels, read_volume
from trajplan.volume._sample import LEAST_HU, Region, crop

__all__ = [
    "LEAST_HU",
    "MESHING",
    "Crumbs",
    "Ct",
    "Grid",
    "LabelBody",
    "LabelMap",
    "LabelMesh",
    "Peaks",
    "Pieces",
    "Region",
    "Source",
    "apart_pieces",
    "as_labels",
    "check_surface",
    "crop",
    "find_peaks",
    "grid_of",
    "is_volume",
    "label_bodies",
    "label_mesh",
    "on_the_grid",
    "read_ct",
    "read_labels",
    "read_volume",
    "scale_doubt",
    "share_on_bone",
    "touching",
]
