"""From a case to everything that planning needs; wrong input is refused."""

import numpy as np
import pytest
from builders import case_of, grid
from mesh_files import stl_bytes, write
from specimens import box, tube

from trajplan.checks import LIMIT_NOTES, Limits
from trajplan.errors import CaseError, CatalogueError, MeshError
from trajplan.files import read_case
from trajplan.planner import set_up
from trajplan.planner._refusals import MOST, MOST_OF_UNIT
from trajplan.units import MM_PER_UNIT

MESH = tube(sides=24)


def test_a_bone_in_metres_read_as_millimetres_is_refused():
    vertices, faces = MESH
    with pytest.raises(MeshError, match='unit = "m"'):
        set_up(case_of(), bone=(vertices / 1000, faces))


def test_a_bone_in_millimetres_read_as_metres_is_refused():
    with pytest.raises(MeshError, match='unit = "mm"'):
        set_up(case_of(unit="m"), bone=MESH)


@pytest.mark.parametrize("unit", ["mm", "cm", "m", "inch"])
def test_points_of_the_case_are_in_its_unit_and_settings_in_mm(unit):
    scale = 1.0 / MM_PER_UNIT[unit]
    vertices, faces = MESH
    point = [0.0, 0.0, 50.0 * scale]
    case = case_of(
        unit=unit,
        bone={"cortex": 4.0},
        fracture={"plane": {"point": point, "normal": [1, 0, 1]}},
    )
    setup = set_up(case, bone=(vertices * scale, faces))
    assert setup.fracture.zones[0].plane.point == pytest.approx([0, 0, 50])
    assert np.ptp(setup.bone.surface.vertices, axis=0)[2] == pytest.approx(100.0)
    assert setup.settings.cortex == 4.0


@pytest.mark.parametrize(
    ("change", "error", "sentence"),
    [
        ({"limits": {"max_tlit": 9.0}}, CaseError, "max_tilt"),
        ({"limits": {"friction": 0.0}}, CaseError, "above 0"),
        ({"limits": {"guide_length": 0.0}}, CaseError, "above 0 and up to 300"),
        ({"limits": {"guide_diameter": 1e6}}, CaseError, "1e.06 mm.*above 0 and up to 50"),
        ({"limits": {"one_approach": 400.0}}, CaseError, "400 degrees.*from 0 up to 180"),
        ({"limits": {"max_tilt": 91.0}}, CaseError, "from 0 up to 90"),
        ({"limits": {"rim_contact": 50.0}}, CaseError, "50 share.*from 0 up to 1"),
        ({"screws": {"kinds": ["HA9.9"]}}, CatalogueError, "HA9.9"),
        ({"fracture": {"plane": {"point": [0, 0, 500], "normal": [0, 0, 1]}}}, CaseError, "misses"),
        ({"fracture": {"group": "fracture"}}, CaseError, "no group"),
    ],
)
def test_what_does_not_fit_is_refused(change, error, sentence):
    with pytest.raises(error, match=sentence):
        set_up(case_of(**change), bone=MESH)


def ridge(wide):
    """Two squares of ``wide`` mm that meet at 60 degrees off the level, in the shaft's middle."""
    surface = grid(lambda x, _: 50.0 - np.sqrt(3.0) * np.abs(x), 21, wide)
    return surface.vertices, surface.faces


def test_a_fracture_of_zones_that_are_all_too_small_is_refused(tmp_path):
    """Each face of the ridge has its width squared; a 4.5 mm thread asks for a disc of 9 mm,
    64 mm². Together both faces always have enough."""
    file = tmp_path / "ridge.stl"
    case = case_of(fracture={"mesh": str(file)})
    write(file, stl_bytes(ridge(7.9)))
    small = r"each of the 2 zones of the fracture is too small \(Z1 62 mm², Z2 62 mm²\)"
    with pytest.raises(CaseError, match=small + ": a screw of 4.5 mm thread needs 64 mm²"):
        set_up(case, bone=MESH)
    write(file, stl_bytes(ridge(8.1)))
    assert [zone.area for zone in set_up(case, bone=MESH).fracture.zones] == pytest.approx(
        [65.6, 65.6], abs=0.1
    )


def test_every_limit_may_lie_at_its_default_and_has_a_most():
    for name, note in LIMIT_NOTES.items():
        assert getattr(Limits(), name) < MOST.get(name, MOST_OF_UNIT[note.unit])


def test_limits_and_settings_of_the_case_arrive():
    case = case_of(limits={"tip_past": 1.5, "max_tilt": 10.0}, screws={"washer": True, "ring": 24})
    setup = set_up(case, bone=MESH)
    assert (setup.settings.tip_past, setup.settings.ring, setup.settings.washer) == (1.5, 24, True)
    assert setup.limits.changed() == {"tip_past": 1.5, "max_tilt": 10.0}
    assert [washer.id for washer in setup.washers] == ["13.0"]


def test_the_open_side_is_a_unit_vector():
    side = {"direction": [-3, 0, 4], "cone": 50.0}
    setup = set_up(case_of(screws={"approach": side}), bone=MESH)
    assert setup.around.approach.direction == pytest.approx([-0.6, 0, 0.8])
    assert setup.around.approach.cone == 50.0
    assert set_up(case_of(), bone=MESH).around.approach is None


def test_obstacles_keep_name_role_and_clearance(tmp_path):
    mesh = str(write(tmp_path / "nerve.stl", stl_bytes(box((20, 20, 20), (25, 25, 25)))))
    case = case_of(avoid=[{"name": "nerve", "mesh": mesh, "clearance": 8.0}])
    setup = set_up(case, bone=MESH)
    assert [(o.name, o.role, o.clearance) for o in setup.around.obstacles] == [
        ("nerve", "avoid", 8.0)
    ]
    assert [(use.role, use.surface.name) for use in setup.meshes][1:] == [("avoid", "nerve.stl")]


def test_other_kinds_bring_their_own_washers():
    setup = set_up(case_of(), bone=MESH)
    other = setup.with_kinds([setup.catalogue.screws["HA3.5"]])
    assert ([s.kind for s in other.kinds], other.washers[0].id) == (["HA3.5"], "7.0")
    assert [s.kind for s in setup.kinds] == ["HA4.5"]


def test_a_joint_picked_on_fragments_takes_every_fragment_that_it_lies_on(tmp_path):
    write(tmp_path / "low.stl", stl_bytes(grid_box(0.0, 20.0)))
    write(tmp_path / "high.stl", stl_bytes(grid_box(20.3, 40.0)))
    joint = {"name": "face", "points": [[10.0, 0.0, 20.0]], "radius": 6.0}
    text = 'unit = "mm"\n[bone]\nfragments = ["low.stl", "high.stl"]\n[fracture]\nbetween = true\n'
    case = read_case(write(tmp_path / "case.toml", text), {"joint": [joint]})
    (obstacle,) = set_up(case).around.obstacles
    heights = obstacle.surface.vertices[:, 2]
    assert heights.min() < 16.0
    assert heights.max() > 24.0


def grid_box(low, high):
    """A box 20 mm wide whose faces are cut fine enough to pick a spot on one."""
    import trimesh

    mesh = trimesh.Trimesh(*box((-10, -10, low), (10, 10, high)))
    for _ in range(3):
        mesh = mesh.subdivide()
    return np.array(mesh.vertices), np.array(mesh.faces)
