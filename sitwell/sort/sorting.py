"""Sort a sitting: read every frame once, find the bursts, and put the best of each forward."""

import dataclasses
import hashlib
import os
from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from sitwell.base.errors import SidecarError, SortError
from sitwell.base.words import tr
from sitwell.sheet.plan_file import load_plan_and_head
from sitwell.shoot.check import check_frame
from sitwell.shoot.choice import choose_setup
from sitwell.shoot.frame_facts import Baseline, Expected, Sight, baseline_of, sharpest
from sitwell.shoot.frames import Frame, group_frames
from sitwell.shoot.journal import stamp_of
from sitwell.shoot.watch import list_photos
from sitwell.sort.bursts import Shot, find_bursts
from sitwell.sort.index import Index, ReadFrame
from sitwell.sort.rank import Contender, RankedBurst, rank_burst
from sitwell.sort.reading import Held, Task, read_all
from sitwell.sort.xmp import read_sidecar

Progress = Callable[[int, int], None]
# A sitter's usual is taken from so many frames before a burst and after it.
FRAMES_AROUND = 60
MOST_WORKERS = 61  # a pool of more processes is refused on Windows
_AT_A_TIME = 32


class Sorting:
    """One folder being sorted; ``index_path`` is a file of ours outside the folder.

    ``expected`` holds the plan and what was asked for; ``held`` the sitter's head and the set-up
    it is held against. Without them eyes and focus are sorted, and nothing else is said.
    """

    def __init__(
        self,
        folder: Path,
        index_path: Path,
        expected: Expected | None = None,
        held: Held | None = None,
    ) -> None:
        if not folder.is_dir():
            raise SortError(
                tr("There is no folder '{folder}' to sort; check the name.", folder=folder)
            )
        self.folder = folder
        self._expected, self._held = expected or Expected(), held
        self.index = Index(index_path, _lens(held))

    def read(
        self,
        workers: int | None = None,
        progress: Progress | None = None,
        scheduler: str | None = None,
    ) -> int:
        """Read what was not read before; how many frames the folder has.

        ``progress`` is called with how many are done and how many there are. With ``scheduler``,
        the address of a Dask scheduler, its workers read, which must see the folder under the
        same name. Raises SortError when the folder goes away meanwhile, or can't be recorded.
        """
        frames = group_frames(list_photos(self.folder), with_times=False)
        todo = [task for task in self._tasks(frames) if not self.index.has(task.name, task.stamp)]
        done = len(frames) - len(todo)
        batch: list[tuple[int, ReadFrame]] = []
        try:
            for task, read in self._reading(todo, workers, scheduler):
                if read.problem and stamp_of(task.frame.path) != task.stamp:
                    self._refuse_if_gone(done, len(frames))
                    continue  # it went or changed meanwhile: the next sort sees what is there then
                batch.append((task.place, read))
                done += 1
                if len(batch) == _AT_A_TIME:
                    self.index.add(batch)
                    batch = []
                if progress:
                    progress(done, len(frames))
        finally:
            self.index.add(batch)
        return len(frames)

    def _reading(
        self, todo: list[Task], workers: int | None, scheduler: str | None
    ) -> Iterator[tuple[Task, ReadFrame]]:
        if scheduler is not None and todo:
            from sitwell.sort.cluster import read_on_cluster

            return read_on_cluster(todo, self._held, scheduler, self.folder)
        return read_all(todo, self._held, _workers(workers, len(todo)))

    def _refuse_if_gone(self, done: int, count: int) -> None:
        if next(list_photos(self.folder), None) is None:
            raise SortError(
                tr(
                    "The folder '{folder}' went away after {done} of {count} frames; connect it "
                    "and sort again, which goes on from here.",
                    folder=self.folder,
                    done=done,
                    count=count,
                )
            )

    def bursts(self) -> Iterator[RankedBurst]:
        """The bursts in order of time, ranked; memory holds one burst and the frames around it."""
        people = _People(self._expected, self._held is not None)
        ahead: deque[list[ReadFrame]] = deque()
        for frames in _with_frames(self.index.frames()):
            people.meet(frames)
            ahead.append(frames)
            while sum(len(burst) for burst in ahead) > FRAMES_AROUND:
                yield self._ranked(ahead.popleft(), people)
        while ahead:
            yield self._ranked(ahead.popleft(), people)

    def unread(self) -> Iterator[ReadFrame]:
        """Frames that could not be read, each with its problem."""
        return self.index.unread()

    def master_of(self, name: str) -> Path:
        """The file that the sidecar of a frame belongs to: the raw file where there is one."""
        return (self.folder / name).with_name(self.index.master(name) or Path(name).name)

    def _tasks(self, frames: Iterable[Frame]) -> Iterator[Task]:
        for place, frame in enumerate(frames):
            stamp = stamp_of(frame.path)
            if stamp is not None:
                name = str(frame.path.relative_to(self.folder))
                yield Task(place=place, name=name, frame=frame, stamp=stamp)

    def _ranked(self, burst: list[ReadFrame], people: "_People") -> RankedBurst:
        return rank_burst([self._contender(frame, people, burst) for frame in burst])

    def _contender(self, frame: ReadFrame, people: "_People", burst: list[ReadFrame]) -> Contender:
        return Contender(
            file=frame.name,
            reports=tuple(
                check_frame(frame.name, sight, people.expected(sight, burst))
                for sight in frame.sights
            ),
            choice=self._choice(frame),
        )

    def _choice(self, frame: ReadFrame) -> float | None:
        """A person's choice made with us, or else their rating in a sidecar."""
        chosen = self.index.choice(frame.name)
        if chosen is not None:
            return chosen
        try:
            sidecar = read_sidecar((self.folder / frame.name).with_name(frame.master))
        except (SidecarError, OSError):
            return None  # it is not ours to mend here; handing over says what is wrong with it
        return sidecar.rating if sidecar and sidecar.by_person else None


class _People:
    """The usual of whoever is in the frames now, told apart by where they stand."""

    def __init__(self, expected: Expected, has_head: bool) -> None:
        self._expected, self._has_head = expected, has_head
        self._seen: dict[tuple[int, str], deque[Sight]] = defaultdict(
            lambda: deque(maxlen=2 * FRAMES_AROUND)
        )

    def meet(self, frames: list[ReadFrame]) -> None:
        """Take in a burst."""
        for frame in frames:
            for sight in frame.sights:
                self._seen[sight.faces, sight.position].append(sight)

    def expected(self, sight: Sight, burst: list[ReadFrame]) -> Expected:
        """What one person is held against in this burst."""
        same = [
            other
            for frame in burst
            for other in frame.sights
            if (other.faces, other.position) == (sight.faces, sight.position)
        ]
        planned = self._expected.planned if sight.moves else None
        baseline = self._baseline(sight)
        return Expected(
            planned=planned,
            baseline=baseline,
            focus_best=sharpest(same, baseline) if len(same) > 1 else {},
            glasses=self._expected.glasses,
            asked=self._expected.asked if planned or not self._has_head else (),
        )

    def _baseline(self, sight: Sight) -> Baseline | None:
        given = self._expected.baseline
        if given is not None and (sight.moves or not self._has_head):
            return given
        return baseline_of(self._seen[sight.faces, sight.position])


def sorting_for(
    folder: Path, state: Path, plan: Path | None = None, name: str | None = None
) -> Sorting:
    """A folder to sort, held against a set-up of a plan file where one is given.

    ``state`` is our own folder for what was read and chosen; ``name`` chooses among the set-ups.
    """
    digest = hashlib.blake2b(os.fsencode(folder.absolute()), digest_size=8).hexdigest()
    index_path = state / f"sort-{digest}.sqlite"
    if plan is None:
        return Sorting(folder, index_path)
    whole, head = load_plan_and_head(plan)
    planned = choose_setup(whole, name)
    expected = Expected.of(planned)
    held = Held(head=head, setup=planned.setup) if head else None
    return Sorting(folder, index_path, expected, held)


def sort_folder(
    folder: Path,
    index_path: Path,
    expected: Expected | None = None,
    held: Held | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Iterator[RankedBurst]:
    """Read a folder on all cores and give its bursts, the best of each put forward."""
    sorting = Sorting(folder, index_path, expected or Expected(), held)
    try:
        sorting.read(workers, progress)
        yield from sorting.bursts()
    finally:
        sorting.index.close()


def _with_frames(frames: Iterable[ReadFrame]) -> Iterator[list[ReadFrame]]:
    """Bursts of read frames; only those of open bursts are held."""
    open_frames: dict[str, ReadFrame] = {}

    def shots() -> Iterator[Shot]:
        for frame in frames:
            open_frames[frame.name] = frame
            yield Shot(name=frame.name, taken_s=frame.taken_s, look=frame.look)

    for burst in find_bursts(shots()):
        yield [open_frames.pop(shot.name) for shot in burst]


def _workers(asked: int | None, tasks: int) -> int:
    """As many as asked for, or one for each core; few frames are not worth starting others."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return min(asked or cores or 1, max(1, tasks // 8), MOST_WORKERS)


def _lens(held: Held | None) -> str:
    """A name for what frames are read with: with another head they are read again."""
    kept = [field.name for field in dataclasses.fields(Sight)]
    if held is None:
        return f"no head {kept}"
    digest = hashlib.blake2b(held.head.vertices_mm.tobytes(), digest_size=16).hexdigest()
    return f"head {digest} {held.setup} {held.neutral_chin_deg} {kept}"
