"""Letters of a frame: LPS and RAS as NIfTI, NRRD and DICOM define them, and what is no frame."""

from itertools import permutations, product

import numpy as np
import pytest

from trajplan.geometry import OPPOSITE, anatomy_directions


def test_letters_name_where_the_axes_run():
    # LPS: DICOM PS3.3 C.7.6.2.1.1 (x to the left, y to the back, z to the head)
    lps = anatomy_directions("LPS")
    assert lps["L"].tolist() == [1, 0, 0]
    assert lps["A"].tolist() == [0, -1, 0]
    assert lps["I"].tolist() == [0, 0, -1]
    # RAS: nifti1.h, "+x = Right, +y = Anterior, +z = Superior"
    ras = anatomy_directions("ras")
    assert ras["R"].tolist() == [1, 0, 0]
    assert ras["A"].tolist() == [0, 1, 0]
    assert ras["S"].tolist() == [0, 0, 1]
    assert anatomy_directions("LPH")["S"].tolist() == [0, 0, 1]


def test_there_are_forty_eight_frames():
    frames = {
        "".join(letters)
        for order in permutations(("LR", "AP", "SI"))
        for letters in product(*order)
    }
    assert len(frames) == 48
    for frame in frames:
        found = anatomy_directions(frame)
        assert set(found) == set("LRAPSI")
        for k, letter in enumerate(frame):
            assert np.array_equal(found[letter], np.eye(3)[k])
            assert np.array_equal(found[OPPOSITE[letter]], -np.eye(3)[k])


@pytest.mark.parametrize("label", ["", "LP", "LLS", "LRS", "LPSI", "xyz", "scanner", "LPX"])
def test_other_labels_name_no_direction(label):
    assert anatomy_directions(label) == {}
