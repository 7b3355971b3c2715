"""Bone read from a CT: density, walls and hold against closed forms, laws and published numbers."""

from dataclasses import replace

import numpy as np
import pytest
from builders import bone_of, in_slab, screws_in, zone_of
from phantoms import ct_from, feet, field_from, middled, volume_of
from scipy.special import ndtr
from specimens import cylinder
from volume_files import turned

from scripts.ct_phantom import Shaft, ct_of
from trajplan.errors import VolumeError
from trajplan.mechanics import (
    Range,
    find_bone_class,
    measured_holding,
    measured_turns,
    pull_out,
    soft_strength,
)
from trajplan.trajectory import Basis
from trajplan.volume import Plateau, calibrate, find_plateau, fit_walls, scale_doubt

NORMAL = find_bone_class("normal")
SIZE, EDGES = (34, 30, 52), (0.8, 0.7, 0.6)
MIDDLE = (0.0, 0.0, -10.0)
CORNERS = np.array([[-6.0, -6.0, -21.0], [6.0, 6.0, 1.0]])


def block(hu, directions=None, size=SIZE, edges=EDGES):
    """What a CT of a block says whose HU are a function of place."""
    matrix = middled(size, edges, directions, MIDDLE)
    return field_from(ct_from(volume_of(hu, size, matrix), matrix), CORNERS)


def even(value):
    return lambda at: np.full(at.shape[:-1], float(value))


def hold(field, screws=None, **options):
    return measured_holding(in_slab() if screws is None else screws, field, NORMAL, **options)


def strength(hu, field):
    density = field.calibration.apparent(np.array([float(hu)]))
    return float(soft_strength(Range(*density), "shear").estimate[0])


def test_a_linear_field_is_read_exactly():
    """Check 1: linear between voxels of an oblique, uneven grid."""
    matrix = middled(SIZE, EDGES, turned(25))
    gradient = np.linalg.inv(matrix[:3, :3]).T @ [3.0, -5.0, 7.0]
    at = matrix[:3, 3]
    field = field_from(
        ct_from(volume_of(lambda p: 500.0 + (p - at) @ gradient, SIZE, matrix), matrix), [[0, 0, 0]]
    )
    points = np.random.default_rng(0).uniform(-4.0, 4.0, (200, 3))
    assert np.abs(field.hu(points) - 500.0 - (points - at) @ gradient).max() < 1e-9


def test_a_uniform_block_holds_what_the_formula_says():
    """Check 2: the same bone all round is `pull_out` of its strength."""
    field, screws = block(even(300)), in_slab()
    assert (screws.walls.basis == Basis.UNKNOWN).all()
    dims = screws.dims
    wanted = pull_out(strength(300, field), screws.purchase, dims.thread, dims.core, dims.pitch)
    assert hold(field).estimate == pytest.approx(wanted, rel=1e-9)
    assert hold(field).low < wanted < hold(field).high


def test_two_halves_hold_the_sum():
    """Check 3: strength is averaged, never density."""
    screws = in_slab(thickness=20.0, fracture=8.0)
    middle = float(-(screws.crossing.axis[0] + 20.0) / 2.0)
    both = block(lambda at: np.where(at[..., 2] > middle, 300.0, 700.0), edges=(0.8, 0.7, 0.25),
                 size=(34, 30, 124))  # fmt: skip
    parts = [hold(block(even(hu))).estimate[0] / 2.0 for hu in (300, 700)]
    found = hold(both).estimate[0]
    assert found == pytest.approx(sum(parts), rel=0.02)
    density = [both.calibration.apparent(np.array([hu])).estimate[0] for hu in (300.0, 700.0)]
    by_mean = Range(*(np.array([np.mean(density)]),) * 3)
    ratio = soft_strength(by_mean, "shear").estimate[0] / np.mean(
        [strength(hu, both) for hu in (300, 700)]
    )
    assert ratio < 0.97  # what the mean of density would have given


DEPTHS = np.arange(-3.0, 9.01, 0.3)


def plates(thick, fwhm, inside, count=300, outside=50.0, hard=1600.0, noise=30.0, seed=0):
    rng = np.random.default_rng(seed)
    sigma, start = fwhm / 2.3548, rng.normal(0.0, 0.15, count)[:, None]
    clean = outside + (hard - outside) * ndtr((DEPTHS - start) / sigma)
    clean += (inside - hard) * ndtr((DEPTHS - start - thick) / sigma)
    return clean + rng.normal(0.0, noise, clean.shape)


@pytest.mark.parametrize("fwhm", [0.6, 0.9, 1.3])
@pytest.mark.parametrize("inside", [-50.0, 250.0])
def test_walls_of_a_blurred_plate(fwhm, inside):
    """Check 4: closed form, noise of 30 HU; unbiased from 0.3 mm on, as printed of such a fit
    (Treece et al. 2010, Med Image Anal 14:276, abstract: -0.01 mm over 0.3 to 4 mm).
    """
    thick = np.concatenate([plates(t, fwhm, inside, 100) for t in (1.0, 2.0, 3.0, 4.0)])
    found = find_plateau(thick, DEPTHS)
    assert found.hu == pytest.approx(1600.0, rel=0.02)
    assert found.fwhm == pytest.approx(fwhm, abs=0.1)
    for t in (0.3, 0.5, 1.0, 1.5, 2.0, 3.0, 6.0):
        fit = fit_walls(plates(t, fwhm, inside), DEPTHS, found)
        assert abs(np.median(fit.thickness) - t) < 0.04
        assert fit.thickness.std() < 0.06
        assert fit.rms.mean() < 40.0


def test_walls_too_thin_to_show_their_density_tell_none():
    """In the middle of a plate of 1.4 mm under a blur of 1.2 mm stand 2 Φ(0.7 / 0.51) - 1 = 83 % of
    its height: taken for cortex it would make every wall too thick. At 2.6 mm it is 98.9 %.
    """
    assert np.isnan(find_plateau(plates(1.4, 1.2, 50.0), DEPTHS).hu)
    assert find_plateau(plates(2.6, 1.2, 50.0), DEPTHS).hu == pytest.approx(1600.0, rel=0.03)


def test_a_threshold_errs_as_printed_and_the_fit_does_not():
    """Prevrhel et al. 2003, Med Phys 30:1, abstract: +0.68, +0.27, +0.06 mm at 0.5, 1.0, 1.5 mm by
    half of the maximum; and a density of the cortex 10 % off costs the fit 0.04 to 0.2 mm.
    """
    off, fit = [], []
    for t in (0.5, 1.0, 1.5):
        profile = plates(t, 0.9, 50.0, noise=0.0, count=1)[0]
        fine = np.linspace(-3.0, 9.0, 4001)
        curve = np.interp(fine, DEPTHS, profile)
        off.append(np.ptp(fine[curve > (curve.max() + 50.0) / 2.0]) - t)
        wrong = fit_walls(plates(t, 0.9, 50.0), DEPTHS, Plateau(0.9 * 1600.0, 0.9))
        fit.append(np.median(wrong.thickness) - t)
    assert off == pytest.approx([0.68, 0.27, 0.06], abs=0.25)
    assert off[0] > off[1] > off[2] > -0.02
    assert (np.array(fit) > 0.0).all()
    assert (np.array(fit) < 0.21).all()


@pytest.mark.parametrize(
    "directions",
    [turned(40), turned(0)[:, [1, 2, 0]], turned(0) * [1, 1, -1], turned(130) * [-1, 1, 1]],
)
def test_however_the_volume_lies(directions):
    """Checks 5, 6 and 11: image and screw turned, axes permuted, slices upside down, mirrored."""
    bone = lambda at: 700.0 + 25.0 * at[..., 2] + 10.0 * at[..., 0]  # noqa: E731
    wanted = hold(block(bone, size=(50, 50, 60), edges=(0.7, 0.7, 0.7))).estimate
    found = hold(block(bone, directions, size=(50, 52, 62), edges=(0.7, 0.75, 0.8))).estimate
    assert found == pytest.approx(wanted, rel=1e-3)


def test_half_the_step_changes_little():
    """Check 7."""
    bone = lambda at: 300.0 + 200.0 * np.sin(at[..., 2]) * np.cos(0.8 * at[..., 0])  # noqa: E731
    field = block(bone)
    finer = replace(field, spacing=tuple(edge / 2.0 for edge in field.spacing))
    assert hold(finer).estimate == pytest.approx(hold(field).estimate, rel=0.01)
    assert hold(field, quick=True).estimate == pytest.approx(hold(field).estimate, rel=0.1)


def test_a_thread_in_marrow_alone_holds_nothing_that_is_told():
    """Check 8: NaN, not 0."""
    assert np.isnan(hold(block(even(-60))).estimate).all()


def test_shifted_values_give_no_density():
    """Check 9: by 1024, and with them no calibration but the case's own."""
    matrix = middled((40, 40, 30), (0.8, 0.8, 0.8))
    values = ct_of(Shaft(half=10.0, outer=8.0, muscle=12.0, fat=15.0), matrix, (40, 40, 30))
    assert scale_doubt(ct_from(values, matrix)) is None
    shifted = ct_from((values + 1024).astype(np.int16), matrix)
    doubt = scale_doubt(shifted)
    with pytest.raises(VolumeError, match="no density can be taken"):
        calibrate(replace(shifted, doubts=(doubt,)))


def test_bone_of_a_class_has_its_strength():
    """Check 10: what the case calls medium cancellous bone, made voxels."""
    density = Range(*(np.array([value]) for value in (0.2, 0.3, 0.4)))
    stated = NORMAL.cancellous.shear
    found = soft_strength(density, "shear")
    assert found.estimate == pytest.approx(stated.estimate, rel=1e-9)
    assert found.low == pytest.approx(0.75 * stated.low, rel=1e-9)
    assert soft_strength(Range(*(np.array([2.1]),) * 3), "shear").estimate == pytest.approx(68.0)


def test_noise_adds_little():
    """Check 13: 30 HU on soft bone; strength bends upwards with density, so noise adds."""
    rng = np.random.default_rng(3)
    quiet = hold(block(even(300))).estimate
    noisy = hold(block(lambda at: 300.0 + rng.normal(0.0, 30.0, at.shape[:-1]))).estimate
    assert noisy == pytest.approx(quiet, rel=0.02)


def test_metal_padding_and_the_edge_of_the_volume_are_not_known():
    def bone(at, value):
        away = np.linalg.norm(at - [3.0, 0.0, -14.0], axis=-1)
        return np.where(away < 1.5, value, 300.0)

    metal = block(lambda at: bone(at, 3050.0))
    assert np.isnan(hold(metal).estimate).all()
    assert any("metal" in said for said in metal.cautions)
    padded = block(lambda at: np.where(at[..., 2] < -11.0, -2000.0, 300.0))
    assert np.isnan(hold(padded).estimate).all()
    short = block(even(300), size=(34, 30, 20))
    assert np.isnan(hold(short).estimate).all()


def test_three_peaks_give_the_line_that_was_put_in():
    """Szyszko et al. 2024, PLoS One 19:e0305474, abstract: air -797, fat -95, muscle 38 mg/cm³. The
    line of the bone itself, 0.801 HU - 10.9, is that of an unrelated chest CT.
    """
    matrix = middled((72, 72, 24), (0.8, 0.8, 0.8))
    values = ct_of(Shaft(half=9.0, outer=8.0, muscle=17.0, fat=24.0), matrix, (72, 72, 24))
    line = calibrate(ct_from(values, matrix))
    assert line.origin == "peaks"
    assert line.slope == pytest.approx(0.79, abs=0.02)
    assert line.offset == pytest.approx(-10.0, abs=5.0)
    assert (line.spread, calibrate(ct_from(values, matrix, None)).spread) == (0.05, 0.15)
    with pytest.raises(VolumeError, match="80 kV"):
        calibrate(ct_from(values, matrix, 80.0))
    assert calibrate(ct_from(values, matrix, 80.0), (0.7, 0.0)).origin == "case"
    bare = ct_from(np.full((20, 20, 20), 60, dtype=np.int16), matrix)
    assert calibrate(bare).origin == "usual"
    with pytest.raises(VolumeError, match="does not state its tube voltage"):
        calibrate(replace(bare, source=replace(bare.source, kilovolts=None)))


def test_density_of_known_numbers():
    """Worked by hand: (0.877 q + 0.079) / 0.598 with q = 0.8 HU - 10 in mg/cm³; marrow is 0."""
    line = calibrate(ct_from(np.full((9, 9, 9), 60, dtype=np.int16), middled()), (0.8, -10.0))
    found = line.apparent(np.array([1600.0, 150.0, 40.0, np.nan]))
    assert found.estimate[:3] == pytest.approx([1.995, 0.293, 0.0], abs=0.005)
    assert (found.low[:3] <= found.estimate[:3]).all()
    assert found.low[1] == pytest.approx(0.110 / 0.598, abs=1e-3)  # as if mineral were ash
    assert np.isnan(found.estimate[3])


@pytest.fixture(scope="module")
def walled():
    """A tilted shaft, its wall from 1 to 4 mm, soft bone inside, in voxels of 0.6 mm."""
    bone = Shaft(half=16.0, outer=11.0, wall=2.5, thinner=1.5, inside=150.0, muscle=14.5, fat=17.0,
                 axis=(0.2, 0.1, 1.0))  # fmt: skip
    size = (62, 60, 44)
    matrix = middled(size, (0.6, 0.6, 0.6), turned(30))
    places, inward, wall = feet(bone, 600, 9.0)
    ct = ct_from(ct_of(bone, matrix, size, fwhm=0.8, noise=30.0), matrix)
    return field_from(ct, places, places=places, inward=inward), places, wall


def test_walls_of_a_voxelised_shaft(walled):
    """Within 0.15 mm from 1 mm on: what the issue of this part asks for."""
    field, places, wall = walled
    found, spread = field.wall(places)
    off = found - wall
    assert np.isfinite(off).mean() > 0.98
    assert abs(np.nanmedian(off)) < 0.03
    for low, high in ((0.9, 1.5), (1.5, 2.5), (2.5, 4.1)):
        band = (wall >= low) & (wall < high)
        assert abs(np.nanmedian(off[band])) < 0.05
        assert np.nanquantile(np.abs(off[band]), 0.9) < 0.15
    assert np.nanmedian(np.abs(off) / spread) < 0.5
    assert abs(field.walling.offset) < 0.1
    assert field.walling.plateau.hu == pytest.approx(1600.0, rel=0.03)


def cross(wall=3.0, inside=-50.0, thinner=0.0):
    """What a CT says of a shaft along z, its wall thinner at +x and thicker at -x."""
    made = Shaft(half=60.0, outer=11.0, wall=wall, thinner=thinner, inside=inside, muscle=15.0,
                 fat=18.0)  # fmt: skip
    size, edges = (64, 64, 32), (0.6, 0.6, 0.6)
    matrix = middled(size, edges)
    places, inward, _ = feet(made, 400, 7.0)
    ct = ct_from(ct_of(made, matrix, size, fwhm=0.8, noise=20.0), matrix)
    return field_from(ct, places, places=places, inward=inward)


def solid_shaft(outer=11.0):
    return bone_of(cylinder(outer, 40.0, sides=128, start=-20.0))


def across(field, outer=11.0, kind="HA3.5"):
    bone = solid_shaft(outer)
    zone = zone_of(bone, [0.0, 0.0, 0.0], [1.0, 0.0, 0.0])
    return screws_in(bone, [[-30.0, 0.0, 0.0]], [[1.0, 0.0, 0.0]], zones=zone, kind=kind,
                     field=field)  # fmt: skip


@pytest.mark.parametrize(
    ("wall", "thinner", "inside"), [(2.2, 1.2, -50.0), (2.0, 0.0, 150.0), (3.5, 0.0, 300.0)]
)
def test_hold_of_a_known_wall(wall, thinner, inside):
    """Within 10 % of the truth; density read straight loses much of it at 1 mm (low end)."""
    field = cross(wall, inside, thinner)
    screws = across(field)
    assert (screws.walls.basis == Basis.MEASURED).all()
    side = 1.0 / np.hypot(1.0, 0.3)  # of the side at which the wall is thickest, along -x
    near, far = wall + side * thinner, wall - side * thinner
    assert screws.walls.near == pytest.approx([near], abs=0.15)
    assert screws.walls.far == pytest.approx([far], abs=0.15)
    thread = (screws.dims.thread, screws.dims.core, screws.dims.pitch)
    inner = float(screws.purchase[0]) - far if inside > 0.0 else 0.0
    held = pull_out(68.0, far, *thread)[0]
    held += pull_out(strength(inside, field), inner, *thread)[0] if inner > 0.0 else 0.0
    found = hold(field, screws)
    assert found.estimate[0] == pytest.approx(held, rel=0.1)
    assert found.low[0] < held < found.high[0]
    turns = measured_turns(screws, field, NORMAL)
    assert np.nansum(turns.holding.estimate) == pytest.approx(found.estimate[0], rel=0.02)


def test_hold_rises_with_wall_and_density():
    """Direction as printed: Seebeck et al. 2004, J Orthop Res 22:1237, abstract (cortical thickness
    and cancellous density explain 93 % of axial hold); Matsukawa et al. 2018, abstract (HU along
    the screw, r = 0.75).
    """
    held = [hold(f, across(f)).estimate[0] for f in
            (cross(2.2, thinner=1.0), cross(2.2), cross(2.2, inside=300.0))]  # fmt: skip
    assert held[0] < held[1] < held[2]


def test_walls_of_a_coarse_ct_are_not_measured():
    matrix = middled((40, 40, 14), (0.8, 0.8, 2.5))
    made = Shaft(half=60.0, outer=11.0, muscle=14.0, fat=15.5)
    places, inward, _ = feet(made, 300, 8.0)
    field = field_from(ct_from(ct_of(made, matrix, (40, 40, 14)), matrix), places, places=places,
                       inward=inward)  # fmt: skip
    assert field.walling is None
    assert "too coarse" in field.cautions[0]
    assert (across(field).walls.basis == Basis.UNKNOWN).all()
