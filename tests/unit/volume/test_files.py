"""Volumes in files: one place in every form, refused where the place or the content is not sure."""

import gzip
import struct
import sys

import numpy as np
import pytest
from volume_files import ball, ball_ct, matrix_of, slices, turned, write_volume

from trajplan.errors import VolumeError
from trajplan.volume import read_ct, read_labels

FORMS = ("a.nii", "a.nii.gz", "a.nrrd", "a.mha", "a.mhd")


def refused(read, path, word):
    with pytest.raises(VolumeError, match=word) as caught:
        read(path)
    assert "\n" not in str(caught.value)


def patched(path, *parts):
    content = bytearray(path.read_bytes())
    for at, layout, *values in parts:
        struct.pack_into("<" + layout, content, at, *values)
    path.write_bytes(content)
    return path


@pytest.fixture
def nifti(tmp_path):
    matrix = matrix_of(turned())
    return write_volume(tmp_path / "a.nii", ball_ct(matrix), matrix)


@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("hand", [1, -1])
def test_every_form_has_one_place(tmp_path, name, hand):
    """Written by a general library; a matrix that is left-handed stays so."""
    matrix = matrix_of(turned(50) * [1, 1, hand])
    values = ball_ct(matrix)
    values[0, 0, 0] = 700  # no direction is like another
    ct = read_ct(write_volume(tmp_path / name, values, matrix))
    assert np.abs(ct.grid.matrix - matrix).max() < 1e-4
    assert ct.grid.left_handed == (hand < 0)
    assert (ct.values == values).all()
    assert ct.source.form in ("NIfTI", "NRRD", "MetaImage")


def test_labels_keep_their_numbers(tmp_path):
    matrix = matrix_of(turned(20))
    values = ball(matrix).astype(np.float64) * 300
    found = read_labels(write_volume(tmp_path / "a.nrrd", values, matrix))
    assert found.counts == {300: int(ball(matrix).sum())}
    assert (found.values.dtype, found.name(300)) == (np.uint16, "label 300")


def test_a_nifti_with_two_places(nifti):
    refused(read_ct, patched(nifti, (292, "f", 25.0)), "two places that differ by")


def test_a_nifti_with_one_of_its_places(nifti):
    at = read_ct(nifti).grid.matrix
    for code in (252, 254):
        content = nifti.read_bytes()
        assert np.abs(read_ct(patched(nifti, (code, "h", 0))).grid.matrix - at).max() < 1e-4
        nifti.write_bytes(content)


def test_a_nifti_without_a_place(nifti):
    refused(read_ct, patched(nifti, (252, "hh", 0, 0)), "does not say where")


def test_a_nifti_in_metres_and_one_without_a_unit(nifti):
    at = read_ct(nifti).grid.matrix
    assert "names no unit" in read_ct(patched(nifti, (123, "B", 0))).cautions[0]
    metres = read_ct(patched(nifti, (123, "B", 1))).grid.matrix
    assert np.abs(metres[:3] - 1000 * at[:3]).max() < 0.1


def test_a_sheared_nifti_is_never_straightened(nifti):
    patched(nifti, (252, "h", 0), (284, "f", 0.4))  # i also depends on j
    refused(read_ct, nifti, "cannot be read|two ways")


def test_four_dimensions_and_colours(tmp_path, nifti):
    refused(read_ct, patched(nifti, (40, "8h", 4, 26, 22, 9, 2, 1, 1, 1)), "no single volume")
    import SimpleITK as sitk

    colours = sitk.GetImageFromArray(np.zeros((3, 4, 5, 3), np.uint8), isVector=True)
    for name in ("c.nii", "c.nrrd", "c.mha"):
        sitk.WriteImage(colours, str(tmp_path / name))
        refused(read_ct, tmp_path / name, "no single volume")


@pytest.mark.parametrize("name", FORMS[:4])
def test_a_file_cut_short(tmp_path, name, capfd):
    matrix = matrix_of(turned())
    noise = np.random.default_rng(0).integers(-900, 900, ball(matrix).shape, dtype=np.int16)
    path = write_volume(tmp_path / name, noise, matrix)
    if name == "a.mha":  # packed, as .nii.gz is
        import SimpleITK as sitk

        sitk.WriteImage(sitk.ReadImage(str(path)), str(path), True)
    content = path.read_bytes()
    for share in (0.9, 0.5, 0.004):
        path.write_bytes(content[: int(share * len(content))])
        refused(read_ct, path, "a.n|a.m")
    assert capfd.readouterr() == ("", "")


def test_files_that_are_none(tmp_path):
    (tmp_path / "empty.nii").write_bytes(b"")
    refused(read_ct, tmp_path / "empty.nii", "0 bytes")
    for name in ("text.nii", "text.nii.gz", "text.nrrd", "text.mha"):
        (tmp_path / name).write_text("no volume at all, only words; " * 40)
        refused(read_ct, tmp_path / name, "no ")
    (tmp_path / "bone.stl").write_text("solid\nendsolid\n" * 20)
    refused(read_labels, tmp_path / "bone.stl", "no volume ends")
    refused(read_labels, tmp_path, "folder")
    refused(read_ct, tmp_path / "missing.nii", "no such file")
    with gzip.open(tmp_path / "bare.nii.gz", "wb") as stream:
        stream.write(b"\0" * 400)
    refused(read_ct, tmp_path / "bare.nii.gz", "no NIfTI-1")


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("a.nrrd", b"space: left-posterior-superior\n", b"# space\n"),
        ("a.nrrd", b"space origin", b"space xrigin"),
        ("a.mha", b"TransformMatrix", b"TransformMatrxx"),
        ("a.mha", b"Offset", b"Offxxx"),
    ],
)
def test_a_header_without_a_place(tmp_path, name, old, new):
    matrix = matrix_of(turned())
    path = write_volume(tmp_path / name, ball_ct(matrix), matrix)
    path.write_bytes(path.read_bytes().replace(old, new))
    refused(read_ct, path, "does not say where")


def test_what_is_no_ct_and_what_are_no_labels(tmp_path):
    matrix = matrix_of(turned())
    ct, inside = ball_ct(matrix), ball(matrix)
    share = write_volume(tmp_path / "share.nrrd", ct / 1000.0, matrix)
    refused(read_ct, share, "no CT of bone in Hounsfield units")
    refused(read_labels, share, "no labels")
    refused(read_labels, write_volume(tmp_path / "ct.nrrd", ct, matrix), "no labels")
    none = write_volume(tmp_path / "none.nrrd", np.zeros(inside.shape, np.uint8), matrix)
    refused(read_labels, none, "empty")
    full = write_volume(tmp_path / "full.nrrd", np.ones(inside.shape, np.uint8), matrix)
    refused(read_labels, full, "nothing is outside it")


def test_more_than_the_memory_holds(nifti, monkeypatch):
    monkeypatch.setattr("trajplan.volume._memory.free_memory", lambda: 1000)
    refused(read_ct, nifti, "GB are free")


@pytest.mark.parametrize("package", ["SimpleITK", "pydicom"])
def test_without_the_extra_one_line_says_what_to_install(tmp_path, nifti, monkeypatch, package):
    monkeypatch.setitem(sys.modules, package, None)
    (tmp_path / "series").mkdir()
    path = nifti if package == "SimpleITK" else tmp_path / "series"
    refused(read_ct, path, r"pip install -e '\.\[ct\]'")


@pytest.mark.parametrize("kind", ["BINARY", "LABELMAP"])
def test_a_segmentation_lies_where_its_ct_does(tmp_path, kind):
    """Most of its slices are empty and left out; a gap inside it too."""
    import highdicom as hd
    from pydicom.sr.codedict import codes

    matrix = matrix_of(turned(25))
    sets = slices(ball_ct(matrix), matrix)
    inside = ball(matrix, radius=3.5).astype(np.uint8)
    inside[11] = 0
    inside[2, 4:7, 5:9] = 2
    parts = [
        hd.seg.SegmentDescription(n, f"part {n}", codes.SCT.Tissue, codes.SCT.Tissue, "MANUAL")
        for n in (1, 2)
    ]
    made = hd.seg.Segmentation(
        sets, inside, kind, parts, "1.2.3.4", 1, "1.2.3.4.5", 1, "none", "none", "1", "1"
    )
    made.save_as(tmp_path / "seg.dcm")
    found = read_labels(tmp_path / "seg.dcm")
    assert found.names == {1: "part 1", 2: "part 2"}
    assert found.source.frame == sets[0].FrameOfReferenceUID
    for label in (1, 2):
        k, j, i = np.nonzero(inside == label)
        wanted = np.column_stack([i, j, k]) @ matrix[:3, :3].T + matrix[:3, 3]
        k, j, i = np.nonzero(found.values == label)
        there = found.grid.points(np.column_stack([i, j, k]))
        assert np.abs(np.sort(there, axis=0) - np.sort(wanted, axis=0)).max() < 1e-3
    refused(read_ct, tmp_path / "seg.dcm", "DICOM file")
    sets[0].save_as(tmp_path / "slice.dcm", enforce_file_format=True)
    refused(read_labels, tmp_path / "slice.dcm", "no segmentation")
