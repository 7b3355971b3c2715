"""The command that makes meshes of labels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trajplan.cli._output import add_force, add_json, handing_over, path_name, stages
from trajplan.errors import InputError

if TYPE_CHECKING:
    import argparse

    from trajplan.cli._output import Command

__all__ = ["add_modelling"]

#: Name of the picture beside a model, and of the case.
PICTURE, CASE = "model.png", "case.toml"


def add_modelling(command: Command) -> None:
    """Add `model`."""
    model = command("model", _model, "make a closed mesh of each label of a segmented CT")
    model.add_argument("labels", type=path_name, help="label map: .dcm, .nii, .nrrd, .mha")
    model.add_argument("--ct", type=path_name, help="the CT that was segmented")
    model.add_argument(
        "--label",
        action="append",
        default=[],
        metavar="N[=NAME]",
        help="a label to mesh, and a name for it; as often as there are fragments (all labels)",
    )
    model.add_argument(
        "--split", action="store_true", help="make each piece of a label a mesh of its own"
    )
    model.add_argument("--out", type=path_name, metavar="DIR", help="output folder (LABELS-model)")
    model.add_argument("--no-picture", action="store_true", help="do not draw the picture")
    add_force(model)
    add_json(model)


def _model(args: argparse.Namespace) -> int:
    from trajplan.files import (
        claim,
        make_folder,
        model_json,
        output_folder,
        write_bytes_atomic,
        write_text_atomic,
    )
    from trajplan.planner import MODEL_FILE, make_model, model_case, model_files, model_record
    from trajplan.show import model_text, save_model_shot

    out = output_folder(args.out, f"{args.labels.name.partition('.')[0]}-model")
    picture = () if args.no_picture else (PICTURE,)
    claim([out / name for name in (MODEL_FILE, CASE, *picture)], force=args.force)
    wanted = _wanted(args.label)
    with handing_over(args):
        model = make_model(args.labels, args.ct, wanted, split=args.split, progress=stages())
        meshes = model_files(model)
        record = model_record(model, meshes)
        make_folder(out)
        for name, content in meshes.items():
            write_bytes_atomic(out / name, content)
        write_text_atomic(out / MODEL_FILE, model_json(record))
        write_text_atomic(out / CASE, model_case(model, list(meshes), out, args.ct))
        for name in picture:
            save_model_shot(model, record, out / name)
        if args.json:
            print(model_json(record), end="")
        else:
            print(model_text(record), end="\n\n")
            names = (*meshes, MODEL_FILE, CASE, *picture)
            print("Written: " + ", ".join(str(out / name) for name in names))
    return 0


def _wanted(said: list[str]) -> dict[int, str]:
    """Labels and names out of the words of a call."""
    found: dict[int, str] = {}
    for word in said:
        number, _, name = word.partition("=")
        if not number.isdecimal() or int(number) < 1:
            raise InputError(
                f'--label "{word}" names no label', remedy="give its number, such as 3 or 3=upper"
            )
        if int(number) in found:
            raise InputError(f"--label names {number} twice", remedy="name each label once")
        found[int(number)] = name.strip()
    return found
