"""Screws, washers, wires and plates: dimensions, holes, stocked lengths, and their sources."""

from trajplan.implants._catalogue import (
    find_implant,
    find_plate,
    find_screw,
    find_wire,
    load_catalogue,
)
from trajplan.implants._names import kind_key, nearest, shown
from trajplan.implants._plate import HoleForm, Plate, PlateHole, PlateMaterial, ball_height
from trajplan.implants._toml import parse_toml, read_bytes
from trajplan.implants._types import Catalogue, Provenance, Screw, Status, Washer, Wire

__all__ = [
    "Catalogue",
    "HoleForm",
    "Plate",
    "PlateHole",
    "PlateMaterial",
    "Provenance",
    "Screw",
    "Status",
    "Washer",
    "Wire",
    "ball_height",
    "find_implant",
    "find_plate",
    "find_screw",
    "find_wire",
    "kind_key",
    "load_catalogue",
    "nearest",
    "parse_toml",
    "read_bytes",
    "shown",
]
