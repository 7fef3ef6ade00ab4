"""A studio for the sitters of ``faces.py`` in Mitsuba 3: lens, lights, room and camera.

Light bounces, skin is glossy, eyes are wet; the camera adds grain, a tone curve and a colour cast.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray

from builders.head.mesh import eyeball as unit_cap
from builders.references import mitsuba_scene as studio
from builders.traced.skin import (
    Look,
    corner_normals,
    eye_surface,
    eyeball,
    pore_bumps,
    rounded,
    skin_regions,
    skin_surface,
)
from sitwell.base.rotations import camera_axes, direction_from_angles
from sitwell.head.pose import HeadPose
from sitwell.head.regions import Region
from sitwell.head.surface import SIDES, Head

Array = NDArray[np.float64]
SIZE_PX, SAMPLES, BOUNCES = 640, 20, 4
_GRAIN = 0.008
_SHIRT_MM, _SHIRT_RADII_MM = (0.0, -282.0, -108.0), (225.0, 135.0, 112.0)
_BACKDROP_MM = 2500.0
_CLEAR_MM = 220.0  # that the lens sees to either side of the sitter's eyes, and a little more
_LOOK_PX, _LEAST_EAR_MM2 = 320, 150.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """The light of one frame; directions in degrees against the line of sight, lengths in mm.

    ``second`` is another, weaker light (azimuth, elevation, share of the key), ``room`` the even
    light from all round (3,), ``backdrop`` its reflectance (3,), ``exposure`` the camera's gain.
    """

    azimuth_deg: float
    elevation_deg: float
    distance_mm: float
    radius_mm: float
    second: tuple[float, float, float] | None
    room: Array
    backdrop: Array
    exposure: float
    cast: Array

    @property
    def sources(self) -> tuple[tuple[float, float, float], ...]:
        """Azimuth, elevation and strength of each light, the key first."""
        key = (self.azimuth_deg, self.elevation_deg, 1.0)
        return (key,) if self.second is None else (key, self.second)


@dataclass(frozen=True, slots=True, kw_only=True)
class Posed:
    """One frame's head in the camera frame: ``body`` and what is ``worn`` as Mitsuba's parts."""

    pose: HeadPose
    body: Mapping[str, Any]
    worn: Mapping[str, Any]


def draw_light(tone: Array, rng: np.random.Generator) -> Light:
    """A key of any size and place with fill, sometimes a second light or a tinted room."""
    while True:
        light = _any_light(tone, rng)
        if not any(_is_before_lens(light, *place[:2]) for place in light.sources):
            return light


def _is_before_lens(light: Light, azimuth_deg: float, elevation_deg: float) -> bool:
    """Whether a light there stands between the lens and the sitter."""
    toward = direction_from_angles(azimuth_deg, elevation_deg)
    aside = light.distance_mm * float(np.hypot(toward[0], toward[1]))
    return bool(toward[2] > 0.0 and aside < light.radius_mm + _CLEAR_MM)


def _any_light(tone: Array, rng: np.random.Generator) -> Light:
    tint = np.exp(rng.normal(0.0, 0.18, 3)) if rng.random() < 0.35 else np.ones(3)
    second = None
    if rng.random() < 0.3:
        second = (float(rng.uniform(-150, 150)), float(rng.uniform(0, 50)), rng.uniform(0.15, 0.5))
    bright = float(tone @ (0.3, 0.6, 0.1))
    return Light(
        azimuth_deg=float(rng.uniform(-65, 65)),
        elevation_deg=float(rng.uniform(5, 55)),
        distance_mm=float(rng.uniform(800, 2400)),
        radius_mm=float(np.exp(rng.uniform(np.log(60), np.log(500)))),
        second=second,
        room=rng.uniform(0.1, 0.4) * tint / tint.mean(),
        backdrop=np.exp(rng.uniform(np.log(0.03), np.log(0.7))) * tint,
        exposure=float((0.3 / bright) ** 0.6 * np.exp(rng.normal(0.0, 0.15))),
        cast=np.exp(rng.normal(0.0, 0.04, 3)),
    )


def photograph(
    posed: Posed, light: Light, focal_px: float, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """The picture (SIZE_PX, SIZE_PX, 3) in sRGB by a lens of ``focal_px``."""
    scene = {"type": "scene", **posed.body, **posed.worn, **_lights(posed.pose, light)}
    scene["camera"] = studio.camera(np.zeros(3), np.eye(3), SIZE_PX / 2.0 / focal_px, SIZE_PX) | {
        "film": {"type": "hdrfilm", "width": SIZE_PX, "height": SIZE_PX}
    }
    # null surfaces let light through to what is behind a thin lens
    integrator = mitsuba.load_dict({"type": "volpath", "max_depth": BOUNCES})
    seed: Any = int(rng.integers(1 << 30))
    rendered = mitsuba.render(
        mitsuba.load_dict(scene), integrator=integrator, spp=SAMPLES, seed=seed
    )
    linear = np.array(rendered)[..., :3]
    return developed(linear * light.exposure * light.cast, rng)


@dataclass(frozen=True, slots=True, kw_only=True)
class Covered:
    """What a frame's things in the way take of it; see ``Shot`` in ``sittings.py``."""

    covers: dict[str, float]
    ears_shown: tuple[float | None, float | None]


def look_at(posed: Posed, focal_px: float) -> Covered:
    """What is seen of each thing worn and, under it, of ears and brows."""
    worn_names, worn_shape, worn_region = _seen({**posed.body, **posed.worn}, focal_px)
    _, _, bare_region = _seen(posed.body, focal_px)
    mm2 = (posed.pose.distance_mm / focal_px * SIZE_PX / _LOOK_PX) ** 2
    covers = {}
    for thing in ("glasses", "hat", "beard"):
        own = [i for i, name in enumerate(worn_names) if name.startswith(thing)]
        covers[thing] = float(np.isin(worn_shape, own).sum() * mm2)
    shown: list[float | None] = []
    for side in SIDES:
        bare = (bare_region == Region[f"EAR_{side.upper()}"]).sum()
        seen = (worn_region == Region[f"EAR_{side.upper()}"]).sum()
        shown.append(float(seen / bare) if bare * mm2 > _LEAST_EAR_MM2 else None)
    brows = np.isin(bare_region, (Region.BROW_OWN_LEFT, Region.BROW_OWN_RIGHT))
    hair = [i for i, name in enumerate(worn_names) if name.startswith("hair")]
    covers["hair-over-brows"] = (
        float(np.isin(worn_shape, hair)[brows].mean()) if brows.any() else 0.0
    )
    return Covered(covers=covers, ears_shown=(shown[0], shown[1]))


def _seen(
    parts: Mapping[str, Any], focal_px: float
) -> tuple[list[str], NDArray[np.int64], NDArray[np.int64]]:
    """Names of shapes, and in each pixel the shape's number and the skin's region, -1 for none."""
    camera = studio.camera(np.zeros(3), np.eye(3), SIZE_PX / 2.0 / focal_px, _LOOK_PX)
    scene = mitsuba.load_dict({"type": "scene", **parts, "camera": camera})
    which = mitsuba.load_dict(
        {"type": "aov", "aovs": "shape:shape_index,prim:prim_index,depth:depth"}
    )
    picture = np.array(mitsuba.render(scene, integrator=which, spp=1))
    shape, prim, depth = np.moveaxis(picture[..., -3:], -1, 0)
    names = [str(each.id()) for each in scene.shapes()]
    shape = np.where(depth > 0.0, shape - 1, -1).astype(np.int64)  # shapes count from 1
    of_skin = skin_regions()
    region = of_skin[np.clip(prim, 0, None).astype(np.int64) % len(of_skin)]
    return names, shape, np.where(shape == names.index("skin"), region, -1)


def developed(linear: Array, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Grain, a shoulder in the lights, and sRGB's curve."""
    linear = linear + rng.normal(size=linear.shape) * _GRAIN * np.sqrt(np.clip(linear, 0.02, 1.0))
    linear = np.clip(linear, 0.0, None)
    linear = np.where(linear > 0.6, 0.6 + 0.4 * np.tanh((linear - 0.6) / 0.4), linear)
    picture = mitsuba.Bitmap(linear.astype(np.float32))
    kind = mitsuba.Struct.Type.UInt8
    return np.asarray(picture.convert(mitsuba.Bitmap.PixelFormat.RGB, kind, srgb_gamma=True))


def into_camera(points: Array, pose: HeadPose) -> Array:
    """Points (N, 3) of the head frame in the camera's."""
    return np.asarray(points @ pose.rotation.T + pose.place_mm)


def body(head: Head, look: Look, colours: Array, pose: HeadPose, gaze: Array) -> dict[str, Any]:
    """Skin of these ``colours`` (N, 3), eyes that look along ``gaze`` (3,) and a shirt."""
    places, normals = rounded(skin_surface(), head)
    normals = normals + pore_bumps(look)
    parts = {
        "skin": coloured_mesh(
            into_camera(places, pose), skin_surface().triangles, colours,
            glossy(look.rough), normals @ pose.rotation.T,
        )
    }  # fmt: skip
    for side in SIDES:
        places, normals, tints = eyeball(head, look, side, gaze)
        parts[f"eye_{side}"] = coloured_mesh(
            into_camera(places, pose), eye_surface(side).triangles, tints, glossy(0.06),
            normals @ pose.rotation.T,
        )  # fmt: skip
    ball, triangles, _ = unit_cap()
    shoulders = ball[:, [0, 2, 1]] * _SHIRT_RADII_MM + _SHIRT_MM
    parts["shirt"] = coloured_mesh(
        into_camera(shoulders, pose), triangles[:, ::-1],
        np.tile(np.roll(look.iris, 1), (len(ball), 1)), glossy(0.9),
    )  # fmt: skip
    return parts


def glossy(rough: float) -> dict[str, Any]:
    """A surface coloured at its corners with a clear gloss over it."""
    return {
        "type": "principled",
        "base_color": {"type": "mesh_attribute", "name": "vertex_color"},
        "roughness": rough,
        "specular": 0.4,
    }


def colour(value: Array) -> dict[str, Any]:
    """A linear colour."""
    return {"type": "rgb", "value": [float(v) for v in value]}


def coloured_mesh(
    vertices: Array,
    triangles: NDArray[Any],
    colours: Array,
    surface: Mapping[str, Any],
    normals: Array | None = None,
) -> Any:
    """A mesh in the camera frame with a colour (N, 3) and a normal (N, 3) at each corner."""
    properties = mitsuba.Properties()
    properties["bsdf"] = mitsuba.load_dict(dict(surface))
    made = mitsuba.Mesh(
        "part", len(vertices), len(triangles), has_vertex_normals=True, props=properties
    )
    made.add_attribute("vertex_color", 3, colours.astype(np.float32).ravel().tolist())
    values = mitsuba.traverse(made)
    values["vertex_positions"] = vertices.astype(np.float32).ravel()
    values["faces"] = triangles.astype(np.uint32).ravel()
    values.update()
    if normals is None:
        normals = corner_normals(vertices, triangles)
    # set afterwards: new positions make the mesh work out normals of its own
    unit = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-9)
    values["vertex_normals"] = unit.astype(np.float32).ravel()
    values.update()
    return made


def _lights(pose: HeadPose, light: Light) -> dict[str, Any]:
    """Key, second light, even room and a backdrop behind the sitter."""
    sight = camera_axes(np.zeros(3), pose.place_mm)
    parts: dict[str, Any] = {
        "room": {"type": "constant", "radiance": colour(light.room)},
        "backdrop": {
            "type": "rectangle",
            "to_world": studio.to_world(np.eye(3), pose.place_mm - (0.0, 0.0, 900.0), _BACKDROP_MM),
            "bsdf": {"type": "diffuse", "reflectance": colour(np.clip(light.backdrop, 0, 0.9))},
        },
    }
    for number, (azimuth_deg, elevation_deg, share) in enumerate(light.sources):
        from_head = sight.T @ direction_from_angles(azimuth_deg, elevation_deg)
        from_head = from_head * light.distance_mm
        radiance = 0.9 * share * (1.0 + (light.distance_mm / light.radius_mm) ** 2)
        parts[f"light_{number}"] = {
            "type": "disk",
            "to_world": studio.to_world(
                camera_axes(np.zeros(3), from_head), pose.place_mm + from_head, light.radius_mm
            ),
            "emitter": {"type": "area", "radiance": studio.grey(float(radiance))},
        }
    return parts
