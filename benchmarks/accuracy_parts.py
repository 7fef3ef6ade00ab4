"""How well ears and things in the way are found in pictures.

Run from the repository: ``python -m benchmarks.accuracy_parts --keep FOLDER``. Three kinds of
pictures, none of which the net learned from: more of those it was taught with
(``builders/parts_pictures.py``), the plainly shaded heads of ``builders/face_views.py``, and the
sitters of another kind of ``builders/other_sittings.py``, which lie in the folder. Plain heads
wear nothing, so what is named there is false.
"""

import argparse
import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from builders.face_views import focal_of, make_pictures, photo_of
from builders.parts_pictures import FINE, Picture, make_picture
from sitwell.brief.photos import open_photo
from sitwell.face.crop import Crop
from sitwell.face.landmarks import find_faces
from sitwell.face.parts import CROP_PX, MM_PER_PX, Part, see_parts
from sitwell.head.pose import HeadPose, Sighting, pose_quick, project
from sitwell.head.seen_parts import Found, find_parts
from sitwell.head.surface import SIDES, build_head, head_from_values
from sitwell.head.template import load_template

Array = NDArray[np.float64]
STEMS = ("ear_top", "ear_outer", "ear_lobe")
RIGHT_MM = 3.0
TONES = (0.08, 0.25)  # mean linear reflectance between deep, middle and light skin
# A thing is there from so many square millimetres, and not there below a tenth of it.
THERE_MM2 = {
    "glasses": (Part.GLASSES, 100.0),
    "hat": (Part.HAT, 500.0),
    "beard": (Part.BEARD, 500.0),
    "mask": (Part.MASK, 500.0),
    "hand": (Part.HAND, 750.0),
}
_OPEN_EAR, _HIDDEN_EAR, _NO_EAR_PX = 0.85, 0.3, 400.0
_SEED = 246_810  # none that a limit was set on


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A picture's truth beside what was found: places in its pixels, own left ear first.

    ``shown`` (2,) is the share of each ear that shows, nan where the head itself hides it;
    ``there`` says of each thing whether it is there, None where it hardly is.
    """

    found: Found
    sighting: Sighting
    mm_per_px: float
    ears_px: Array
    shown: Array
    there: dict[str, bool | None]
    tone: float


def taught_kind(count: int) -> Iterator[Case]:
    """More pictures of the kind the net learned from, other seeds."""
    focal = focal_of(1600.0, FINE * CROP_PX)
    for index in range(count):
        picture = make_picture(np.random.default_rng((_SEED, index)), fine=True)
        faces = [f for f in find_faces(photo_of(picture.rgb, focal)) if f.side_px > 80]
        if not faces:
            continue
        face = max(faces, key=lambda f: f.side_px)
        sighting = Sighting(
            landmarks_px=face.landmarks_px, focal=focal, centre_px=np.full(2, FINE * CROP_PX / 2)
        )
        seen = see_parts(picture.rgb, face.landmarks_px)
        yield Case(
            found=find_parts(seen, sighting),
            sighting=sighting,
            mm_per_px=MM_PER_PX / float(np.linalg.norm(seen.crop.axes_px[0])),
            ears_px=picture.ear_px.astype(float),
            shown=_ears_shown(picture),
            there=_there(picture, seen.crop),
            tone=picture.tone,
        )


def _ears_shown(picture: Picture) -> Array:
    shown = np.full(2, np.nan)
    y, x = np.mgrid[0 : len(picture.label), 0 : len(picture.label)]
    for index, bare_px in enumerate(picture.ear_bare):
        if bare_px >= _NO_EAR_PX:
            middle = picture.ear_px[index].mean(axis=0)
            near = np.hypot(x - middle[0], y - middle[1]) < 45 * FINE / MM_PER_PX
            shown[index] = ((picture.label == Part.EAR) & near).sum() / bare_px
    return shown


def _there(picture: Picture, crop: Crop) -> dict[str, bool | None]:
    matrix = np.hstack([crop.axes_px.T, (crop.origin_px + 0.5 * crop.axes_px.sum(axis=0))[:, None]])
    label = cv2.warpAffine(
        picture.label, matrix, (CROP_PX, CROP_PX), flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    )
    there: dict[str, bool | None] = {}
    for name, (part, least_mm2) in THERE_MM2.items():
        covers_mm2 = float((label == part).sum()) * MM_PER_PX**2
        there[name] = None if 0.1 * least_mm2 < covers_mm2 < least_mm2 else covers_mm2 > least_mm2
    return there


def plain_kind(count: int) -> Iterator[Case]:
    """Plainly shaded heads with painted hair."""
    for view, rgb in make_pictures(max(1, count // 3), 3, seed=_SEED):
        head = head_from_values(
            load_template(), view.shape.astype(np.float32), view.expression.astype(np.float32)
        )
        ears_mm = np.array([[head.point(f"{stem}_{side}") for stem in STEMS] for side in SIDES])
        yield _bare_case(rgb, view.sighting, view.pose, ears_mm, float("nan"))


def other_kind(folder: Path, sitters: int) -> Iterator[Case]:
    """The sitters of another kind whose pictures lie in a folder, by another renderer."""
    from benchmarks.other_rows import is_there
    from builders.other_sittings import read_sittings

    for sitting in read_sittings(folder, sitters):
        head = sitting.face.head
        ears_mm = np.array([[head.point(f"{stem}_{side}") for stem in STEMS] for side in SIDES])
        for shot in sitting.shots:
            photo = open_photo(sitting.folder / shot.file, focal_35_mm=sitting.focal_35_mm)
            for face in find_faces(photo, max_faces=1):
                sighting = Sighting(
                    landmarks_px=face.landmarks_px,
                    centre_px=np.array([photo.width_px, photo.height_px]) / 2.0,
                    focal=photo.focal,
                )
                case = _bare_case(photo.rgb, sighting, shot.pose, ears_mm, sitting.tone)
                shown = np.array([np.nan if s is None else s for s in shot.ears_shown])
                there = {name: is_there(sitting, shot, name) for name in THERE_MM2}
                yield dataclasses.replace(case, there=there, shown=shown)


def _bare_case(
    rgb: NDArray[np.uint8],
    sighting: Sighting,
    pose: HeadPose,
    ears_mm: Array,
    tone: float,
) -> Case:
    focal_px, turn_deg = sighting.focal.px, pose.seen_deg[0]
    ears_px = project(ears_mm.reshape(-1, 3), pose, focal_px, sighting.centre_px).reshape(2, 3, 2)
    return Case(
        found=find_parts(see_parts(rgb, sighting.landmarks_px), sighting),
        sighting=sighting,
        mm_per_px=-pose.place_mm[2] / focal_px,
        ears_px=ears_px,
        shown=np.where(np.array([turn_deg, -turn_deg]) < 15.0, 1.0, np.nan),
        there=dict.fromkeys(THERE_MM2, False),
        tone=tone,
    )


def print_ears(cases: list[Case]) -> None:
    """Of the ears in view: how many edges are offered and how far off they are."""
    print(
        "| edge | ears in view | offered | right to 3 mm | mean error, mm |\n|---|---|---|---|---|"
    )
    in_view = sum(int(np.isfinite(case.shown).sum()) for case in cases)
    for number, stem in enumerate(STEMS):
        errors = []
        for case in cases:
            for index, side in enumerate(SIDES):
                mark = next((m for m in case.found.marks if m.name == f"{stem}_{side}"), None)
                if mark is not None:
                    off = np.array([mark.x_px, mark.y_px]) - case.ears_px[index, number]
                    across = _across(case.sighting)
                    way = across if mark.speaks == "across" else np.array([-across[1], across[0]])
                    errors.append(abs(float(off @ way)) * case.mm_per_px)
        right = np.mean(np.array(errors) < RIGHT_MM) if errors else float("nan")
        mean = np.mean(errors) if errors else float("nan")
        print(f"| {stem} | {in_view} | {len(errors)} | {100 * right:.0f} % | {mean:.1f} |")


def _across(sighting: Sighting) -> Array:
    tilt = np.radians(pose_quick(build_head(), sighting).seen_deg[2])
    return np.array([np.cos(tilt), np.sin(tilt)])


def print_named(cases: list[Case]) -> None:
    """Of each thing: how often it is named where it is, and where it is not."""
    print("\n| named | there | of them named | not there | of them named |\n|---|---|---|---|---|")
    for name in THERE_MM2:
        truth = [(case.there[name], name in case.found.things) for case in cases]
        is_there = [said for real, said in truth if real is True]
        is_not = [said for real, said in truth if real is False]
        print(f"| {name} | {len(is_there)} | {sum(is_there)} | {len(is_not)} | {sum(is_not)} |")
    covered = [
        (share, side in case.found.covered_ears)
        for case in cases
        for share, side in zip(case.shown, SIDES, strict=True)
        if np.isfinite(share)
    ]
    hidden = [said for share, said in covered if share < _HIDDEN_EAR]
    shown = [said for share, said in covered if share > _OPEN_EAR]
    print(f"| hair over an ear | {len(hidden)} | {sum(hidden)} | {len(shown)} | {sum(shown)} |")


def report(name: str, cases: list[Case]) -> None:
    """All tables of one kind."""
    print(f"## {name}: {len(cases)} pictures\n")
    print_ears(cases)
    print_named(cases)
    print()


def main() -> None:
    """Make the pictures, look at them and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=300)
    parser.add_argument("--keep", type=Path, help="the folder of other sitters' pictures")
    parser.add_argument("--sitters", type=int, default=24)
    parser.add_argument("--only", choices=("taught", "plain", "other"))
    arguments = parser.parse_args()
    if arguments.only in (None, "taught"):
        cases = list(taught_kind(arguments.pictures))
        report("of the kind it learned from", cases)
        bands = np.digitize([case.tone for case in cases], TONES)
        for band, name in enumerate(("deep skin", "middle skin", "light skin")):
            report(name, [c for c, own in zip(cases, bands, strict=True) if own == band])
    if arguments.only in (None, "plain"):
        report("plainly shaded heads", list(plain_kind(arguments.pictures)))
    if arguments.keep is not None and arguments.only in (None, "other"):
        report("of another kind", list(other_kind(arguments.keep, arguments.sitters)))


if __name__ == "__main__":
    main()
