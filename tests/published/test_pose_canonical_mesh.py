"""Our projection and pose solver on the landmarker's own canonical face, at known poses.

Distances: google-ai-edge/mediapipe, face_model_with_iris.obj, commit 97fe07c4 (read 2026-11), in
centimetres, computed from its vertices. The same mesh travels inside the landmark bundle, from
which this test takes it, so both the published numbers and our reader of the file are held.
A pose put in without noise must come back: < 0.1 degrees.
"""

import struct
import zipfile

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from sitwell.base.errors import ModelError
from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.face.model import model_path
from sitwell.head.bias import LandmarkBias
from sitwell.head.pose import HeadPose, Sighting, first_pose, pose_slope, project
from tests.turned import angle_between_deg

CENTRE = np.array([300.0, 200.0])


def fields(data):
    """Numbers, wire types and values of a protocol-buffer message."""
    at = 0

    def varint():
        nonlocal at
        value = shift = 0
        while True:
            byte = data[at]
            at += 1
            value |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                return value

    while at < len(data):
        key = varint()
        number, wire = key >> 3, key & 7
        if wire == 0:
            yield number, varint()
        else:
            size = varint() if wire == 2 else {5: 4, 1: 8}[wire]
            yield number, data[at : at + size]
            at += size


@pytest.fixture(scope="module")
def mesh_cm():
    """The canonical vertices (468, 3): x to the sitter's own left, y up, z toward the camera."""
    try:
        bundle = zipfile.ZipFile(model_path())
    except ModelError:
        pytest.skip("the landmark model has not been brought")
    with bundle:
        metadata = bundle.read("geometry_pipeline_metadata_landmarks.binarypb")
    mesh = dict(fields(metadata))[1]
    numbers = [struct.unpack("<f", v)[0] for n, v in fields(mesh) if n == 3]
    return np.array(numbers).reshape(-1, 5)[:, :3]


@pytest.mark.parametrize(
    ("first", "second", "cm"),
    [(33, 263, 8.892), (133, 362, 3.713), (127, 356, 15.486), (10, 152, 17.666)],
)
def test_published_distances(mesh_cm, first, second, cm):
    assert_allclose(np.linalg.norm(mesh_cm[first] - mesh_cm[second]), cm, atol=5e-4)


def test_the_nose_tip_is_ahead_of_the_inner_canthi_and_the_temples(mesh_cm):
    # landmark 4 is the foremost point of the tip; 3.829 and 9.592 cm
    assert_allclose(mesh_cm[:, 2].max() - mesh_cm[133, 2], 3.829, atol=5e-4)
    assert_allclose(mesh_cm[:, 2].max() - mesh_cm[127, 2], 9.592, atol=5e-4)


def unbiased(count):
    """A landmarker that puts every landmark exactly where it is."""
    size = 2 * count
    return LandmarkBias(
        directions=np.eye(size),
        offset=np.zeros((10, size)),
        answer=np.zeros((size, size)),
        by_frame=np.eye(size),
        by_sitter=np.zeros((size, size)),
        spread_scale=np.ones(3),
    )


@settings(deadline=None, max_examples=25)
@given(
    st.floats(-50, 50), st.floats(-25, 25), st.floats(-25, 25), st.floats(400, 4000),
    st.floats(-150, 150), st.floats(-150, 150),
)  # fmt: skip
def test_a_known_pose_comes_back(mesh_cm, turn, chin, tilt, distance, aside, above):
    points = mesh_cm * 10.0
    pose = HeadPose(
        rotation=rotation_from_pose(turn, chin, tilt),
        place_mm=np.array([aside, above, -distance]),
    )
    focal = find_focal(ExifFacts(), 600, 400, focal_35_mm=60.0)
    seen = project(points, pose, focal.px, CENTRE)
    sighting = Sighting(landmarks_px=seen, centre_px=CENTRE, focal=focal)
    found = first_pose(points, seen, focal.px, CENTRE)
    exact = unbiased(len(points))
    for _ in range(15):
        slope, rest = pose_slope(points, points, found, focal.px, sighting, exact)
        found = found.moved(np.linalg.lstsq(slope, rest, rcond=None)[0])
    assert angle_between_deg(found.rotation, pose.rotation) < 0.1
    assert_allclose(found.distance_mm, pose.distance_mm, rtol=1e-3)
