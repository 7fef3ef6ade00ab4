"""Frames of the invented sitters, path-traced by Mitsuba 3, with the truth about each pixel.

Light that enters skin comes out a little way off, red the farthest: what the skin scatters is
rendered apart and spread over it, colour by colour (d'Eon & Luebke 2007, GPU Gems 3, chapter 14).
"""

import dataclasses
import math
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import mitsuba
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from builders.references import mitsuba_scene as reference
from builders.sitters import hair as growing
from builders.sitters import short_hair, skin
from builders.sitters.cast import KINDS, Person
from builders.sitters.clothes import crew_neck
from builders.sitters.eyes import eyeball
from builders.traced.skin import rounded, skin_surface
from builders.traced.studio import colour, coloured_mesh, glossy
from sitwell.base.rotations import camera_axes, direction_from_angles
from sitwell.head.surface import SIDES, Head
from sitwell.scene.camera import sensor_scale_mm
from sitwell.scene.framing import picture_size_mm
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer, View

Array = NDArray[np.float64]
# How far light spreads in skin before it comes out, in mm (one sigma) of red, green and blue; the
# size of the measured profiles in Jensen et al. 2001, from memory.
SPREAD_MM = (1.1, 0.5, 0.3)
BOUNCES = 10
_FOLLOW_MM = (-75.0, -205.0)  # hair above the first moves with the skull, below the second hardly
_LEAST_FOLLOW = 0.12
_SAMPLES_A_GO = 24
_EXPOSURE, _METERED = 1.35, 0.25  # a camera's meter lifts deep skin a little and dims light skin


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """How fine a frame is made: its height in px, paths a pixel, the share of the strands."""

    height_px: int
    samples: int
    strands: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """A frame: linear light (H, W, 3) and the share of each pixel that each of ``KINDS`` takes.

    ``view`` is the head before the lens, valid until the studio's next frame.
    """

    linear: Array
    cover: NDArray[np.float32]
    view: View
    scale: float

    def picture(self, person: Person, seed: int) -> NDArray[np.uint8]:
        """The frame developed (H, W, 3) as metered for this person's skin, the same in all."""
        bright = float(person.tone_array @ (0.2126, 0.7152, 0.0722))
        rng = np.random.default_rng((person.seed, seed))
        return developed(self.linear, _EXPOSURE * (_METERED / bright) ** 0.35, rng)

    def place_px(self, points_mm: Array) -> Array:
        """Pixels (N, 2) of points in the studio, x to the right and y down."""
        x, y, _ = self.view.camera.project(points_mm).T
        height, width = self.linear.shape[:2]
        return np.stack([0.5 * width + self.scale * x, 0.5 * height - self.scale * y], axis=1)


def pigmented(eumelanin: float, pheomelanin: float) -> Array:
    """Linear colour (3,) of hair seen end on, by its pigments."""
    return np.asarray(
        0.09
        * np.exp(
            -eumelanin * np.array([0.35, 0.58, 1.14]) - pheomelanin * np.array([0.16, 0.33, 0.88])
        )
    )


class Studio:
    """One person with grown hair, to be photographed in any set-up."""

    def __init__(self, person: Person, head: Head, quality: Quality) -> None:
        self.person, self.head, self.quality = person, head, quality
        self._observer = Observer(head)
        self._colours = skin.colours(head, person, pigmented(*person.melanin))
        self._bumps = skin.bumps(head, person)
        self._cloth = crew_neck(head, np.array(person.cloth), person.seed)
        self._hair = _grown(person, head, quality)

    def frame(self, setup: Setup) -> Frame:
        """Photograph the person in a set-up; the lens's axis meets the picture's middle."""
        view = self._observer.view(setup)
        width_mm, height_mm = picture_size_mm(setup)
        height = self.quality.height_px
        width = round(height * width_mm / height_mm)
        scale = (
            height / height_mm * sensor_scale_mm(setup, float(view.camera.project(view.eyes_mm)[2]))
        )
        camera = _camera(view, width, height, scale)
        with tempfile.TemporaryDirectory() as folder:
            strands = self._strand_parts(view, Path(folder))
        still = self._still(view)
        lit = {**still, **strands, **_lights(setup), "camera": camera}
        glossy_only = _rendered({**lit, **self._skin(view, "gloss")}, self.quality, 1)
        whole = _rendered({**lit, **self._skin(view, "even")}, self.quality, 2)
        cover, albedo = self._seen(
            {**still, **strands, **self._skin(view, "full")}, view, width, height, scale
        )
        scattered = _spread(whole - glossy_only, cover[..., 1], scale / self._depth_mm(view))
        linear = _calm_wall(glossy_only + scattered * albedo, cover[..., 0], scale)
        return Frame(linear=linear, cover=cover, view=view, scale=scale)

    def _depth_mm(self, view: View) -> float:
        return float(view.camera.project(view.eyes_mm)[2])

    def _skin(self, view: View, kind: str) -> dict[str, Any]:
        """The skin with its own colours, with an even tone, or with its gloss alone."""
        posed = dataclasses.replace(self.head, vertices_mm=view.posed_mm.astype(np.float32))
        places, normals = rounded(skin_surface(), posed)
        bumps = self._bumps @ view.rotation.T
        colours = self._colours
        if kind == "even":
            colours = np.broadcast_to(self.person.tone_array, colours.shape)
        if kind == "gloss":
            colours = np.zeros_like(colours)
        surface = glossy(self.person.rough) | {"specular": 0.35}
        return {
            "skin": coloured_mesh(
                places, skin_surface().triangles, colours, surface, normals + bumps
            )
        }

    def _still(self, view: View) -> dict[str, Any]:
        """Eyes, clothes and the wall."""
        parts: dict[str, Any] = {}
        toward = direction_from_angles(view.setup.key_azimuth_deg, view.setup.key_elevation_deg)
        for side, eye in zip(SIDES, view.anatomy.eyes, strict=True):
            centre = view.studio_from_head(eye.centre_mm)
            gaze = view.point_mm(f"iris_{side}") - centre
            places, triangles, colours, normals = eyeball(
                centre, gaze / np.linalg.norm(gaze), self.head.eye_radius_mm - 0.02,
                np.array(self.person.iris), toward, self.person.seed,
            )  # fmt: skip
            parts[f"eye_{side}"] = coloured_mesh(
                places, triangles, colours, glossy(0.05) | {"specular": 0.6}, normals
            )
        for number, (places, triangles, colours) in enumerate(self._cloth):
            parts[f"cloth_{number}"] = coloured_mesh(
                places, triangles, colours,
                {"type": "twosided", "bsdf": glossy(0.95) | {"specular": 0.15, "sheen": 0.4}},
            )  # fmt: skip
        wall_mm = np.array([0.0, 0.0, -view.setup.background_distance_mm])
        parts["wall"] = {
            "type": "rectangle",
            "to_world": reference.to_world(np.eye(3), wall_mm, 6000.0),
            "bsdf": {"type": "diffuse", "reflectance": colour(np.array(self.person.wall))},
        }
        return parts

    def _strand_parts(self, view: View, folder: Path) -> dict[str, Any]:
        parts: dict[str, Any] = {}
        for name, (strands, pigment) in self._hair.items():
            posed = _posed(strands.points_mm, view)
            path = folder / f"{name}.txt"
            _write_curves(path, posed, strands.radius_mm)
            curves = {
                "type": "bsplinecurve",
                "id": name,
                "filename": str(path),
                "bsdf": _hair(*pigment) if name.startswith("hair") else _bristle(*pigment),
            }
            parts[name] = mitsuba.load_dict(curves)
        return parts

    def _seen(
        self, parts: Mapping[str, Any], view: View, width: int, height: int, scale: float
    ) -> tuple[NDArray[np.float32], Array]:
        """Share of each pixel by kind (H, W, kinds), and the skin's colour against its tone."""
        fine = 3
        camera = _camera(view, fine * width, fine * height, fine * scale)
        # one path a fine pixel, so that a label is never a mixture
        scene = mitsuba.load_dict({"type": "scene", **parts, "camera": camera})
        which = mitsuba.load_dict({"type": "aov", "aovs": "shape:shape_index,albedo:albedo"})
        drawn = np.array(mitsuba.render(scene, integrator=which, spp=1))
        shape, albedo = drawn[..., -4], drawn[..., -3:]
        kind_of = np.zeros(len(scene.shapes()) + 1, dtype=np.int64)
        for number, each in enumerate(scene.shapes(), start=1):
            kind_of[number] = _kind(str(each.id()))
        kind = kind_of[np.clip(np.rint(shape), 0, len(kind_of) - 1).astype(np.int64)]
        cover = np.stack(
            [_shrunk((kind == k).astype(np.float32), fine) for k in range(len(KINDS))], -1
        )
        skin = (kind == 1)[..., None]
        tone = albedo * skin / np.maximum(self.person.tone_array, 1e-6)
        whole = np.maximum(cover[..., 1:2], 1e-6)
        ratio = np.stack([_shrunk(tone[..., c], fine) for c in range(3)], -1) / whole
        return cover.astype(np.float32), np.where(cover[..., 1:2] > 0, ratio, 1.0)


def _hair(eumelanin: float, pheomelanin: float) -> dict[str, Any]:
    return {
        "type": "hair",
        "eumelanin": eumelanin,
        "pheomelanin": pheomelanin,
        "longitudinal_roughness": 0.30,
        "azimuthal_roughness": 0.35,
        "scale_tilt": 2.5,
    }


def _bristle(eumelanin: float, pheomelanin: float) -> dict[str, Any]:
    """Short hairs let no light through: what passes a lash would speckle the eye behind it."""
    return {
        "type": "principled",
        "base_color": colour(np.clip(pigmented(eumelanin, pheomelanin), 0.003, 0.6)),
        "roughness": 0.45,
        "specular": 0.4,
    }


def _kind(name: str) -> int:
    for number, kind in enumerate(KINDS):
        if name.startswith(kind):
            return number
    return KINDS.index("skin") if name.startswith(("brow", "lash")) else 0


def _shrunk(picture: Array, by: int) -> Array:
    height, width = picture.shape
    return np.asarray(picture.reshape(height // by, by, width // by, by).mean(axis=(1, 3)))


def _grown(
    person: Person, head: Head, quality: Quality
) -> dict[str, tuple[growing.Strands, tuple[float, float]]]:
    """All strands by name with their pigment (eumelanin, pheomelanin); some lighter or darker."""
    rng = np.random.default_rng((person.seed, 11))
    made: dict[str, tuple[growing.Strands, tuple[float, float]]] = {}
    eumelanin, pheomelanin = person.melanin

    def share(name: str, strands: growing.Strands, darker: float = 1.0) -> None:
        if quality.strands < 1.0:
            strands = growing.thinned(strands, quality.strands)
        kind = rng.choice(3, len(strands.points_mm), p=(0.3, 0.45, 0.25))
        for number, tone in enumerate((0.72, 1.0, 1.35)):
            own = strands.some(kind == number)
            if len(own.points_mm):
                pigment = (darker * tone * eumelanin, darker * tone * pheomelanin)
                made[f"{name}_{number}"] = (own, pigment)

    if person.hair != "bald":
        style = growing.STYLES[person.hair]
        share("hair", growing.grow_hair(head, style, person.strands, person.strand_mm, rng))
        if style.way == "tied":
            share("hair_knot", growing.knot(head, 9000, person.strand_mm, rng))
    share("brow", short_hair.grow_brows(head, 2600, rng), 1.5)
    lashes = short_hair.grow_lashes(head, rng)
    made["lash"] = (lashes, (max(1.5 * eumelanin, 3.0), 0.3))
    if person.beard_mm > 0.0:
        count = 16000 if person.beard_mm > 4.0 else 9000
        beard = short_hair.grow_beard(head, count, person.beard_mm, rng)
        share("beard", beard, 0.9)
    return made


def _posed(points: Array, view: View) -> Array:
    """Strands (N, S, 3) of the neutral head where a view has them."""
    high, low = _FOLLOW_MM
    at = np.clip((points[..., 1] - low) / (high - low), 0.0, 1.0)
    follow = _LEAST_FOLLOW + (1.0 - _LEAST_FOLLOW) * at * at * (3.0 - 2.0 * at)
    turned = view.studio_from_head(points)
    return np.asarray(points + follow[..., None] * (turned - points))


def _write_curves(path: Path, points: Array, radius: Array) -> None:
    """Strands as Mitsuba reads them; the ends are doubled so that a curve reaches them."""
    rows = np.concatenate([points, radius[..., None]], axis=2)
    rows = np.concatenate([rows[:, :1], rows[:, :1], rows, rows[:, -1:], rows[:, -1:]], axis=1)
    text = [
        "\n".join(f"{x:.3f} {y:.3f} {z:.3f} {r:.4f}" for x, y, z, r in line)
        for line in rows.tolist()
    ]
    path.write_text("\n\n".join(text) + "\n", encoding="ascii")


def _camera(view: View, width: int, height: int, scale: float) -> dict[str, Any]:
    right, up, backward = view.camera.axes
    return {
        "type": "perspective",
        "fov_axis": "x",
        "fov": 2.0 * math.degrees(math.atan(0.5 * width / scale)),
        "to_world": reference.to_world(np.array([-right, up, -backward]), view.camera.lens_mm),
        "near_clip": 10.0,
        "far_clip": 1e5,
        "film": {
            "type": "hdrfilm", "width": width, "height": height, "pixel_format": "rgb",
            "component_format": "float32", "rfilter": {"type": "box"},
        },
    }  # fmt: skip


def _lights(setup: Setup) -> dict[str, Any]:
    """Key, a large soft fill beside the lens, some light from all round, and one on the wall."""
    fill = 1.0 / setup.fill_ratio
    panel = direction_from_angles(-np.sign(setup.key_azimuth_deg) * 55.0, 8.0)
    place = 1900.0 * panel
    radius = 750.0
    share = radius**2 / (radius**2 + 1900.0**2)
    behind = direction_from_angles(-np.sign(setup.key_azimuth_deg) * 148.0, 48.0)
    rim_share = 220.0**2 / (220.0**2 + 1700.0**2)
    return {
        "key": reference.key_disc(setup, 1.0 - fill),
        "room": {"type": "constant", "radiance": reference.grey(0.55 * fill)},
        "panel": {
            "type": "disk",
            "to_world": reference.to_world(camera_axes(np.zeros(3), place), place, radius),
            "emitter": {"type": "area", "radiance": reference.grey(0.45 * fill / share)},
        },
        "rim": {
            "type": "disk",
            "to_world": reference.to_world(
                camera_axes(np.zeros(3), behind), 1700.0 * behind, 220.0
            ),
            "emitter": {"type": "area", "radiance": reference.grey(0.3 / rim_share)},
        },
    }


def _rendered(parts: Mapping[str, Any], quality: Quality, seed: int) -> Array:
    """Linear light (H, W, 3); many paths are traced in several goes, which a GPU's memory asks."""
    scene = mitsuba.load_dict({"type": "scene", **parts})
    integrator = mitsuba.load_dict(
        {"type": "path", "max_depth": BOUNCES, "rr_depth": 4, "hide_emitters": True}
    )
    goes, drawn = math.ceil(quality.samples / _SAMPLES_A_GO), []
    for go in range(goes):
        number: Any = 1000 * seed + go
        picture = mitsuba.render(
            scene, integrator=integrator, spp=math.ceil(quality.samples / goes), seed=number
        )
        drawn.append(np.array(picture)[..., :3])
    if goes < 4:
        return np.asarray(np.mean(drawn, axis=0), dtype=np.float64)
    # a path that hit a lamp by chance would leave a bright speck
    return np.asarray(np.sort(drawn, axis=0)[:-1].mean(axis=0), dtype=np.float64)


def _spread(light: Array, cover: NDArray[np.float32], px_per_mm: float) -> Array:
    """What the skin scatters, spread over the skin."""
    spread = np.empty_like(light)
    for channel, sigma in enumerate(SPREAD_MM):
        total = np.zeros(light.shape[:2])
        for share, size in ((0.45, 0.45), (0.35, 1.0), (0.20, 2.6)):
            width = sigma * size * px_per_mm
            around = gaussian_filter(cover.astype(np.float64), width)
            total += share * gaussian_filter(light[..., channel], width) / np.maximum(around, 0.02)
        spread[..., channel] = total * cover
    # what skin lights in hair and clothes stays where it is
    return np.asarray(spread + light * (1.0 - np.clip(cover, 0.0, 1.0))[..., None])


def _calm_wall(linear: Array, bare: NDArray[np.float32], scale: float) -> Array:
    """The wall out of focus: what is left of the paths' noise there goes with it."""
    wall = (bare > 0.999).astype(np.float64)
    width = 0.004 * scale
    around = np.maximum(gaussian_filter(wall, width), 1e-3)
    soft = np.stack(
        [gaussian_filter(linear[..., c] * wall, width) / around for c in range(3)], axis=-1
    )
    return np.asarray(linear + wall[..., None] * (soft - linear))


def developed(linear: Array, exposure: float, rng: np.random.Generator) -> NDArray[np.uint8]:
    """sRGB with a shoulder in the lights and a little grain."""
    light = np.clip(linear * exposure, 0.0, None)
    light = light + rng.normal(size=light.shape) * 0.0025 * np.sqrt(np.clip(light, 0.01, 1.0))
    light = np.clip(light, 0.0, None)
    light = np.where(light > 0.6, 0.6 + 0.4 * np.tanh((light - 0.6) / 0.4), light)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(np.clip(np.round(255.0 * coded), 0, 255), dtype=np.uint8)
