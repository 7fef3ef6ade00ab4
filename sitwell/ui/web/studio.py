"""The pages' door to the work itself: read frames, plan, look live. No page calls it otherwise.

``read_face`` and ``plan_sitting`` are top-level functions on plain data, run in the workshop's
process; a ``Model`` stays in the server and answers while a control moves.
"""

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sitwell import flow
from sitwell.brief.comfort import Comfort
from sitwell.brief.daylight import Daylight
from sitwell.brief.kit import Kit
from sitwell.brief.marks import POINT_NAMES, marks_from_dict
from sitwell.brief.room import Room
from sitwell.brief.wishes import Wish
from sitwell.head.fit import Fit, FittedFrame
from sitwell.head.pose import Sighting, project
from sitwell.head.reading import FrameReading, read_photos
from sitwell.head.surface import Head, head_from_values
from sitwell.head.template import load_template
from sitwell.scene.glasses_measures import Glasses
from sitwell.scene.measures import NAMES, Evaluator
from sitwell.scene.preview import Sculpture
from sitwell.scene.setup import CROPS, Setup
from sitwell.search.benefit import Benefit
from sitwell.search.choices import Means
from sitwell.search.guards import Guards, make_guards
from sitwell.search.plan import Gain, GuardState, Plan, PlannedSetup
from sitwell.search.planner import make_plan
from sitwell.search.stage import set_stage
from sitwell.sheet.pdf import write_sheet
from sitwell.shoot.choice import asked_in, wears_glasses
from sitwell.shoot.live import LiveCheck
from sitwell.shoot.look import sitter_for
from sitwell.shoot.sight import Expected
from sitwell.ui.web.jobs import Stop, Tell
from sitwell.ui.web.wording import mark

Pixels = NDArray[np.uint8]

OPENING = mark("reading the frames")
LEVEL = mark("Level and straight on, looking into the lens, mouth closed.")
OWN_LEFT = mark("A quarter turn to the sitter’s left, the ear in view.")
OWN_RIGHT = mark("A quarter turn to the sitter’s right, the ear in view.")
ENOUGH = mark("These frames are enough for a plan. Marks on the ears make it surer.")
ANOTHER = mark("These frames hardly show one and the same face; shoot one again, mouth closed.")
# Frames nearer to straight on than this count as level, farther than the other as turned;
# both are design choices.
LEVEL_DEG, TURNED_DEG = 12.0, 15.0
HIGH_STRAIN = 2.0
SHEET_PX = 900
PROPOSED = tuple(name for name in POINT_NAMES if not name.startswith("iris"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameWork:
    """One frame to read: our copy's path, what it is called, its marks in full-size pixels."""

    id: str
    name: str
    path: Path
    marks: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameSeen:
    """What is drawn of one frame; ``trouble`` says why it could not be used.

    ``dots`` are landmarks and ``wire`` the fitted head's lines as an SVG path, in full-size pixels;
    ``proposed`` are places for marks by name. Angles and their spread are in degrees.
    """

    id: str
    dots: tuple[tuple[float, float], ...] = ()
    wire: str = ""
    proposed: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    seen_deg: tuple[float, float, float] | None = None
    spread_deg: tuple[float, float, float] | None = None
    distance_mm: float | None = None
    key_deg: tuple[float, float] | None = None
    trouble: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceRead:
    """The frames and, where one could be used, the head with what rebuilds it in a file."""

    frames: tuple[FrameSeen, ...]
    head: Head | None
    kept: Mapping[str, Any]
    notes: tuple[str, ...]
    advice: tuple[str, ...]


def read_face(frames: Sequence[FrameWork], level: int | None, tell: Tell, stop: Stop) -> FaceRead:
    """Read frames of one sitter together; ``level`` is the place of their level frame."""
    tell(0.1, OPENING)
    marks = marks_from_dict({frame.path.name: dict(frame.marks) for frame in frames})
    reading = read_photos([frame.path for frame in frames], marks=marks, level=level)
    seen = tuple(
        _seen(frame, found, reading.fit)
        for frame, found in zip(frames, reading.frames, strict=True)
    )
    names = {frame.path.name: frame.name for frame in frames}
    sitter = flow.sitter_of(reading) if reading.fit else None
    return FaceRead(
        frames=seen,
        head=sitter.head if sitter else None,
        kept=sitter.kept if sitter else {},
        notes=tuple(_named(note, names) for note in reading.notes),
        advice=_advice(seen, reading.fit),
    )


def plan_sitting(
    head: Head,
    glasses: bool,
    wishes: tuple[Wish, ...],
    kit: Kit,
    room: Room,
    comfort: Comfort,
    framing: str,
    aspect: str,
    locked: Mapping[str, float | str],
    tell: Tell,
    stop: Stop,
) -> Plan:
    """Three set-ups for a head and a brief; ``locked`` moves stay where they are."""
    return make_plan(
        Evaluator(head, Glasses() if glasses else None),
        wishes,
        kit,
        room,
        comfort,
        framing,
        aspect,
        locked=locked,
        progress=tell,
        stop=stop,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What a set-up shows: every measure, what each wish gets, which guards hold."""

    measures: Mapping[str, float]
    gains: tuple[Gain, ...]
    guards: tuple[GuardState, ...]


class Judge:
    """Judges set-ups moved by hand exactly as the search does, against a plan's straight-on one."""

    def __init__(
        self, evaluator: Evaluator, wishes: Sequence[Wish], means: Means, plan: Plan
    ) -> None:
        self._stage = set_stage(
            evaluator,
            NAMES,
            means,
            framing=plan.baseline.framing,
            aspect=plan.baseline.aspect,
            crops=CROPS,
        )
        self._baseline = self._stage.look(plan.baseline)
        named = dict(zip(self._stage.names, self._baseline.tolist(), strict=True))
        self._benefit = Benefit(wishes, self._stage.names, self._baseline)
        self._guards = Guards(make_guards(named), self._stage.names)

    def judge(self, setup: Setup) -> Judged:
        """Measures, gains and guards of a set-up."""
        vector = self._stage.look(setup)
        was, becomes = self._stage.reader(self._baseline), self._stage.reader(vector)
        steps = self._benefit.steps(vector)
        gains = tuple(
            Gain(
                wish=self._benefit.wishes[owner].feature,
                measure=aim.measure,
                was=was(aim.measure),
                becomes=becomes(aim.measure),
                gain=float(steps[index]),
            )
            for index, (owner, aim) in enumerate(self._benefit.aims)
            if aim.stands
        )
        measures = dict(zip(NAMES, vector[: len(NAMES)].tolist(), strict=True))
        return Judged(measures=measures, gains=gains, guards=self._guards.states(vector))


class Model:
    """One sitter's head, ready to be looked at in any set-up while a control moves."""

    def __init__(self, head: Head, glasses: bool) -> None:
        self._evaluator = Evaluator(head, Glasses() if glasses else None)
        self._sculpture = Sculpture(head)
        # each keeps its buffers, so two tabs must take turns
        self._measuring, self._drawing = threading.Lock(), threading.Lock()

    def judge_for(
        self, wishes: Sequence[Wish], kit: Kit, room: Room, comfort: Comfort, plan: Plan
    ) -> Judge:
        """A judge for one brief and plan."""
        means = Means(kit=kit, room=room, comfort=comfort, locked={})
        with self._measuring:
            return Judge(self._evaluator, wishes, means, plan)

    def judge(self, judge: Judge, setup: Setup) -> Judged:
        """Measures, gains and guards of a set-up."""
        with self._measuring:
            return judge.judge(setup)

    def picture(self, setup: Setup, height_px: int, *, plain: bool = False) -> bytes:
        """The head as the camera sees it, as a JPEG in the set-up's own format."""
        made = BytesIO()
        Image.fromarray(self.pixels(setup, height_px, plain=plain)).save(made, "JPEG", quality=86)
        return made.getvalue()

    def pixels(self, setup: Setup, height_px: int, *, plain: bool = False) -> Pixels:
        """The same picture as pixels (H, W, 3)."""
        wide, high = (float(part) for part in setup.aspect.split(":"))
        with self._drawing:
            return self._sculpture.render(
                setup, round(height_px * wide / high), height_px, plain=plain
            )

    def curve(self, setup: Setup, move: str, values: Sequence[float]) -> list[dict[str, float]]:
        """The measures for each value of one move, all else as in the set-up."""
        rows = []
        for value in values:
            with self._measuring:
                seen = self._evaluator.evaluate(setup.with_changes(**{move: float(value)}))
            rows.append(dict(zip(NAMES, seen.tolist(), strict=True)))
        return rows


def live_check(head: Head | None, planned: PlannedSetup | None, setup: Setup | None) -> LiveCheck:
    """A check of landing frames against a set-up as it stands in hand; without one, eyes and focus.

    The leeway was found for the planned set-up, so one moved by hand has none.
    """
    if planned is None or setup is None:
        return LiveCheck(Expected())
    mine = planned if setup == planned.setup else replace(planned, setup=setup, leeway=())
    expected = Expected(planned=mine, asked=asked_in(mine), glasses=wears_glasses(mine))
    return LiveCheck(expected, sitter_for(head, setup) if head is not None else None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWork:
    """A sheet to draw: the planned set-up, how it stands in hand, and where it goes."""

    plan: Plan
    planned: PlannedSetup
    setup: Setup
    path: Path
    paper: str
    discreet: bool
    sitter: str
    light: str
    daylight: Daylight | None = None


def draw_sheet(
    model: Model, parts: tuple[tuple[Wish, ...], Kit, Room, Comfort], work: SheetWork
) -> Path:
    """Draw one sheet; a set-up moved by hand is judged anew, and its leeway is left out."""
    planned = work.planned
    if work.setup != planned.setup:
        judged = model.judge(model.judge_for(*parts, work.plan), work.setup)
        planned = replace(
            planned,
            setup=work.setup,
            measures=judged.measures,
            gains=judged.gains,
            guards=judged.guards,
            leeway=(),
            reasons=(),
        )
    return write_sheet(
        planned,
        work.plan,
        model.pixels(work.setup, SHEET_PX),
        model.pixels(work.plan.baseline, SHEET_PX),
        work.path,
        paper=work.paper,
        discreet=work.discreet,
        sitter=work.sitter,
        light=work.light,
        daylight=work.daylight,
    )


def _seen(frame: FrameWork, found: FrameReading, fit: Fit | None) -> FrameSeen:
    names = {frame.path.name: frame.name}
    notes = tuple(_named(note, names) for note in found.notes)
    sighting, pose, fitted = found.sighting, found.pose, found.fitted
    if fit is None or sighting is None or pose is None or fitted is None:
        return FrameSeen(id=frame.id, trouble=notes[0] if notes else "", notes=notes[1:])
    laid = _Overlay.of(fit.head, fitted, sighting)
    light, spread = found.light, fitted.spread
    return FrameSeen(
        id=frame.id,
        dots=tuple((round(x, 1), round(y, 1)) for x, y in sighting.landmarks_px.tolist()),
        wire=laid.wire(),
        proposed=laid.proposed(),
        seen_deg=pose.seen_deg,
        spread_deg=(spread.turn_deg, spread.chin_deg, spread.tilt_deg),
        distance_mm=pose.distance_mm,
        key_deg=(light.key_azimuth_deg, light.key_elevation_deg) if light else None,
        notes=notes,
    )


def _named(text: str, names: Mapping[str, str]) -> str:
    """A note about our copy, with the name that the photographer knows."""
    for ours, theirs in names.items():
        text = text.replace(ours, theirs)
    return text


def _advice(frames: Sequence[FrameSeen], fit: Fit | None) -> tuple[str, ...]:
    """What to shoot next, so that every side of the face has been seen once."""
    turns = [frame.seen_deg[0] for frame in frames if frame.seen_deg is not None]
    wanted = [
        (LEVEL, any(abs(turn) < LEVEL_DEG for turn in turns)),
        (OWN_LEFT, any(turn > TURNED_DEG for turn in turns)),
        (OWN_RIGHT, any(turn < -TURNED_DEG for turn in turns)),
    ]
    missing = tuple(text for text, there in wanted if not there)
    if fit is not None and fit.strain > HIGH_STRAIN:
        return (ANOTHER, *missing)
    return missing or (ENOUGH,)


@dataclass(frozen=True, slots=True)
class _Overlay:
    """The fitted head, with the frame's expression, as it lies in the photograph."""

    head: Head
    pixels: NDArray[np.float64]
    towards: NDArray[np.float64]  # each triangle's area in px^2, positive where it faces the lens

    @classmethod
    def of(cls, head: Head, fitted: FittedFrame, sighting: Sighting) -> "_Overlay":
        expression = fitted.expression.astype(np.float32)
        shown = head_from_values(load_template(), head.shape, expression, head.hairline_mm)
        focal_px = sighting.focal.px_at(fitted.pose.distance_mm)
        pixels = project(
            shown.vertices_mm.astype(np.float64), fitted.pose, focal_px, sighting.centre_px
        )
        first, second, third = (pixels[shown.triangles[:, corner]] for corner in range(3))
        along, beside = second - first, third - first
        return cls(shown, pixels, along[:, 1] * beside[:, 0] - along[:, 0] * beside[:, 1])

    def wire(self) -> str:
        """The lines where one patch of the face meets another, as an SVG path."""
        edges, owners = _borders(self.head)
        shown = (self.towards[owners] > 0).all(axis=1)
        starts, ends = self.pixels[edges[shown, 0]], self.pixels[edges[shown, 1]]
        return "".join(
            f"M{x1:.0f} {y1:.0f}L{x2:.0f} {y2:.0f}"
            for (x1, y1), (x2, y2) in zip(starts, ends, strict=True)
        )

    def proposed(self) -> dict[str, tuple[float, float]]:
        """Where the marks should lie that the lens can see."""
        places = {}
        for name in PROPOSED:
            triangle, weights = self.head.point_anchors[name]
            x, y = weights @ self.pixels[self.head.triangles[triangle]]
            if self.towards[triangle] > 0:
                places[name] = (float(x), float(y))
        return places


def _borders(head: Head) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Edges (E, 2) between triangles of different patches, and those two triangles (E, 2)."""
    corners = head.triangles.astype(np.int64)
    sides = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    owner = np.tile(np.arange(len(corners)), 3)
    order = np.lexsort(np.sort(sides, axis=1).T)
    ordered, owner = np.sort(sides, axis=1)[order], owner[order]
    twins = np.flatnonzero((ordered[1:] == ordered[:-1]).all(axis=1))
    first, second = owner[twins], owner[twins + 1]
    patch = head.region_of_triangle
    differs = (patch[first] != patch[second]) & (patch[first] > 0) & (patch[second] > 0)
    return ordered[twins[differs]], np.stack([first, second], axis=1)[differs]
