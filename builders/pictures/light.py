"""Light on an invented scene: a studio's or a place's, with shadows, and panes before eyes."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from builders.pictures.camera import background
from builders.pictures.canvas import (
    SHADOW_PX,
    Canvas,
    View,
    cast_depth,
    cast_spots,
    draw_mesh,
    light_pixels,
)
from builders.pictures.places import places, ways
from builders.pictures.scene import Given, Scene
from sitwell.base.rotations import direction_from_angles
from sitwell.face.parts import Part

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Lights (L, 6), a direction and a colour each, how soft (L,) their shadows are, the light
    ``around`` (6, 3) from +x, -x, +y, -y, +z and -z, and what lies ``behind`` (S, S, 3) the sitter.
    """

    lights: Floats
    softness: Floats
    around: Floats
    behind: Floats


def drawn_light(given: Given, size: int, rng: np.random.Generator) -> Light:
    """A studio's light or a place's."""
    if given.places is not None and rng.random() < 0.5:
        return _place_light(places(given.places), size, rng)
    warm = np.exp(rng.normal(0, 0.12, 3))
    kind = rng.random()
    azimuth, elevation = rng.uniform(-95, 95), rng.uniform(-10, 70)
    lights = [np.r_[direction_from_angles(azimuth, elevation), rng.uniform(0.3, 1.3) * warm]]
    if kind < 0.2:  # nearly even
        lights[0][3:] *= rng.uniform(0.03, 0.4)
    elif kind < 0.35:  # from both sides
        lights[0][:3] = direction_from_angles(-(a := rng.uniform(20, 90)), elevation)
        other = rng.uniform(0.2, 0.9) * np.exp(rng.normal(0, 0.1, 3))
        lights.append(np.r_[direction_from_angles(a, elevation), other])
    elif kind < 0.5:  # from straight before or above
        lights[0][:3] = direction_from_angles(rng.normal(0, 8), rng.uniform(0, 60))
    for _ in range(rng.integers(0, 3)):
        way = direction_from_angles(rng.uniform(-170, 170), rng.uniform(-30, 60))
        lights.append(np.r_[way, rng.uniform(0.05, 0.7) * np.exp(rng.normal(0, 0.2, 3))])
    fill = rng.uniform(0.02, 0.6) * np.exp(rng.normal(0, 0.1, 3))
    around = fill * np.exp(rng.normal(0, 0.35, (6, 1)))
    around[3] *= rng.uniform(0.2, 0.9)
    return Light(
        lights=np.array(lights, np.float32),
        softness=rng.uniform(0.3, 9.0, len(lights)).astype(np.float32),
        around=around.astype(np.float32),
        behind=background(size, rng),
    )


def _place_light(pictures: Floats, size: int, rng: np.random.Generator) -> Light:
    """The light of surroundings: their few brightest spots, and the rest from six sides."""
    picture = pictures[int(rng.integers(len(pictures)))]
    picture = np.roll(picture, int(rng.integers(picture.shape[1])), axis=1)
    small = cv2.resize(picture, (64, 32), interpolation=cv2.INTER_AREA)
    way = ways(32, 64)
    share = (
        np.sin((np.arange(32) + 0.5) / 32 * np.pi)[:, None, None] * (2 * np.pi / 64) * (np.pi / 32)
    )
    left = (small * share).reshape(-1, 3).astype(np.float64)
    ahead = way.reshape(-1, 3).astype(np.float64)
    lights, soft = [], []
    for _ in range(int(rng.integers(2, 5))):
        spot = int(np.argmax(left.sum(axis=1)))
        near = ahead @ ahead[spot] > np.cos(np.radians(rng.uniform(18, 30)))
        colour = left[near].sum(axis=0)
        weight = left[near].sum(axis=1)
        mean = (ahead[near] * weight[:, None]).sum(axis=0)
        spread = 1.0 - np.linalg.norm(mean) / max(weight.sum(), 1e-9)
        lights.append(np.r_[mean / np.linalg.norm(mean), colour])
        soft.append(1.0 + 60.0 * float(np.sqrt(max(spread, 0.0))))
        left[near] = 0.0
    around = []
    for axis in range(3):
        for sign in (1.0, -1.0):
            facing = np.clip(sign * ahead[:, axis], 0, None)
            around.append((left * facing[:, None]).sum(axis=0) / np.pi)
    made, around_ = np.array(lights), np.array(around)
    made[:, 3:] /= np.pi
    total = made[:, 3:].mean(axis=1).sum() * 0.5 + around_.mean()
    made[:, 3:] /= total
    around_ /= total
    grey = rng.uniform(0, 0.8)  # as a camera's white balance takes the cast away
    for colours in (made[:, 3:], around_):
        colours[:] = colours * (1 - grey) + grey * colours.mean(axis=1, keepdims=True)
    # behind the sitter lies the picture's two ends: where the camera looks
    behind = np.roll(picture, picture.shape[1] // 2, axis=1)
    wide = int(rng.uniform(30, 140))
    top = int(np.clip(rng.normal(128, 14) - wide / 2, 0, 256 - wide))
    piece = behind[top : top + wide, 256 - wide // 2 : 256 - wide // 2 + wide]
    piece = cv2.resize(np.ascontiguousarray(piece), (size, size), interpolation=cv2.INTER_CUBIC)
    piece = np.clip(piece * rng.uniform(0.15, 1.0) / max(float(np.median(piece)), 1e-3), 0, 3)
    if rng.random() < 0.5:
        piece = cv2.GaussianBlur(piece, (0, 0), rng.uniform(2, 20))
    return Light(
        lights=made.astype(np.float32), softness=np.array(soft, np.float32),
        around=around_.astype(np.float32), behind=piece.astype(np.float32),
    )  # fmt: skip


def rays_of(canvas: Canvas, view: View) -> Floats:
    """x / depth and y / depth (H, W, 2) of each pixel."""
    high, wide = canvas.near.shape
    grid = np.stack(np.meshgrid(np.arange(wide) + 0.5, np.arange(high) + 0.5), -1) - view.origin
    return (grid @ np.linalg.inv(view.axes).T * [1.0, -1.0]).astype(np.float32)


def lit(canvas: Canvas, view: View, scene: Scene, place: Floats, light: Light) -> Floats:
    """Linear light (H, W, 3) off what a canvas shows."""
    cast = [_shadow(scene, np.asarray(way[:3]), place) for way in light.lights]
    out = np.zeros_like(canvas.colour)
    light_pixels(
        canvas.near, canvas.kind, canvas.colour, canvas.normal, canvas.gloss,
        rays_of(canvas, view), _open_sky(canvas.near), light.lights, light.around,
        np.stack([shadow for shadow, _ in cast]),
        np.stack([way for _, way in cast]).astype(np.float32), light.softness, 4.0, 5, out,
    )  # fmt: skip
    return out


def from_all_round(lights: Floats, rng: np.random.Generator) -> Light:
    """These lights (L, 6) with some light from all round, less of it from below."""
    sky = rng.uniform(0.1, 0.6) * np.exp(rng.normal(0, 0.1, 3))
    around = np.tile(sky * 0.8, (6, 1))
    around[2], around[3] = sky, sky * rng.uniform(0.2, 0.9)
    return Light(
        lights=lights.astype(np.float32),
        softness=rng.uniform(0.3, 7.0, len(lights)).astype(np.float32),
        around=around.astype(np.float32),
        behind=np.zeros((1, 1, 3), np.float32),
    )


def _shadow(scene: Scene, way: Floats, place: Floats) -> tuple[Floats, Floats]:
    """What lies nearest to the key over a grid 560 mm wide, and the way (3, 4) onto it."""
    across = np.cross([0.0, 1.0, 0.0], way)
    across /= np.linalg.norm(across)
    axes = np.stack([across, np.cross(way, across), way])
    scale = SHADOW_PX / 560.0
    axes[:2] *= scale
    middle = np.r_[np.full(2, SHADOW_PX / 2), 0.0] - np.r_[(axes @ place)[:2], 0.0]
    shadow = np.full((SHADOW_PX, SHADOW_PX), -1e9, np.float32)
    for mesh in scene.meshes:
        points = (mesh.points_mm @ axes.T + middle).astype(np.float32)
        cast_depth(points, mesh.triangles, shadow)
    for strokes in scene.strokes:
        points = (strokes.points_mm.reshape(-1, 3) @ axes.T + middle).astype(np.float32)
        radius = round(float(np.median(strokes.radius_mm)) * scale)
        cast_spots(points, min(radius, 8), shadow)
    return shadow, np.hstack([axes, middle[:, None]])


def _open_sky(near: Floats) -> Floats:
    """A guess at how open each pixel lies: darker where its surroundings stand before it."""
    depth = np.where(near > 0, 1.0 / np.maximum(near, 1e-6), np.nan)
    far = float(np.nanmedian(depth)) + 200.0 if np.isfinite(depth).any() else 1000.0
    depth = np.nan_to_num(depth, nan=far).astype(np.float32)
    shade = np.ones_like(depth)
    for size_px, reach_mm in ((5, 5.0), (15, 18.0)):
        before = depth - cv2.GaussianBlur(depth, (0, 0), size_px / 2)
        shade *= 1.0 - 0.45 * np.clip(before / reach_mm, 0.0, 1.0)
    return shade.astype(np.float32)


def glaze(
    canvas: Canvas, linear: Floats, view: View, scene: Scene, rng: np.random.Generator
) -> None:
    """Lay panes over what lies behind them: their own dark and a reflection."""
    mirrored = scene.dark > 0.4 and rng.random() < 0.6
    mirror = background(128, rng) * np.exp(rng.uniform(np.log(0.1), np.log(1.5)))
    mirror = (mirror * np.exp(rng.normal(0, 0.3, 3))).astype(np.float32)
    for pane in scene.panes:
        over = Canvas.empty(*canvas.near.shape)
        draw_mesh(over, view, pane)
        shown = over.near > canvas.near
        linear[shown] *= 1.0 - scene.dark
        if rng.random() < 0.5:
            ramp = np.linspace(0, 1, len(linear)) ** rng.uniform(1, 4) * rng.uniform(0, 0.6)
            glow = np.roll(ramp, int(rng.integers(len(ramp))))[:, None, None]
            linear += np.where(shown[..., None], glow * rng.uniform(0.3, 1.0, 3), 0.0)
        if scene.dark > 0.4:
            canvas.label[shown] = Part.GLASSES
            if mirrored:  # a small, upright picture of what lies behind the camera
                x, y, wide, high = cv2.boundingRect(shown.astype(np.uint8))
                if wide > 3 and high > 3:
                    seen = cv2.resize(mirror, (wide, high), interpolation=cv2.INTER_AREA)
                    inside = shown[y : y + high, x : x + wide, None]
                    linear[y : y + high, x : x + wide] += inside * seen
