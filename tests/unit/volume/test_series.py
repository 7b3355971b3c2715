"""A CT as a folder of slices: right in every direction, refused where it is not whole."""

import copy

import numpy as np
import pytest
from volume_files import (
    AIR,
    BONE,
    CENTRE,
    SPACING,
    ball_ct,
    found_centre,
    matrix_of,
    slices,
    turned,
    write_series,
)

from trajplan.errors import VolumeError
from trajplan.volume import read_ct

#: mm: the middle of a ball of whole voxels, against the middle of the ball.
NEAR = 0.1


@pytest.fixture(scope="module")
def plain():
    matrix = matrix_of(turned())
    return slices(ball_ct(matrix), matrix)


@pytest.fixture
def series(plain):
    return copy.deepcopy(plain)


def refused(folder, word):
    with pytest.raises(VolumeError, match=word) as caught:
        read_ct(folder)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("degrees", [0.0, 25.0, 140.0])
def test_the_ball_lies_where_it_is(tmp_path, degrees):
    matrix = matrix_of(turned(degrees), origin=CENTRE - turned(degrees) @ [11.0, 12.0, 11.0])
    values = ball_ct(matrix)
    ct = read_ct(write_series(tmp_path / "ct", slices(values, matrix)))
    assert np.abs(ct.grid.matrix - matrix).max() < 1e-5
    assert (ct.values == values).all()
    assert ct.values.dtype == np.int16
    assert np.linalg.norm(found_centre(ct.values, ct.grid) - CENTRE) < NEAR
    assert (ct.source.kilovolts, ct.source.kernel, ct.doubts, ct.cautions) == (120, "B60", (), ())


def test_order_is_that_of_the_places_and_not_of_names_or_numbers(tmp_path, series):
    straight = read_ct(write_series(tmp_path / "a", series))
    for number, one in enumerate(reversed(series)):
        one.InstanceNumber = number
    names = [f"{97 * k % 18:03d}.dcm" for k in range(18)]
    mixed = read_ct(write_series(tmp_path / "b", series, names))
    assert (mixed.values == straight.values).all()
    assert (mixed.grid.matrix == straight.grid.matrix).all()


def test_a_tilted_gantry_is_placed_and_told(tmp_path):
    """The reader of a common library puts this ball 2.95 mm off without a word."""
    matrix = matrix_of(turned())
    matrix[:3, 2] = [0.0, 1.25 * np.tan(np.deg2rad(20)), 1.25]
    matrix[:3, 3] -= [0.0, 4.0, 0.0]
    values = ball_ct(matrix)
    ct = read_ct(write_series(tmp_path / "ct", slices(values, matrix, GantryDetectorTilt=20)))
    assert np.linalg.norm(found_centre(ct.values, ct.grid) - CENTRE) < NEAR
    assert ct.grid.shear == pytest.approx(20, abs=0.01)
    assert "lean by 20.0 degrees" in ct.cautions[0]


def test_a_tilt_that_the_places_do_not_show_is_told(tmp_path, series):
    for one in series:
        one.GantryDetectorTilt = 20
    assert "stand square" in read_ct(write_series(tmp_path / "ct", series)).cautions[0]


@pytest.mark.parametrize("dropped", [[7], [7, 8, 9], [4, 12]])
def test_missing_slices(tmp_path, series, dropped):
    kept = [one for k, one in enumerate(series) if k not in dropped]
    refused(write_series(tmp_path / "ct", kept), "missing between")


def test_a_doubled_slice(tmp_path, series):
    double = copy.deepcopy(series[5])
    double.SOPInstanceUID = "1.2.3"
    refused(write_series(tmp_path / "ct", [*series, double]), "same place")


def test_half_the_stack_spaced_otherwise(tmp_path, series):
    for k, one in enumerate(series[9:]):
        one.ImagePositionPatient[2] = 205 + 8 * 1.25 + (k + 1) * 2.5
    refused(write_series(tmp_path / "ct", series), "not evenly spaced")


def test_a_slice_shifted_sideways(tmp_path, series):
    series[6].ImagePositionPatient[0] += 0.5
    refused(write_series(tmp_path / "ct", series), "beside the line")


def test_jitter_within_what_files_round_to(tmp_path, series):
    series[6].ImagePositionPatient[2] += 0.004
    assert read_ct(write_series(tmp_path / "ct", series)).grid.spacing == pytest.approx(SPACING)


def test_two_series(tmp_path, series):
    for one in series[1::2]:
        one.SeriesInstanceUID = "1.2.3"
        one.SeriesDescription = "soft"
    refused(write_series(tmp_path / "ct", series), r"2 series .*soft")


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("FrameOfReferenceUID", "1.2.3", "frame of reference"),
        ("ImageOrientationPatient", [0, 1, 0, 1, 0, 0], "direction of rows"),
        ("PixelSpacing", [1.1, 0.95], "size of pixels"),
        ("ConvolutionKernel", "B20", "kernel"),
        ("KVP", 80, "tube voltage"),
        ("Modality", "MR", "no CT: the file says MR"),
        ("ImagePositionPatient", None, "ImagePositionPatient is missing"),
    ],
)
def test_a_slice_that_is_not_of_this_stack(tmp_path, series, key, value, word):
    setattr(series[4], key, value)
    refused(write_series(tmp_path / "ct", series), word)


def test_rescaling_slice_by_slice(tmp_path):
    matrix = matrix_of(turned())
    values = ball_ct(matrix)
    sets = slices(values, matrix)
    halves = slices(values, matrix, RescaleSlope=0.5, RescaleIntercept=-1000)
    sets[1::2] = halves[1::2]
    ct = read_ct(write_series(tmp_path / "ct", sets))
    assert np.abs(ct.values - values).max() <= 0.5


def test_padding_is_no_data(tmp_path):
    matrix = matrix_of(turned())
    sets = slices(ball_ct(matrix), matrix, PixelPaddingValue=AIR + 1024)
    ct = read_ct(write_series(tmp_path / "ct", sets))
    assert (ct.values[:, :2] == -32768).all()
    assert ct.values[:, 2:].max() == BONE


def test_missing_rescale_and_another_unit_are_doubts(tmp_path, series):
    for one in series:
        del one.RescaleIntercept
        one.RescaleType = "US"
    doubts = read_ct(write_series(tmp_path / "ct", series)).doubts
    assert len(doubts) == 3  # and so neither air nor muscle lies where it belongs
    assert '"US"' in doubts[1]


def test_one_slice_an_empty_folder_and_other_files(tmp_path, series):
    refused(write_series(tmp_path / "one", series[:1]), "one slice alone")
    (tmp_path / "none").mkdir()
    refused(tmp_path / "none", "no DICOM file")
    folder = write_series(tmp_path / "ct", series)
    (folder / "notes.txt").write_text("a note, long enough to be no DICOM file" * 9)
    assert "notes.txt" in read_ct(folder).cautions[0]
    (folder / "018.dcm").write_bytes(b"")
    refused(folder, "0 bytes")


def test_a_slice_cut_short(tmp_path, series):
    folder = write_series(tmp_path / "ct", series)
    content = (folder / "003.dcm").read_bytes()
    (folder / "003.dcm").write_bytes(content[: len(content) - 300])
    refused(folder, "003.dcm.*cannot be read")
    (folder / "003.dcm").write_bytes(content[:250])
    refused(folder, "003.dcm")


def test_a_series_of_no_bone(tmp_path):
    matrix = matrix_of(turned())
    sets = slices(np.minimum(ball_ct(matrix), 100), matrix)
    refused(write_series(tmp_path / "ct", sets), "no CT of bone")


def test_slices_are_counted_as_they_are_read(tmp_path, series):
    told = []
    read_ct(write_series(tmp_path / "ct", series), lambda *at: told.append(at))
    assert told == [(k, 18) for k in range(1, 19)]
