"""A plan is refused once its meshes or its case have changed."""

from pathlib import Path

import pytest
from mesh_files import stl_bytes, write
from shaft_case import write_case
from specimens import tube

import trajplan.implants
from trajplan.errors import PlanFileError
from trajplan.files import read_case
from trajplan.planner import plan_case, plan_record, same_inputs, set_up

CATALOGUE = Path(trajplan.implants.__file__).parent


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    file = write_case(tmp_path_factory.mktemp("planned"))
    return plan_record(plan_case(read_case(file)))


@pytest.fixture
def planned(tmp_path, record):
    """The same files in a folder of their own, and the plan made of them."""
    return write_case(tmp_path), record


def again(file, record):
    same_inputs(set_up(read_case(file)), record, file.with_name("plan.json"))


def test_the_same_files_are_accepted(planned):
    again(*planned)


def test_a_changed_mesh_is_refused_by_name(planned):
    file, record = planned
    vertices, faces = tube(outer=14.0, inner=9.0, length=100.0)
    vertices[0] += 1e-3
    write(file.with_name("bone.stl"), stl_bytes((vertices, faces)))
    with pytest.raises(PlanFileError, match=r"plan\.json: bone\.stl changed.*plan the case again"):
        again(file, record)


def test_a_changed_case_is_refused_by_name(planned):
    file, record = planned
    file.write_text(file.read_text().replace("count = 2", "count = 1"))
    with pytest.raises(PlanFileError, match=r"case\.toml changed"):
        again(file, record)


def test_a_mesh_swapped_for_another_of_the_same_case_is_refused(planned):
    """The same bytes under another name are not the mesh that was planned."""
    file, record = planned
    (mesh,) = record.meshes
    renamed = mesh.model_copy(update={"name": "other.stl"})
    with pytest.raises(PlanFileError, match=r"other\.stl changed"):
        again(file, record.model_copy(update={"meshes": (renamed,)}))


def test_a_changed_catalogue_file_is_refused_by_name(planned):
    file, _ = planned
    own = file.with_name("own.toml")
    own.write_text((CATALOGUE / "catalogue.toml").read_text())
    file.write_text(f'catalogue = ["own.toml"]\n{file.read_text()}')
    record = plan_record(plan_case(read_case(file)))
    assert [(one.name, len(one.sha256)) for one in record.catalogues] == [("own.toml", 64)]
    again(file, record)
    own.write_text(own.read_text() + "\n# a later word\n")
    with pytest.raises(PlanFileError, match=r"own\.toml changed"):
        again(file, record)
