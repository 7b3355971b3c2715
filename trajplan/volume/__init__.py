"""CT volumes and label maps: reading, one frame, what each label holds, its mesh."""

from trajplan.volume._bodies import LabelBody, label_bodies
from trajplan.volume._calibrate import Calibration, Density, calibrate
from trajplan.volume._field import BoneField, Walling, measure_bone
from trajplan.volume._fits import check_surface, on_the_grid, share_on_bone
from trajplan.volume._grid import Grid, grid_of
from trajplan.volume._image import Ct, LabelMap, Source, as_labels
from trajplan.volume._mesh import MESHING, LabelMesh, label_mesh
from trajplan.volume._peaks import Peaks, find_peaks, scale_doubt
from trajplan.volume._pieces import Crumbs, Pieces, apart_pieces, touching
from trajplan.volume._read import is_volume, read_ct, read_labels, read_volume
from trajplan.volume._sample import LEAST_HU, Region, crop
from trajplan.volume._wall_fit import Plateau, WallFit, find_plateau, fit_walls

__all__ = [
    "LEAST_HU",
    "MESHING",
    "BoneField",
    "Calibration",
    "Crumbs",
    "Ct",
    "Density",
    "Grid",
    "LabelBody",
    "LabelMap",
    "LabelMesh",
    "Peaks",
    "Pieces",
    "Plateau",
    "Region",
    "Source",
    "WallFit",
    "Walling",
    "apart_pieces",
    "as_labels",
    "calibrate",
    "check_surface",
    "crop",
    "find_peaks",
    "find_plateau",
    "fit_walls",
    "grid_of",
    "is_volume",
    "label_bodies",
    "label_mesh",
    "measure_bone",
    "on_the_grid",
    "read_ct",
    "read_labels",
    "read_volume",
    "scale_doubt",
    "share_on_bone",
    "touching",
]
