"""Frames as they land: looked at, held against the plan, and answered with one nudge."""

import json
import threading
from collections import defaultdict, deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from sitwell.base.errors import SitwellError
from sitwell.base.formats import named
from sitwell.base.words import tr
from sitwell.brief.exif import ExifFacts
from sitwell.brief.focal import find_focal
from sitwell.brief.photos import Photo, keep_memory_for_many, open_photo
from sitwell.face.landmarks import find_faces
from sitwell.head.surface import Head
from sitwell.scene.setup import Setup
from sitwell.search.plan import PlannedSetup
from sitwell.sheet.plan_file import load_plan_and_head
from sitwell.shoot.check import FrameReport, check_frame
from sitwell.shoot.choice import choose_setup
from sitwell.shoot.findings import Finding
from sitwell.shoot.frame_facts import Expected, Sight, baseline_of, sharpest
from sitwell.shoot.frames import Frame, clock_s
from sitwell.shoot.journal import Journal
from sitwell.shoot.nudge import Nudge, Nudger
from sitwell.shoot.read_frame import LOOK_SIDE_PX, Sitter, look_at, sitter_for
from sitwell.shoot.watch import Watch

# Focus is compared with frames of the same go, and eyes with the sitting's last frames.
SAME_GO_S = 10.0
FRAMES_REMEMBERED = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One frame that landed: a report for each face, one nudge, or why it can't be read."""

    file: str
    reports: tuple[FrameReport, ...] = ()
    nudge: Nudge | None = None
    problem: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain mapping for JSON."""
        content = {
            "file": self.file,
            "problem": self.problem or None,
            "nudge": self.nudge.sentence if self.nudge else None,
            "faces": [{"position": r.sight.position, **r.as_dict()} for r in self.reports],
        }
        return named("checked frame", content)


@dataclass(slots=True)
class _Seen:
    """What is remembered of one person: their sights, and when each was taken."""

    sights: deque[Sight] = field(default_factory=lambda: deque(maxlen=FRAMES_REMEMBERED))
    times_s: deque[float | None] = field(default_factory=lambda: deque(maxlen=FRAMES_REMEMBERED))


class LiveCheck:
    """Checks frames one after another; remembers the sitter's usual and the last words.

    ``expected`` holds the plan and, when test frames gave it, the sitter's baseline; without one
    the sitter's own frames become it after the first few.
    """

    def __init__(self, expected: Expected, sitter: Sitter | None = None) -> None:
        self._expected, self._sitter = expected, sitter
        self._nudger = Nudger()
        self._people: dict[tuple[int, str], _Seen] = defaultdict(_Seen)

    def warm(self) -> None:
        """Load what the first frame would wait for; raises ModelError without the model."""
        keep_memory_for_many()
        side_px = 480
        find_faces(
            Photo(
                path=Path(),
                rgb=np.full((side_px, side_px, 3), 128, dtype=np.uint8),
                width_px=side_px,
                height_px=side_px,
                facts=ExifFacts(),
                focal=find_focal(ExifFacts(), side_px, side_px),
            )
        )
        if self._sitter is not None:
            self._sitter.evaluate(self._sitter.planned)

    def check(self, frame: Frame) -> Checked:
        """Look at one frame and say what it needs."""
        name = frame.path.name
        try:
            photo = open_photo(frame.path, largest_side_px=LOOK_SIDE_PX)
            sights = look_at(photo, find_faces(photo), self._sitter, with_key=True)
        except SitwellError as error:
            return Checked(file=name, problem=str(error))
        except Exception as error:  # one odd file must not end the watching in mid-session
            what = f"{type(error).__name__}: {error}"
            problem = tr("'{file}' could not be checked ({what}).", file=name, what=what)
            return Checked(file=name, problem=problem)
        reports = tuple(self._held_against(name, sight, frame) for sight in sights)
        first = next((r for r in reports if r.drifts), reports[0])
        urgent = next((r for r in reports if r.has("blink", "half-blink")), first)
        joined = replace(first, findings=(*_of_others(urgent, first), *first.findings))
        return Checked(file=name, reports=reports, nudge=self._nudger.next(joined))

    def _held_against(self, name: str, sight: Sight, frame: Frame) -> FrameReport:
        seen = self._people[sight.faces, sight.position]
        now_s = clock_s(frame.taken)
        if sight.faces:
            seen.sights.append(sight)
            seen.times_s.append(now_s)
        same_go = [s for s, t in zip(seen.sights, seen.times_s, strict=True) if _near(t, now_s)]
        given = self._expected.baseline if sight.moves or self._sitter is None else None
        baseline = given or baseline_of(seen.sights)
        expected = replace(
            self._expected if sight.moves or self._sitter is None else Expected(),
            baseline=baseline,
            focus_best=sharpest(same_go, baseline) if len(same_go) > 1 else {},
        )
        return check_frame(name, sight, expected)


def live_for_plan(path: Path, name: str | None = None) -> LiveCheck:
    """A check against one set-up of a plan file; see ``choose_setup``."""
    plan, head = load_plan_and_head(path)
    return live_for(choose_setup(plan, name), head)


def live_for(planned: PlannedSetup, head: Head | None, setup: Setup | None = None) -> LiveCheck:
    """A check against a planned set-up; ``setup`` is how it stands in hand, if it was moved.

    The leeway was found for the planned set-up, so one moved by hand has none.
    """
    if setup is not None and setup != planned.setup:
        planned = replace(planned, setup=setup, leeway=())
    expected = Expected.of(planned)
    return LiveCheck(expected, sitter_for(head, planned.setup) if head is not None else None)


def watch_and_check(
    folder: Path, state: Path, live: LiveCheck, stop: threading.Event | None = None
) -> Iterator[Checked]:
    """Check every new frame of a folder until ``stop`` is set; ``state`` is the journal's file.

    A frame's report is recorded before it is given out, so a crash loses none.
    """
    live.warm()
    journal = Journal(state, folder)
    try:
        watch = Watch(folder, journal)
        for arrival in watch.arrivals(stop):
            if arrival.problem:
                checked = Checked(file=arrival.frame.path.name, problem=arrival.problem)
            else:
                checked = live.check(arrival.frame)
            watch.done(arrival, json.dumps(checked.as_dict(), allow_nan=False))
            yield checked
    finally:
        journal.close()


def _of_others(urgent: FrameReport, first: FrameReport) -> tuple[Finding, ...]:
    """Another person's closed eyes, which spoil the frame for both."""
    if urgent is first:
        return ()
    return tuple(f for f in urgent.findings if f.name in ("blink", "half-blink"))


def _near(first_s: float | None, second_s: float | None) -> bool:
    return first_s is None or second_s is None or abs(first_s - second_s) <= SAME_GO_S
