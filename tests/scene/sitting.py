"""A sitting whose truth is known: an invented head, painted with an invented pattern, and frames.

The reading is put together from what the frames were made with, so that these tests ask only what
the skin does, not how well a face is read.
"""

import dataclasses

import numpy as np
from PIL import Image
from scipy.spatial import cKDTree

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
from sitwell.scene.paint import Paint
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import Setup
from sitwell.scene.skin import EyeColours, Skin
from sitwell.scene.skin_cover import cover
from sitwell.scene.skin_eyes import WEIGHTS

SHAPE = {"ear_wing": 0.3, "nose_lean": -0.3}
EYES = EyeColours(
    white=np.array([0.60, 0.58, 0.55]), iris=np.array([0.10, 0.16, 0.24]), pupil_mm=1.9
)
HEIGHT_PX = 800


def painted(head):
    """Brown skin with soft blotches and small dark spots, the same recipe on any head."""
    ground = cover(head)
    grid, places = ground.grid, ground.places(slice(None))
    waves = np.sin(places @ np.array([[0.11, 0.05, 0.0], [0.0, 0.13, 0.07], [0.06, 0.0, 0.12]]))
    tone = np.array([0.30, 0.20, 0.14]) * (1.0 + 0.18 * waves)
    rng = np.random.default_rng(7)
    spots = places[rng.choice(len(places), 260, replace=False)]
    near = cKDTree(spots).query(places)[0] < 1.6
    tone[near] *= 0.55
    texels = np.column_stack([tone, np.ones(len(tone))]).astype(np.float32)
    return Skin(
        paint=Paint(first=grid.first, steps=grid.steps, texels=texels),
        known=np.ones(len(head.triangles)),
        eyes=dict.fromkeys(("own_left", "own_right"), EYES),
        luminance=0.22,
        files=("nobody",),
    )


def exposed(skin, factor):
    """The same skin under so much more or less exposure."""
    texels = skin.paint.texels.copy()
    texels[:, :3] *= factor
    return dataclasses.replace(
        skin,
        paint=dataclasses.replace(skin.paint, texels=texels),
        eyes={side: eye.exposed(factor) for side, eye in skin.eyes.items()},
        luminance=skin.luminance * factor,
    )


def tone_of(head, skin):
    """The luminance of the paint on the middle of the face."""
    return float((skin.paint.texels[cover(head).middle, :3] @ WEIGHTS).mean())


def setups(turns_deg, **changes):
    setup = Setup(
        gaze="ahead", framing="tight-head", aspect="2:3", background_stops=-0.5, **changes
    )
    setup = setup.with_changes(distance_mm=distance_for_framing(setup))
    return [setup.with_changes(turn_deg=turn_deg) for turn_deg in turns_deg]


def take(folder, head, skin, taken, tint=None):
    """Frames in ``folder`` and the reading that knows how they were made."""
    sculpture = Sculpture(head, skin)
    frames = []
    for number, setup in enumerate(taken):
        shot = sculpture.photograph(setup, HEIGHT_PX)
        path = folder / f"frame-{number}.png"
        rgb = shot.rgb if tint is None else _on(tint, shot.rgb)
        Image.fromarray(rgb).save(path)
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


def _on(tint, rgb):
    """The same picture before a background of another colour."""
    ground = rgb[2, 2].astype(int)
    off = np.abs(rgb.astype(int) - ground).max(axis=2, keepdims=True) < 4
    return np.where(off, np.array(tint, dtype=np.uint8), rgb)


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
