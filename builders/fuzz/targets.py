"""Every reader of files that somebody else may have written, each with small files to begin from.

``builders.fuzz.readers`` and ``tests/trust/test_readers.py`` mutate the files and hold that a
reader either reads or raises a SitwellError.
"""

import io
import json
import math
import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import tifffile
import trimesh
from PIL import Image

from builders.references.heic_fixture import FIXTURE
from sitwell.base.errors import SitwellError
from sitwell.brief.kit import DEFAULT_KIT, load_kit
from sitwell.brief.marks import read_marks
from sitwell.brief.photos import open_photo
from sitwell.brief.request import Brief, SitterBrief, open_brief, save_brief
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.room import load_room
from sitwell.brief.wishes import Wish
from sitwell.head.level import head_from_dict
from sitwell.scene.scan_file import load_scan
from sitwell.scene.setup import Setup
from sitwell.search.locks import parse_locks
from sitwell.search.plan import Gain, GuardState, Plan, PlannedSetup
from sitwell.sheet.plan_file import load_plan, save_faceless_plan, save_plan, source_of
from sitwell.shoot.frames import capture_time
from sitwell.sort.regions import regions_of
from sitwell.sort.xmp import read_sidecar, write_sidecar
from sitwell.store import entries
from sitwell.store.opening import open_records
from sitwell.store.records import Records
from sitwell.store.transfer import import_sitting, sitting_bytes


@dataclass(frozen=True, slots=True)
class Reader:
    """One reader: what its files are called, how it reads one, and files that it can read."""

    file_name: str
    read: Callable[[Path], object]
    seeds: Callable[[], tuple[bytes, ...]]

    def reads_or_refuses(self, data: bytes) -> bool:
        """Read the bytes as a file: whether they were read; only a SitwellError is refused."""
        path = _folder() / self.file_name
        path.write_bytes(data)
        try:
            self.read(path)
        except SitwellError:
            return False
        return True


@cache
def _folder() -> Path:
    # One folder for the process: making one for each of a million files would be the work.
    return Path(_at_exit(tempfile.TemporaryDirectory(prefix="sitwell-fuzz-")))


def _photo(path: Path) -> None:
    capture_time(path)
    regions_of(path, [(0.2, 0.2, 0.6, 0.7)])
    open_photo(path, largest_side_px=64)


def _sidecar(path: Path) -> None:
    photo = path.with_suffix(".nef")
    read_sidecar(photo)
    write_sidecar(photo, rating=3, keywords=("set-up one",), person=True)
    # What we wrote must be readable again, whatever stood there before.
    after = read_sidecar(photo)
    if after is None or after.rating != 3:
        raise AssertionError(f"written, but read back as {after}")


def _plan(path: Path) -> None:
    _, head = load_plan(path)
    if head is not None:
        head_from_dict(head)


def _locks(path: Path) -> None:
    held = parse_locks(path.read_text(encoding="utf-8", errors="replace").splitlines())
    for name, value in held.items():
        if isinstance(value, float) and not math.isfinite(value):
            raise AssertionError(f"{name} is held at {value}")


def _bare_plan(path: Path) -> None:
    load_plan(path)
    source_of(json.loads(path.read_text(encoding="utf-8-sig")).get("source", {}))


def _sitting(path: Path) -> None:
    import_sitting(_records(), path)


@cache
def _records() -> Records:
    return _at_exit(open_records(_folder() / "home"))


_OPEN = ExitStack()


def _at_exit(manager: Any) -> Any:
    import atexit

    atexit.register(_OPEN.close)
    return _OPEN.enter_context(manager)


def _pictures(kind: str, **options: Any) -> Callable[[], tuple[bytes, ...]]:
    def seeds() -> tuple[bytes, ...]:
        image = Image.effect_mandelbrot((48, 64), (-2, -1, 1, 1), 20).convert("RGB")
        exif = Image.Exif()
        exif[0x0112] = 6
        exif[0x0132] = "2026:03:14 10:15:00"
        exif.get_ifd(0x8769).update({0x829D: 2.8, 0x9003: "2026:03:14 10:15:00", 0x920A: 85.0})
        stream = io.BytesIO()
        image.save(stream, kind, exif=exif, **options)
        return (stream.getvalue(),)

    return seeds


def _several_pictures() -> tuple[bytes, ...]:
    """A JPEG with further pictures behind the first."""
    first = Image.effect_mandelbrot((48, 64), (-2, -1, 1, 1), 20).convert("RGB")
    stream = io.BytesIO()
    first.save(stream, "MPO", save_all=True, append_images=[first.rotate(180)])
    return (stream.getvalue(),)


def _raw() -> tuple[bytes, ...]:
    """A small digital negative with an embedded preview."""
    camera: list[Any] = [
        (50706, "B", 4, bytes([1, 4, 0, 0]), True),
        (50708, "s", 0, "Invented Camera", True),
    ]
    sensor: list[Any] = [
        (33421, "H", 2, (2, 2), True),
        (33422, "B", 4, bytes([0, 1, 1, 2]), True),
        (50714, "H", 1, 0, True),
        (50717, "H", 1, 65535, True),
    ]
    stream = io.BytesIO()
    with tifffile.TiffWriter(stream) as writer:
        preview = np.full((64, 96, 3), 90, dtype=np.uint8)
        writer.write(
            preview, photometric="rgb", subfiletype=1, subifds=1, extratags=camera, metadata=None
        )
        values = np.full((128, 192), 20000, dtype=np.uint16)
        writer.write(values, photometric=32803, subfiletype=0, extratags=sensor, metadata=None)
    return (stream.getvalue(),)


def _sidecars() -> tuple[bytes, ...]:
    opening = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF'
        b' xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""'
        b' xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:dc="http://purl.org/dc/elements/1.1/"'
    )
    closing = b"</rdf:Description></rdf:RDF></x:xmpmeta>"
    subject = b"<dc:subject><rdf:Bag><rdf:li>one</rdf:li></rdf:Bag></dc:subject>"
    return (
        opening + b' xmp:Rating="2">' + subject + closing,
        opening + b"><xmp:Rating>4</xmp:Rating><dc:subject><rdf:Seq/></dc:subject>" + closing,
    )


def _marks() -> tuple[bytes, ...]:
    points = {
        "ear_top_own_left": [812, 640],
        "nose_tip": {"x_px": 1510.5, "y_px": 2044, "spread_px": 3},
        "nose_ridge": [[1500, 1800], [1506, 1900]],
    }
    return (json.dumps({"front.jpg": points}).encode(),)


def _kit() -> tuple[bytes, ...]:
    return (
        b'name = "mine"\n[[camera]]\nname = "body"\nsensor_mm = [36.0, 24.0]\nhighest_iso = 6400\n'
        b"[[lens]]\nfocal_mm = [24, 70]\nwidest_f = [2.8, 4.0]\nclosest_focus_mm = 400\n"
        b"[[light]]\nsize_mm = 900\ndistance_mm = [900, 2500]\nazimuth_deg = -70\n"
        b"exposure_value = 9.0\n[fill]\nratio = [1.5, 8]\n",
    )


def _room() -> tuple[bytes, ...]:
    return (
        b'name = "attic"\ndepth_mm = 3500\nceiling_mm = 2300.5\nbackground_stops = [-3, -1]\n'
        b"[window]\nsize_mm = 1200\ndistance_mm = 1500\nazimuth_deg = 70\nelevation_deg = 10\n",
    )


def _small_plan() -> Plan:
    one = PlannedSetup(
        name="balanced",
        setup=Setup(turn_deg=12.0),
        measures={"nose_length": 0.41},
        gains=(Gain(wish="ears", measure="ear_sliver", was=0.4, becomes=0.3, gain=2.0),),
        guards=(
            GuardState(
                name="nose inside the cheek",
                measure="nose_break_cheek",
                value=0.02,
                must_be="at least",
                limit=0.0,
                holds=True,
            ),
        ),
        leeway=(),
        reasons=(),
    )
    return Plan(baseline=Setup(), baseline_measures={}, setups=(one,), conflicts=())


def _plans() -> tuple[bytes, ...]:
    head = {
        "shape": {"nose_length": 0.2},
        "hairline_mm": 1.5,
        "neutral": np.eye(3).tolist(),
    }
    with tempfile.TemporaryDirectory() as folder:
        path = save_plan(Path(folder) / "plan.json", _small_plan(), head)
        return (path.read_bytes(),)


def _bare_plans() -> tuple[bytes, ...]:
    """A plan that names what its head is read from; the file must only be there."""
    source = SitterBrief(
        frames=(Path(__file__),), face=1, focal_equivalent_mm=85.0, in_the_way=("hat",)
    )
    with tempfile.TemporaryDirectory() as folder:
        path = save_faceless_plan(Path(folder) / "plan.json", _small_plan(), source)
        return (path.read_bytes(),)


def _typed_briefs() -> tuple[bytes, ...]:
    text = 'height_difference = "soften"\n'
    for name in ("Mara", "Ben"):
        text += f'[[sitter]]\nname = "{name}"\nframes = ["a.jpg"]\nwishes = ["ears:soften:3"]\n'
    return (text.encode(),)


def _briefs() -> tuple[bytes, ...]:
    one = SitterBrief(
        name="Mara", frames=(Path("a.jpg"),), wishes=(Wish(feature="ears"),), height_mm=1700.0
    )
    brief = Brief(
        sitters=(one, SitterBrief(name="Ben", scan=Path("b.obj"))),
        kit=DEFAULT_KIT,
        room=ROOMS["by-a-window"],
    )
    with tempfile.TemporaryDirectory() as folder:
        return (save_brief(Path(folder) / "brief.json", brief).read_bytes(),)


def _sittings() -> tuple[bytes, ...]:
    with tempfile.TemporaryDirectory() as folder, open_records(Path(folder)) as records:
        sitter = records.add_sitter("invented")
        sitting = entries.Sitting(sitter_id=sitter.id)
        of: dict[str, Any] = {"sitter_id": sitter.id, "sitting_id": sitting.id}
        until = (entries.now() + timedelta(days=300)).date()
        leave = (
            entries.Consent(
                sitter_id=sitter.id, purpose=purpose, keep_until=until, notice="invented"
            )
            for purpose in entries.PURPOSES
        )
        held = (
            entries.KeptHead(**of, shape={"nose_length": 0.2}, level_frame={"hairline_mm": 1.5}),
            entries.KeptPlan(**of, plan=_small_plan()),
            entries.UsedSetup(**of, name="balanced", setup=Setup(), worked=True),
        )
        records.keep(*leave, sitting, *held)
        return (sitting_bytes(records, sitter, sitting, {"sheet.pdf": b"%PDF-1.7 invented"}),)


def _scans(kind: str) -> Callable[[], tuple[bytes, ...]]:
    def seeds() -> tuple[bytes, ...]:
        ball = trimesh.creation.icosphere(subdivisions=3)
        data = ball.export(file_type=kind)
        return (data.encode() if isinstance(data, str) else bytes(data),)

    return seeds


READERS = {
    "jpeg": Reader("a.jpg", _photo, _pictures("JPEG")),
    "png": Reader("a.png", _photo, _pictures("PNG")),
    "tiff": Reader("a.tif", _photo, _pictures("TIFF", compression="tiff_lzw")),
    "webp": Reader("a.webp", _photo, _pictures("WEBP")),
    "several": Reader("a.jpg", _photo, _several_pictures),
    "heif": Reader("a.heic", _photo, lambda: (FIXTURE.read_bytes(),)),
    "raw": Reader("a.dng", _photo, _raw),
    "sidecar": Reader("a.xmp", _sidecar, _sidecars),
    "marks": Reader("marks.json", read_marks, _marks),
    "brief": Reader("brief.json", open_brief, _briefs),
    "typed-brief": Reader("brief.toml", open_brief, _typed_briefs),
    "kit": Reader("kit.toml", load_kit, _kit),
    "locks": Reader("locks.txt", _locks, lambda: (b"turn_deg=10\nf_number=5.6\ncrop=whole-head",)),
    "room": Reader("room.toml", load_room, _room),
    "plan": Reader("plan.json", _plan, _plans),
    "bare-plan": Reader("plan.json", _bare_plan, _bare_plans),
    "sitting": Reader("a.sitting.zip", _sitting, _sittings),
    "obj": Reader("a.obj", load_scan, _scans("obj")),
    "ply": Reader("a.ply", load_scan, _scans("ply")),
    "glb": Reader("a.glb", load_scan, _scans("glb")),
}
