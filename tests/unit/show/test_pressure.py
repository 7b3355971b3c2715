"""Contact pressure as it is drawn: what the mechanics found, on the fracture's own area."""

import numpy as np
import pytest
from edited_plans import few_draws

from trajplan.show import plan_scene
from trajplan.show._items.item import Item
from trajplan.show._items.pressure import pressure_items, pressure_scale


@pytest.fixture(scope="module")
def session():
    return few_draws()


def test_the_force_is_the_integral_of_what_is_drawn(session):
    pressing = session.state.pressing
    (item,) = pressure_items(session.setup, pressing)
    corner = item.points[item.faces]
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    area = np.linalg.norm(cross, axis=1) / 2.0
    assert area.sum() == pytest.approx(session.setup.regions[0].area)
    assert area @ item.values == pytest.approx(pressing.force, rel=1e-3)
    assert item.values.max() <= pressing.peak
    zone = session.setup.fracture.zones[0]
    assert zone.plane.height(item.points) == pytest.approx(0.0, abs=1e-9)


def test_only_the_fracture_changes_in_a_scene(session):
    bare = plan_scene(session.setup, session.record)
    pressed = plan_scene(session.setup, session.record, session.state.pressing)
    assert [item.name for item in bare] == [item.name for item in pressed]
    changed = [item.name for item in pressed if item.values is not None]
    assert changed == ["fracture Z1"]


def test_nothing_known_nothing_drawn(session):
    assert pressure_items(session.setup, None) == []


@pytest.mark.parametrize(
    ("peak", "scale"),
    [(0.3, 0.3), (2.1, 3.0), (8.5, 10.0), (11.0, 15.0), (0.0061, 0.008), (1.0, 1.0)],
)
def test_the_scale_ends_at_a_round_number(peak, scale):
    item = Item(
        "f", "fracture", np.zeros((3, 3)), np.array([[0, 1, 2]]), "#fff", 1.0, "", peak * np.ones(1)
    )
    assert pressure_scale([item]) == pytest.approx(scale)


@pytest.mark.parametrize("values", [None, np.zeros(1)])
def test_no_pressure_no_scale(values):
    item = Item("f", "fracture", np.zeros((3, 3)), np.array([[0, 1, 2]]), "#fff", 1.0, "", values)
    assert pressure_scale([item]) is None
