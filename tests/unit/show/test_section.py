"""Sections against closed forms on a tube, and drawings in which nothing overlaps.

Sources: geometry of a regular prism for areas and lengths; trimesh's own plane section for
lines; the catalogue and the record for the screw. Pixels are not tested: what is drawn is.
"""

from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
import trimesh
from builders import case_of
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import PathPatch

from trajplan.bone import as_surface, make_bone, shaft_axis
from trajplan.cautions import CAUTIONS
from trajplan.errors import OutputError
from trajplan.fracture import fracture_from_plane, fracture_from_surface
from trajplan.implants import find_screw
from trajplan.show import draw_section, sections
from trajplan.show._items.palette import lightness
from trajplan.show._sections.cut import Frame, surface_lines
from trajplan.show._sections.draw import STYLES, section_figure
from trajplan.show._sections.page import page
from trajplan.show._sections.paper import lanes, text_width, wrap
from trajplan.trajectory import Settings

#: The tube of `conftest`: 48 sides, radius 13 and 6, z from -60 to 70 and from -50 to 60.
SIDES, OUTER, INNER = 48, 13.0, 6.0
TILT = np.radians(30.0)  # fracture normal to the screw's axis, which is x

GLIDING = {
    "exit": (13.0, 0.0, 0.0),
    "hold": "bicortical",
    "near_cortex": {"thickness": 7.0, "basis": "modelled"},
    "far_cortex": {"thickness": 7.0, "basis": "modelled"},
    "fracture_depth": {"min": 11.7, "axis": 13.0, "max": 14.3},
    "gliding_hole": {"diameter": 4.5, "from": 0.0, "to": 14.3},
    "thread_hole": {"diameter": 3.2, "from": 14.3, "to": 26.0},
    "tap": {"diameter": 4.5, "from": 14.3, "to": 26.0},
    "countersink": {"diameter": 8.0, "depth": 0.5},
    "thread": {"from": 0.5, "to": 28.5},
    "purchase": 7.0,
    "proud_tip": 2.5,
}
PARTIAL = {
    "kind": "HB6.5",
    "hold": "unicortical",
    "washer": "13.0",
    "length": 30.0,
    "seat": -1.5,
    "gauge": 27.5,
    "near_cortex": {"thickness": None, "basis": "unknown"},
    "far_cortex": {"thickness": None, "basis": "unknown"},
    "fracture_depth": {"min": 8.0, "axis": 9.0, "max": 10.0},
    "gliding_hole": None,
    "shank_hole": {"diameter": 4.5, "from": 0.0, "to": 10.0},
    "thread_hole": {"diameter": 3.2, "from": 10.0, "to": 28.5},
    "tap": {"diameter": 6.5, "from": 0.0, "to": 8.2},
    "thread": {"from": 12.5, "to": 28.5},
    "purchase": 16.0,
    "proud_tip": 2.5,
    "unknown_intervals": ((3.0, 5.0),),
}
POSITION = {
    **GLIDING,
    "technique": "position",
    "gliding_hole": None,
    "thread_hole": {"diameter": 3.2, "from": 0.0, "to": 26.0},
    "tap": {"diameter": 4.5, "from": 0.0, "to": 26.0},
    "near_cortex": {"thickness": 7.0, "basis": "assumed"},
    "far_cortex": {"thickness": 7.0, "basis": "assumed"},
}
TECHNIQUES = {"gliding": GLIDING, "partial": PARTIAL, "position": POSITION}


@pytest.fixture
def setup(bone, catalogue):
    """Case on the tube, with a fracture tilted to the axis and a sheet to keep clear of."""
    solid = make_bone(bone)
    sheet = as_surface(
        ([[-5, -20, 8], [40, -20, 8], [40, 20, 8], [-5, 20, 8]], [[0, 1, 2], [0, 2, 3]])
    )
    fracture = fracture_from_plane(solid, (0, 0, 0), (np.cos(TILT), 0, np.sin(TILT)))
    return SimpleNamespace(
        bone=solid,
        fracture=fracture,
        catalogue=catalogue,
        shaft=shaft_axis(bone),
        case=case_of(frame="LPS"),
        settings=Settings(),
        around=SimpleNamespace(
            obstacles=(SimpleNamespace(name="nerve", role="avoid", surface=sheet),),
            zones=fracture.zones,
            approach=None,
        ),
    )


@pytest.fixture
def along(setup, record):
    return sections(setup, record(**GLIDING))[0]


@pytest.fixture
def turned(setup, record):
    return sections(setup, record(**GLIDING))[1]


def prism(radius):
    return SIDES / 2 * radius**2 * np.sin(2 * np.pi / SIDES)


def test_section_along_a_tube_is_its_rectangle_without_the_canal(along):
    assert along.bone.area == pytest.approx(26 * 130 - 12 * 110)
    assert along.bone.bounds == pytest.approx((0, -60, 26, 70))
    assert along.canal.area == pytest.approx(12 * 110)
    assert along.canal.bounds == pytest.approx((7, -50, 19, 60))


def test_section_across_a_tube_is_its_polygon_without_the_canal(turned):
    assert turned.bone.area == pytest.approx(prism(OUTER) - prism(INNER))
    assert turned.canal.area == pytest.approx(prism(INNER))
    assert turned.bone.centroid.coords[0] == pytest.approx((13, 0))


def test_the_two_planes_share_the_axis_at_a_right_angle(along, turned):
    assert along.frame.along == pytest.approx(turned.frame.along)
    assert along.frame.up @ turned.frame.up == pytest.approx(0)
    assert np.abs(along.frame.up) == pytest.approx([0, 0, 1])  # the tube's long direction


def test_fracture_line_is_where_its_plane_meets_the_section(along):
    ends = shapely.get_coordinates(along.fracture)
    assert sorted(ends[:, 0]) == pytest.approx([0, 26])
    # cos(t) (depth - 13) + sin(t) z = 0 on the plane
    assert np.cos(TILT) * (ends[:, 0] - 13) + np.sin(TILT) * ends[:, 1] == pytest.approx(0)
    assert along.fracture.length == pytest.approx(26 / np.sin(TILT))


def test_fracture_across_the_axis_stands_upright_where_it_is_planned(turned):
    low, _, high, _ = turned.fracture.bounds
    assert (low, high) == pytest.approx((13, 13))
    assert turned.fracture.length == pytest.approx(26, rel=0.01)


def test_a_section_in_the_fracture_plane_shows_no_fracture_line(setup, record):
    setup.fracture = fracture_from_plane(setup.bone, (0, 0, 0), (0, 1, 0))
    assert sections(setup, record(**GLIDING))[0].fracture.is_empty


def test_fracture_surface_gives_the_line_of_the_plane_it_lies_in(setup, record, along):
    x, y = np.meshgrid(np.linspace(-20, 20, 9), np.linspace(-20, 20, 9))
    z = -x / np.tan(TILT)
    grid = np.arange(81).reshape(9, 9)
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, 1:], grid[1:, :-1]
    faces = np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)
    patch = as_surface((np.column_stack([x.ravel(), y.ravel(), z.ravel()]), faces))
    setup.fracture = fracture_from_surface(setup.bone, patch)
    line = sections(setup, record(**GLIDING))[0].fracture
    assert shapely.hausdorff_distance(line, along.fracture) < 1e-6


def test_line_of_a_surface_equals_a_general_library(setup):
    ball = trimesh.creation.icosphere(subdivisions=3, radius=10.0)
    frame = Frame(np.array([0.3, 0.2, 0.1]), np.array([1.0, 0, 0]), np.array([0, 0.6, 0.8]))
    lines = surface_lines(as_surface((ball.vertices, ball.faces)), frame)
    other = ball.section(plane_normal=frame.plane.normal, plane_origin=frame.origin)
    assert lines.length == pytest.approx(other.length)
    assert len(lines.geoms) == 1
    assert lines.geoms[0].is_ring  # joined all round


def test_what_is_to_be_kept_clear_of_is_cut_too(along):
    ((name, role, lines),) = along.surfaces
    assert (name, role) == ("nerve", "avoid")
    assert lines.bounds == pytest.approx((8, 8, 53, 8))


def test_screw_is_outlined_to_size(along, catalogue):
    screw = find_screw(catalogue, "HA4.5")
    crest, core = screw.thread_diameter / 2, screw.core_diameter / 2
    bounds = {name: part.bounds for name, part in along.outline.items()}
    head = screw.head_diameter / 2
    assert bounds["head"] == pytest.approx((0.5 - screw.head_height, -head, 0.5, head))
    assert bounds["thread"] == pytest.approx((0.5, -crest, 28.5, crest))
    assert bounds["core"] == pytest.approx((0.5, -core, 28.5 - core, core))
    assert bounds["tip"] == pytest.approx((28.5 - core, -core, 28.5, core))
    assert "shank" not in bounds  # the thread begins at the seat


def test_partial_thread_and_washer_are_outlined_to_size(setup, record, catalogue):
    section = sections(setup, record(**PARTIAL))[0]
    screw, washer = find_screw(catalogue, "HB6.5"), catalogue.washers["13.0"]
    bounds = {name: part.bounds for name, part in section.outline.items()}
    smooth, outer = screw.shank_diameter / 2, washer.outer_diameter / 2
    assert bounds["shank"] == pytest.approx((-1.5, -smooth, 12.5, smooth))
    assert bounds["thread"][::2] == pytest.approx((12.5, 28.5))
    assert bounds["washer"] == pytest.approx((-1.5, -outer, washer.thickness - 1.5, outer))
    gap = section.outline["washer"].geoms
    assert shapely.distance(*gap) == pytest.approx(washer.inner_diameter)


def test_holes_are_outlined_as_planned(along):
    bounds = {name: hole.bounds for name, hole in along.holes.items()}
    assert bounds["gliding hole"] == pytest.approx((0, -2.25, 14.3, 2.25))
    assert bounds["thread hole"] == pytest.approx((14.3, -1.6, 26, 1.6))
    assert bounds["countersink"][2] == pytest.approx(0.5)  # down to the seat
    assert bounds["countersink"][1::2] == pytest.approx((-4, 4))


def lengths(section):
    return {d.name: (d.start, d.end) for d in section.dimensions}


def test_dimensions_are_the_numbers_of_the_plan(along):
    found = lengths(along)
    assert found["near cortex"] == pytest.approx((0, 7))
    assert found["canal"] == pytest.approx((7, 19))
    assert found["far cortex"] == pytest.approx((19, 26))
    assert found["gauge"] == pytest.approx((0.5, 26))
    assert found["thread beyond fracture"] == pytest.approx((14.3, 28.5))
    assert found["tip protrudes"] == pytest.approx((26, 28.5))
    assert found["screw length"] == pytest.approx((0.5, 28.5))
    (thread,) = (d for d in along.dimensions if d.name == "thread beyond fracture")
    assert thread.label == "thread beyond fracture 14.2 (7.0 of it in bone)"


def test_dimensions_of_a_screw_that_stops_short(setup, record):
    thread = {"from": 7.5, "to": 23.5}
    short = record(**{**PARTIAL, "length": 25.0, "thread": thread, "proud_tip": -2.5})
    found = lengths(sections(setup, short)[0])
    assert found["short of the far surface"] == pytest.approx((23.5, 26))
    assert "tip protrudes" not in found
    assert "gauge" not in found  # the hole is blind
    assert found["bone"] == pytest.approx((0, 26))
    assert found["cannot be told"] == pytest.approx((3, 5))


def test_assumed_cortex_is_called_assumed(setup, record):
    section = sections(setup, record(**POSITION))[0]
    notes = {d.name: d.note for d in section.dimensions}
    assert {notes[name] for name in ("near cortex", "canal", "far cortex")} == {"assumed"}
    assert any("assumed, not measured" in note for note in section.notes)


def test_no_canal_is_claimed_where_the_axis_leaves_the_bone(setup, record):
    found = lengths(sections(setup, record(**GLIDING, leaves_bone=True))[0])
    assert "canal" not in found
    assert found["between the walls"] == pytest.approx((7, 19))


def test_an_axis_that_misses_the_bone_has_no_section(setup, record):
    assert sections(setup, record(entry=None, exit=None)) == ()


def test_a_screw_without_a_length_shows_bone_and_axis(setup, record):
    section = sections(setup, record(**{**GLIDING, "length": None, "thread": None}))[0]
    assert section.outline == {}
    assert section_figure(section).axes


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0.1, 40)), max_size=12), st.floats(0.1, 5.0))
def test_spans_of_a_lane_keep_their_distance(pairs, gap):
    spans = [(low, low + length) for low, length in pairs]
    chosen = lanes(spans, gap)
    for (a, lane), (b, other) in combinations(zip(spans, chosen, strict=True), 2):
        if lane == other:
            assert b[0] >= a[1] + gap or b[1] <= a[0] - gap


def test_text_is_as_wide_as_it_is_drawn_and_wraps_within_its_width():
    words = "Models come from segmentations that can be wrong."
    assert text_width(words, 12.0) == pytest.approx(2 * text_width(words, 6.0), rel=0.02)
    lines = wrap(words, 9.0, 40.0)
    assert " ".join(lines) == words
    assert len(lines) > 1
    assert max(text_width(line, 9.0) for line in lines) <= 40.0
    assert text_width(r"$\frac$", 9.0) > 0  # a name is no formula


def boxes(figure):
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    texts = [text for text in figure.axes[0].texts if text.get_text()]
    return [(text.get_text(), text.get_window_extent(canvas.get_renderer())) for text in texts]


@pytest.mark.parametrize("turn", [0, 1])
@pytest.mark.parametrize("technique", TECHNIQUES)
def test_no_words_overlap_and_all_are_on_the_page(setup, record, technique, turn):
    figure = section_figure(sections(setup, record(**TECHNIQUES[technique]))[turn])
    found = boxes(figure)
    assert len(found) > 12
    for (one, a), (other, b) in combinations(found, 2):
        assert not (a.x0 < b.x1 and b.x0 < a.x1 and a.y0 < b.y1 and b.y0 < a.y1), (one, other)
    for text, a in found:
        assert a.x0 > 0, text
        assert a.y0 > 0, text
        assert a.x1 < figure.bbox.x1, text
        assert a.y1 < figure.bbox.y1, text


def test_a_long_title_breaks_into_lines(setup, record):
    name = " ".join(["screw of the upper row"] * 5)
    found = boxes(section_figure(sections(setup, record(name, **GLIDING))[0]))
    assert max(box.x1 for _, box in found) < 1417


def test_the_page_is_to_scale_both_ways(along):
    figure = section_figure(along)
    sheet = page(along, 2)
    assert figure.get_size_inches()[0] * 25.4 == pytest.approx(sheet.width)
    bounds = figure.axes[0].get_position().bounds
    assert bounds == pytest.approx((0, 0, 1, 1))
    assert np.ptp(figure.axes[0].get_xlim()) == pytest.approx(sheet.width)
    dark = [
        p.get_path().get_extents()
        for p in figure.axes[0].patches
        if isinstance(p, PathPatch) and p.get_zorder() == list(STYLES).index("head")
    ]
    (head,) = dark
    assert head.height == pytest.approx(sheet.scale * 8.0)
    assert head.width == pytest.approx(sheet.scale * 4.0)


def test_words_of_the_trade_and_the_cautions_stand_on_the_page(along):
    words = " ".join(text.get_text() for text in section_figure(along).axes[0].texts)
    for caution in CAUTIONS:
        assert caution in words
    for word in ("near cortex", "far cortex", "gliding hole", "near fragment", "far fragment"):
        assert word in words


def test_title_with_a_formula_stays_text(setup, record, tmp_path):
    section = sections(setup, record(r"$\frac{S1$", **GLIDING))[0]
    draw_section(section, tmp_path / "s.svg")
    assert r"$\frac{S1$" in section.title


@pytest.mark.parametrize(
    ("one", "other"), [("bone", "thread"), ("bone", "head"), ("bone", "core"), ("bone", "canal")]
)
def test_parts_that_touch_differ_in_grey(one, other):
    apart = lightness(STYLES[one]["facecolor"]) - lightness(STYLES[other]["facecolor"])
    assert abs(apart) > 8


def test_fracture_differs_from_bone_in_grey():
    apart = lightness(STYLES["bone"]["facecolor"]) - lightness(STYLES["fracture"]["color"])
    assert abs(apart) > 20


def test_same_section_same_bytes_and_no_date(along, tmp_path):
    for name in ("a.svg", "b.svg", "c.png", "d.png"):
        draw_section(along, tmp_path / name)
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert (tmp_path / "c.png").read_bytes() == (tmp_path / "d.png").read_bytes()
    assert b"dc:date" not in (tmp_path / "a.svg").read_bytes()


@pytest.mark.parametrize("name", ["s.pdf", "s", "nowhere/s.svg"])
def test_a_picture_that_cannot_be_written(along, tmp_path, name):
    with pytest.raises(OutputError):
        draw_section(along, tmp_path / name)
    assert list(tmp_path.iterdir()) == []
