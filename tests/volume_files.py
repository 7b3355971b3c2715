"""Small volumes of bodies whose place is known, written as scanners and other programs do."""

from __future__ import annotations

import numpy as np

#: No two sizes, spacings or directions are equal, so that no mixed-up axis goes unseen.
SIZE, SPACING = (26, 22, 18), (0.9, 1.1, 1.25)  # i, j, k
ORIGIN = np.array([-31.0, 12.0, 205.0])
CENTRE = np.array([-20.5, 25.0, 216.0])  # of the ball, LPS mm
RADIUS = 5.0
AIR, SOFT, BONE = -1000, 40, 900  # HU


def turned(degrees=0.0):
    """Directions of i, j, k as columns, turned about an oblique axis."""
    from scipy.spatial.transform import Rotation

    axis = np.array([0.34, 0.53, 0.78])
    return Rotation.from_rotvec(np.deg2rad(degrees) * axis / np.linalg.norm(axis)).as_matrix()


def matrix_of(directions, spacing=SPACING, origin=ORIGIN):
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = directions * spacing, origin
    return matrix


def places(matrix, size=SIZE):
    """(k, j, i, 3) places of the voxels."""
    i, j, k = np.meshgrid(*map(np.arange, size), indexing="ij")
    index = np.stack([i, j, k], axis=-1).transpose(2, 1, 0, 3)
    return index @ matrix[:3, :3].T + matrix[:3, 3]


def ball(matrix, size=SIZE, centre=CENTRE, radius=RADIUS):
    """Whether each voxel lies in the ball."""
    return np.linalg.norm(places(matrix, size) - centre, axis=-1) < radius


def ball_ct(matrix, size=SIZE):
    """A ball of bone in soft tissue, air in the first rows."""
    values = np.where(ball(matrix, size), BONE, SOFT).astype(np.int16)
    values[:, :2] = AIR
    return values


def found_centre(values, grid):
    """Middle of what is as dense as bone, LPS mm."""
    k, j, i = np.nonzero(values > (BONE + SOFT) / 2)
    return grid.points(np.column_stack([i, j, k])).mean(axis=0)


def slices(values, matrix, **keys):
    """A DICOM data set for every slice, in the order of k."""
    import pydicom
    from pydicom.uid import CTImageStorage, ExplicitVRLittleEndian, generate_uid

    series, frame = generate_uid(entropy_srcs=["series"]), generate_uid(entropy_srcs=["frame"])
    found = []
    for k, pixels in enumerate(values):
        one = pydicom.Dataset()
        one.file_meta = pydicom.dataset.FileMetaDataset()
        one.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
        one.SOPClassUID = one.file_meta.MediaStorageSOPClassUID = CTImageStorage
        one.SOPInstanceUID = one.file_meta.MediaStorageSOPInstanceUID = generate_uid(
            entropy_srcs=["slice", str(k)]
        )
        one.StudyInstanceUID, one.SeriesInstanceUID = generate_uid(entropy_srcs=["study"]), series
        one.FrameOfReferenceUID, one.Modality, one.SeriesNumber = frame, "CT", 3
        one.PatientName = one.PatientID = one.PatientBirthDate = one.PatientSex = ""
        one.AccessionNumber = one.StudyDate = one.StudyTime = one.StudyID = ""
        one.ReferringPhysicianName = ""
        one.InstanceNumber = k + 1
        edges = matrix[:3, :2]
        lengths = np.linalg.norm(edges, axis=0)
        one.ImageOrientationPatient = [round(x, 8) for x in (edges / lengths).T.ravel()]
        one.ImagePositionPatient = [round(x, 6) for x in matrix[:3, 3] + k * matrix[:3, 2]]
        one.PixelSpacing = [round(lengths[1], 6), round(lengths[0], 6)]
        one.Rows, one.Columns = pixels.shape
        one.SamplesPerPixel, one.PhotometricInterpretation = 1, "MONOCHROME2"
        one.BitsAllocated = one.BitsStored = 16
        one.HighBit, one.PixelRepresentation = 15, 1
        one.RescaleSlope, one.RescaleIntercept, one.RescaleType = 1, -1024, "HU"
        one.SliceThickness = round(float(np.linalg.norm(matrix[:3, 2])), 6)
        one.KVP, one.ConvolutionKernel = 120, "B60"
        for key, value in keys.items():
            setattr(one, key, value)
        stored = np.round((pixels - float(one.RescaleIntercept)) / float(one.RescaleSlope))
        one.PixelData = stored.astype("<i2").tobytes()
        found.append(one)
    return found


def write_series(folder, sets, names=None):
    folder.mkdir(parents=True, exist_ok=True)
    for number, one in enumerate(sets):
        name = names[number] if names else f"{number:03d}.dcm"
        one.save_as(folder / name, enforce_file_format=True)
    return folder


def write_volume(path, values, matrix):
    """Write by SimpleITK, which keeps LPS in every form."""
    import SimpleITK as sitk

    image = sitk.GetImageFromArray(values)
    spacing = np.linalg.norm(matrix[:3, :3], axis=0)
    image.SetSpacing(spacing.tolist())
    image.SetDirection((matrix[:3, :3] / spacing).ravel().tolist())
    image.SetOrigin(matrix[:3, 3].tolist())
    sitk.WriteImage(image, str(path))
    return path
