"""Commands that look at what is there: a mesh, a fracture, the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.cautions import CAUTION_TEXT
from trajplan.cli._output import add_force, add_json, bar, handing_over, path_name, print_json
from trajplan.errors import InputError, about
from trajplan.units import MM_PER_UNIT

if TYPE_CHECKING:
    import argparse
    from pathlib import Path

    from trajplan.cli._output import Command
    from trajplan.planner import Setup

__all__ = ["add_looking"]


def add_looking(command: Command) -> None:
    """Add `inspect`, `fracture` and `screws`."""
    inspect = command("inspect", _inspect, "audit a mesh, a CT or a label map")
    inspect.add_argument(
        "mesh",
        type=path_name,
        help="STL, OBJ or PLY file; or a CT or label map: a DICOM folder, .dcm, .nii, .nrrd, .mha",
    )
    inspect.add_argument("--unit", choices=list(MM_PER_UNIT), default="mm", help="of the file (mm)")
    fracture = command("fracture", _fracture, "fit the fracture plane of a case and report on it")
    fracture.add_argument("case", type=path_name, help="case file (TOML)")
    fracture.add_argument(
        "--split", action="store_true", help="cut the bone there and write its fragments as STL"
    )
    fracture.add_argument(
        "--rough", type=float, metavar="MM", help="roughness of the cut (0: smooth)"
    )
    fracture.add_argument("--seed", type=int, help="seed of the roughness (0)")
    fracture.add_argument("--out", type=path_name, metavar="DIR", help="folder for the fragments")
    screws = command("screws", _screws, "list the catalogue, or one row of it with its sources")
    screws.add_argument("kind", nargs="?", help="a screw or a plate, such as HA4.5")
    screws.add_argument(
        "--catalogue",
        type=path_name,
        action="append",
        default=[],
        help="a catalogue file of your own",
    )
    add_force(fracture)
    add_json(inspect, fracture, screws)


def _inspect(args: argparse.Namespace) -> int:
    from trajplan.bone import (
        check_limb,
        list_bodies,
        make_bone,
        read_surface,
        self_crossings,
    )
    from trajplan.show import audit_text, bodies_text, caution_text, plain
    from trajplan.volume import is_volume

    if is_volume(args.mesh):
        return _inspect_volume(args)
    surface = read_surface(args.mesh, args.unit)
    said = check_limb(surface, args.unit)
    bone = make_bone(surface)
    bodies, crossing = list_bodies(surface, bone.shells), self_crossings(bone)
    said += (crossing.words,) if crossing.words else ()
    if args.json:
        groups = {name: len(faces) for name, faces in surface.groups.items()}
        told = {"name": surface.name, "sha256": surface.sha256, "groups": groups}
        audit = plain(bone.audit)
        audit["cautions"] += said
        where = plain(crossing.points[:100])
        crossed = {"crossing_faces": len(crossing.faces), "crossings": where}
        print_json({**told, **audit, **crossed, "each_body": plain(bodies)})
    else:
        parts = audit_text(surface, bone.audit, said), bodies_text(bodies), caution_text()
        print(*parts, sep="\n\n")
    return 0


def _inspect_volume(args: argparse.Namespace) -> int:
    from trajplan.show import caution_text, volume_json, volume_text
    from trajplan.volume import read_volume

    if args.unit != "mm":
        raise InputError("--unit is for meshes: a volume states its own", remedy="leave it out")
    found = read_volume(args.mesh, bar("slices", " slices"))
    if args.json:
        print_json(volume_json(found))
    else:
        print(volume_text(found), caution_text(), sep="\n\n")
    return 0


def _fracture(args: argparse.Namespace) -> int:
    from trajplan.files import output_folder, read_case
    from trajplan.planner import fracture_record, set_up
    from trajplan.show import caution_text, fits_text, fracture_json, fracture_text

    if not args.split:
        _need_split(args)
    out = output_folder(args.out, f"{args.case.stem}-fragments") if args.split else None
    with handing_over(args):
        case = read_case(args.case)
        with about(args.case):
            setup = set_up(case)
        if out is not None:
            return _split(setup, out, args)
        record = fracture_record(setup)
        if args.json:
            print_json(fracture_json(setup.fracture, record))
        else:
            zones = fracture_text(setup.fracture, setup.fragment_names)
            parts = (zones, fits_text(record), caution_text())
            print(*(part for part in parts if part), sep="\n\n")
    return 0


def _need_split(args: argparse.Namespace) -> None:
    """Refuse what says how to cut where nothing is cut."""
    for name in ("rough", "seed", "out"):
        if getattr(args, name) is not None:
            raise InputError(f"--{name} does nothing without --split", remedy="add --split")


def _split(setup: Setup, out: Path, args: argparse.Namespace) -> int:
    """Cut the bone of a case at its fracture and write the fragments, in mm."""
    from trajplan.files import make_folder, write_stl
    from trajplan.planner import split_case

    with about(args.case):
        split = split_case(setup, rough=args.rough or 0.0, seed=args.seed or 0)
    make_folder(out)
    files = [out / f"fragment{i}.stl" for i in range(1, len(split.pieces) + 1)]
    for file, piece in zip(files, split.pieces, strict=True):
        write_stl(file, piece.triangles())
    names = [str(file) for file in files]
    if args.json:
        print_json({"fragments": names, "unit": "mm", "cautions": list(split.cautions)})
    else:
        print("Written, in mm: " + ", ".join(names), *split.cautions, CAUTION_TEXT, sep="\n")
    return 0


def _screws(args: argparse.Namespace) -> int:
    from trajplan.implants import find_implant, load_catalogue
    from trajplan.show import catalogue_text, caution_text, implant_sources_text, plain

    catalogue = load_catalogue(*args.catalogue)
    if args.kind is None:
        text = catalogue_text(catalogue)
        data = {
            "screws": [plain(screw) for screw in catalogue.screws.values()],
            "washers": [plain(washer) for washer in catalogue.washers.values()],
            "wires": [plain(wire) for wire in catalogue.wires.values()],
            "plates": [plain(plate) for plate in catalogue.plates.values()],
        }
    else:
        implant = find_implant(catalogue, args.kind)
        text, data = implant_sources_text(implant), plain(implant)
    if args.json:
        print_json(data)
    else:
        print(text, caution_text(), sep="\n\n")
    return 0
