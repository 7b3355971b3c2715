"""`trajplan bend`, and the other commands on a plan with a plate."""

import math

import plate_records
import pypdf
import pytest
import trimesh

from trajplan.files import ScrewRecord, read_plan, write_plan
from trajplan.implants import load_catalogue


@pytest.fixture
def planned(case, run, folder):
    """A plan of the tube, without a plate."""
    assert run("plan", "case.toml", "--out", "out", "--no-picture").status == 0
    return folder / "out" / "plan.json"


@pytest.fixture
def plated(planned):
    """The same with an invented plate put into it."""

    def screw(number, z):
        fields = {"entry": (-14.0, 0.0, z), "exit": (14.0, 0.0, z), "direction": (1.0, 0.0, 0.0)}
        return ScrewRecord.model_validate(
            {"id": f"plate 1 hole {number}", **plate_records.SCREW, **fields}
        )

    plate = load_catalogue().plates["Straight3.5"]
    made = plate_records.plate_record(plate, screw, -14.0, [0, 4, 0, 3, 0], middle=50.0)
    write_plan(planned, read_plan(planned).model_copy(update={"plates": (made,)}))
    return made


def test_sheets_page_and_exports(plated, run, folder):
    answer = run("bend", "out/plan.json")
    assert answer.status == 0
    assert answer.out.startswith("BENDING SHEET")
    assert "Holes 2 to 3" in answer.out
    assert run("bend", "out/plan.json", "-o", "b.txt", "--template", "t.pdf").status == 0
    assert "Not a medical device" in (folder / "b.txt").read_text()
    assert len(pypdf.PdfReader(folder / "t.pdf").pages) == 1
    data = run("bend", "out/plan.json", "--json").json
    angle = math.degrees(4.0 * 1.3 / plated.size.length)
    assert data["plates"][0]["overbend"] == pytest.approx(angle)
    assert "Hole 4" in run("drill", "out/plan.json").out
    answer = run(
        "export", "out/plan.json", "--plates", "p.stl", "--screws", "s.stl", "--scene", "s.glb",
        "--sections", "cuts",
    )  # fmt: skip
    assert answer.status == 0
    plate = trimesh.load(folder / "p.stl")
    assert plate.is_watertight
    assert plate.euler_number == 2 - 2 * 6  # a handle for each hole
    assert len(trimesh.load(folder / "s.stl").split()) == 2 + 6
    assert "plate 1 body" in trimesh.load(folder / "s.glb").geometry
    assert (folder / "cuts" / "plate-1.svg").exists()
    assert (folder / "cuts" / "plate-1-hole-4-along.svg").exists()


def test_what_cannot_be_written(planned, run):
    assert "has no plate" in run("bend", "out/plan.json").out
    answer = run("bend", "out/plan.json", "--template", "t.pdf")
    assert answer.status == 2
    assert "no plate" in answer.err
    answer = run("bend", "out/plan.json", "--template", "t.png")
    assert answer.status == 2
    assert ".pdf" in answer.err
