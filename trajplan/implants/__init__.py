"""Screws, washers and wires: dimensions, holes, stocked lengths, and their sources."""

from trajplan.implants._catalogue import find_screw, find_wire, load_catalogue
from trajplan.implants._names import kind_key, nearest, shown
from trajplan.implants._toml import parse_toml, read_bytes
from trajplan.implants._types import Catalogue, Provenance, Screw, Status, Washer, Wire

__all__ = [
    "Catalogue",
    "Provenance",
    "Screw",
    "Status",
    "Washer",
    "Wire",
    "find_screw",
    "find_wire",
    "kind_key",
    "load_catalogue",
    "nearest",
    "parse_toml",
    "read_bytes",
    "shown",
]
