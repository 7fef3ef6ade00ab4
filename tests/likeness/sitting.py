"""A sitting whose truth is known: an invented head, painted with an invented pattern, and frames.

The reading is put together from what the frames were made with, so that these tests ask only what
the skin does, not how well a face is read.
"""

import numpy as np
from PIL import Image

from builders.pictures.plain_frames import photographed
from sitwell.base.rotations import rotation_from_pose
from sitwell.brief.focal import Focal
from sitwell.face.landmarks import FaceReading
from sitwell.head.basis import USED_LANDMARKS, landmarks_on
from sitwell.head.bias import load_bias
from sitwell.head.fit import Fit, FittedFrame
from sitwell.head.pose import HeadPose, project, upright_axes
from sitwell.head.problem import Known
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.shading import LightReading
from sitwell.head.spread import FrameSpread
from sitwell.scene.framing import distance_for_framing
from sitwell.scene.setup import Setup

SHAPE = {"ear_wing": 0.3, "nose_lean": -0.3}
HEIGHT_PX = 800
BROWN_STOPS = -1.1  # the invented brown against the plain head's skin


def setups(turns_deg, **changes):
    setup = Setup(
        gaze="ahead", framing="tight-head", aspect="2:3", background_stops=-0.5, **changes
    )
    setup = setup.with_changes(distance_mm=distance_for_framing(setup))
    return [setup.with_changes(turn_deg=turn_deg) for turn_deg in turns_deg]


def framed(sculpture, setup):
    """The brown head's frame, whose ground has the set-up's tone against the brown."""
    ground_stops = setup.background_stops + BROWN_STOPS
    return photographed(sculpture, setup.with_changes(background_stops=ground_stops), HEIGHT_PX)


def take(folder, head, sculpture, taken):
    """Frames in ``folder`` and the reading that knows how they were made."""
    frames = []
    for number, setup in enumerate(taken):
        shot = framed(sculpture, setup)
        path = folder / f"frame-{number}.png"
        Image.fromarray(shot.rgb).save(path)
        frames.append(_frame(path, head, setup, shot))
    sure = np.zeros((len(head.shape), len(head.shape)))
    fit = Fit(
        head=head,
        frames=tuple(frame.fitted for frame in frames),
        strain=1.0,
        shape_covariance=sure,
        size_share=0.0,
        known=Known(values=np.zeros(1), tightness=np.eye(1)),
    )
    return Reading(frames=tuple(frames), fit=fit, notes=())


def _frame(path, head, setup, shot):
    camera = shot.view.camera
    height, width = shot.rgb.shape[:2]
    scale = shot.window[2]
    rotation = camera.axes @ rotation_from_pose(setup.turn_deg, setup.chin_deg, setup.tilt_deg)
    pose = HeadPose(
        rotation=rotation, place_mm=(shot.view.eyes_mm - camera.lens_mm) @ camera.axes.T
    )
    centre = np.array([width, height]) / 2.0
    turn_deg, chin_deg, tilt_deg = pose.seen_deg
    bias = load_bias()
    slid_mm = (bias.at(turn_deg, chin_deg) @ bias.directions).reshape(-1, 2)
    seen = project(landmarks_on(head), pose, scale, centre)
    seen += slid_mm @ upright_axes(tilt_deg) * scale / -pose.place_mm[2]
    landmarks = np.zeros((478, 2))
    landmarks[USED_LANDMARKS] = seen
    for index, side in ((468, "own_right"), (473, "own_left")):
        landmarks[index] = shot.place_px(f"iris_{side}")
    face = FaceReading(
        landmarks_px=landmarks, depth_px=np.zeros(478), blendshapes={}, matrix=np.eye(4)
    )
    focal = Focal(px=scale, lens_mm=None, equivalent_mm=85.0, spread=0.0, source="given")
    fitted = FittedFrame(
        pose=pose,
        focal=focal,
        spread=FrameSpread(turn_deg=0.1, chin_deg=0.1, tilt_deg=0.1, distance_mm=1.0),
        shape=head.shape.astype(np.float64),
        expression=head.expression.astype(np.float64),
    )
    light = LightReading(
        key_azimuth_deg=setup.key_azimuth_deg,
        key_elevation_deg=setup.key_elevation_deg,
        spread_deg=5.0,
        fill_ratio=setup.fill_ratio,
        key_share=1.0 - 1.0 / setup.fill_ratio,
    )
    return FrameReading(
        file=path.name,
        faces=1,
        path=path,
        size_px=(width, height),
        focal=focal,
        face=face,
        fitted=fitted,
        light=light,
    )
