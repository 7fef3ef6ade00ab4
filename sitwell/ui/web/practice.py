"""Practising before a live camera: each picture is read on the sitter's head and forgotten.

Nothing is written, and no picture is remembered; what is kept, in memory only, are the sitter's
usual eye openings and the last words, so that these don't flicker.
"""

import math
import threading
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from nicegui.element import Element

from sitwell.base.errors import PhotoError, WebError
from sitwell.base.words import retold, tr
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import FULL_FRAME_DIAGONAL_MM, find_focal
from sitwell.brief.photos import Photo
from sitwell.brief.pictures import DECODING_ERRORS, opened_bytes
from sitwell.face.landmarks import FaceReading, find_faces
from sitwell.head.surface import Head
from sitwell.scene.setup import Setup
from sitwell.search.plan import PlannedSetup
from sitwell.shoot.check import FrameReport, check_frame
from sitwell.shoot.frame_facts import Expected, Sight, baseline_of
from sitwell.shoot.nudge import Nudger
from sitwell.shoot.read_frame import Sitter, distance_seen_mm, look_at, sitter_for
from sitwell.ui.web import names
from sitwell.ui.web.wording import degrees, length, t

LARGEST_SIDE_PX = 1600
REMEMBERED = 40
# A practice camera stands where it stands: only what the sitter does is practised.
PRACTISED = ("turn_deg", "chin_deg", "tilt_deg")
# A lens's angle of view as its box tells it (judged); more than a distance could be checked by.
FOCAL_SPREAD = 0.1
USUAL_35_MM = 28  # near what most computers' own cameras have (common practice, no source)
FOCALS_35_MM = (20, 24, 28, 35, 50, 85)
NOT_PRACTISED = ("focus", "crop", "key-side", "ear-background", "highlights", "wish")


@dataclass(slots=True)
class Practice:
    """One set-up being practised: what pictures are held against, and what was said last."""

    planned: PlannedSetup
    sitter: Sitter
    nudger: Nudger = field(default_factory=Nudger)
    sights: deque[Sight] = field(default_factory=lambda: deque(maxlen=REMEMBERED))
    busy: threading.Lock = field(default_factory=threading.Lock)
    # of the camera before which one practises, 35 mm equivalent; None where nobody has told
    focal_35_mm: float | None = None

    @classmethod
    def of(cls, head: Head, planned: PlannedSetup, setup: Setup) -> "Practice":
        """A practice of a set-up as it stands in hand."""
        mine = planned if setup == planned.setup else replace(planned, setup=setup, leeway=())
        return cls(mine, sitter_for(head, setup))

    def look(self, picture: bytes, units: str = "metric") -> dict[str, Any]:
        """What to say of one picture, in the language that is spoken, and how the sitter stands.

        Where the camera's focal length is known, how far off they are as well.
        """
        photo = _photo(picture, self.focal_35_mm)
        with self.busy:
            faces = find_faces(photo)
            sights = look_at(photo, faces, self.sitter)
            report = self._report(sights)
            nudge = self.nudger.next(report)
            away = self._away(photo, faces, units)
        if not report.sight.faces:
            return {"say": t("No face in the picture."), "moves": []}
        say = retold(nudge.sentence) if nudge else t("Lovely. Hold all of this.")
        return {"say": say, "moves": [*_moves(report.sight.moves), *away]}

    def _away(
        self, photo: Photo, faces: tuple[FaceReading, ...], units: str
    ) -> list[dict[str, str]]:
        if self.focal_35_mm is None or len(faces) != 1:
            return []
        away_mm = distance_seen_mm(photo, faces[0], self.sitter)
        told = {"name": names.move_name("distance_mm"), "value": length(away_mm or 0.0, units)}
        return [] if away_mm is None else [told]

    def _report(self, sights: tuple[Sight, ...]) -> FrameReport:
        """The report of the face that the head was laid on, without what isn't practised."""
        sight = next((s for s in sights if s.moves), sights[0])
        if sight.faces:
            self.sights.append(sight)
        expected = Expected(
            planned=self.planned,
            baseline=baseline_of(self.sights),
            asked=self.planned.asked,
            glasses=self.planned.wears_glasses,
        )
        report = check_frame("", sight, expected)
        return replace(
            report,
            findings=tuple(f for f in report.findings if f.name not in NOT_PRACTISED),
            nearly=tuple(f for f in report.nearly if f.name not in NOT_PRACTISED),
            drifts=tuple(d for d in report.drifts if d.move in PRACTISED),
        )


class PracticeCamera(Element, component="assets/camera.js"):
    """The camera's picture and what is said of it; pictures are sent to an address."""

    def __init__(self, to: str) -> None:
        super().__init__()
        self.props["to"] = to
        self.props["words"] = {
            "view": t("What the practice camera sees"),
            "off": t("The camera is off. Pictures are looked at once and forgotten."),
            "on": t("practising; nothing is kept"),
            "stopped": t("stopped"),
            "looking": t("Looking ..."),
            "start": t("Start the camera"),
            "stop": t("Stop the camera"),
            "refused": t("The browser gave no camera; allow it for this page and try again."),
            "insecure": t(
                "The browser gives its camera only to encrypted pages, or on this computer itself."
            ),
            "lost": t("The program did not answer; start the camera again."),
        }


def focal_names() -> dict[str, str]:
    """Focal lengths to choose from, each with the angle of view that a camera's box tells."""
    diagonal_mm = FULL_FRAME_DIAGONAL_MM
    return {"": t("not known; {focal} mm is taken", focal=str(USUAL_35_MM))} | {
        f"{focal_mm}": t(
            "{focal} mm, {angle} from corner to corner",
            focal=str(focal_mm),
            angle=degrees(2.0 * math.degrees(math.atan(0.5 * diagonal_mm / focal_mm))),
        )
        for focal_mm in FOCALS_35_MM
    }


@dataclass(slots=True)
class Practices:
    """The practice of each sitter, made anew when the set-up in hand or the head is another."""

    kept: dict[str, Practice] = field(default_factory=dict)
    focal_35_mm: float | None = None

    def of(
        self, key: str, head: Head | None, planned: PlannedSetup | None, setup: Setup | None
    ) -> Practice:
        """The practice of one sitter; WebError where there is no set-up to practise."""
        if head is None or planned is None or setup is None:
            raise WebError(tr("There is no set-up to practise yet; search and open one first."))
        known = self.kept.get(key)
        if known is None or known.sitter.head is not head or known.sitter.planned != setup:
            known = self.kept[key] = Practice.of(head, planned, setup)
        known.focal_35_mm = self.focal_35_mm
        return known


def _photo(picture: bytes, focal_35_mm: float | None) -> Photo:
    try:
        with opened_bytes(picture, "JPEG", "practice.jpg") as opened:
            if max(opened.size) > LARGEST_SIDE_PX:
                raise WebError(
                    tr(
                        "A practice picture of {width} x {height} pixels is too large; send at "
                        "most {largest_side_px} a side.",
                        width=opened.width,
                        height=opened.height,
                        largest_side_px=LARGEST_SIDE_PX,
                    )
                )
            rgb = np.asarray(opened.convert("RGB"))
    except (PhotoError, *DECODING_ERRORS) as error:
        raise WebError(tr("The practice picture is not a whole JPEG; send another.")) from error
    height, width = rgb.shape[:2]
    focal = find_focal(ExifFacts(), width, height, focal_35_mm=focal_35_mm or USUAL_35_MM)
    return Photo(
        path=Path(),
        rgb=rgb,
        width_px=width,
        height_px=height,
        facts=ExifFacts(),
        # a pose is read with it; a distance to be held against a plan's is not practised
        focal=replace(focal, spread=max(focal.spread, FOCAL_SPREAD)),
    )


def _moves(moves: Mapping[str, float]) -> list[dict[str, str]]:
    return [
        {"name": names.move_name(move), "value": names.value_words(move, moves[move])}
        for move in PRACTISED
        if move in moves
    ]
