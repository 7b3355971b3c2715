"""How a plate presses a fracture, by the field of a real cross-section.

Source: a force within the core of a section presses all of it, one at its centroid evenly (any
handbook of strength of materials); signs: Clin Biomech 2024, abstract, as in `test_plates.py`.
"""

import plate_records
import pytest
from specimens import tube

from trajplan.bone import as_surface
from trajplan.files import Case, PlateForceRecord, RangeRecord, ScrewRecord
from trajplan.implants import load_catalogue
from trajplan.mechanics import plate_section
from trajplan.planner import plate_press, set_up

PLATE = load_catalogue().plates["Straight3.5"]
FORCE, RADIUS = 300.0, 10.0


@pytest.fixture(scope="module")
def setup():
    case = Case.model_validate(
        {
            "unit": "mm",
            "bone": {"mesh": "tube"},
            "fracture": {"plane": {"point": [0, 0, 50], "normal": [0, 0, 1]}},
        }
    )
    return set_up(case, bone=as_surface(tube(outer=RADIUS, inner=6.0, length=100.0)))


def plate(stand_off, force=FORCE):
    def screw(number, z):
        fields = {"entry": (-RADIUS, 0, z), "exit": (RADIUS, 0, z), "direction": (1.0, 0, 0)}
        return ScrewRecord.model_validate(
            {"id": f"plate 1 hole {number}", **plate_records.SCREW, **fields}
        )

    made = plate_records.plate_record(PLATE, screw, -RADIUS, middle=50.0)
    squeeze = None if force is None else RangeRecord(low=force, estimate=force, high=force)
    return made.model_copy(
        update={
            "forces": PlateForceRecord(squeeze=squeeze),
            "overbend": RangeRecord(low=stand_off, estimate=stand_off, high=stand_off),
        }
    )


def even(record):
    """Stand-off that puts the resultant on the tube's axis: EI 4 s / L / between = F lever."""
    section = plate_section(PLATE)
    lever, between = RADIUS + section.height, PLATE.middle
    return FORCE * lever * between * record.size.length / (4.0 * section.stiffness)


def test_the_right_overbend_presses_evenly_and_too_little_opens_the_far_side(setup):
    wanted = even(plate(1.0))
    found = plate_press(setup, plate(wanted), None)
    assert found.before is None
    assert found.straight is None  # its pull passes outside the bone
    assert found.overbent.min() > 0.9 * found.overbent.max()
    assert found.overbent.mean() == pytest.approx(FORCE / found.region.area, rel=0.02)
    less = plate_press(setup, plate(0.5 * wanted), None)
    middle = less.region.triangles.mean(axis=1)
    assert less.overbent[middle[:, 0] > 9.0].max() == 0.0  # the plate lies at low x
    assert less.overbent[middle[:, 0] < -9.0].min() > 0.0


def test_no_map_without_a_force(setup):
    assert plate_press(setup, plate(1.0, force=None), None) is None
