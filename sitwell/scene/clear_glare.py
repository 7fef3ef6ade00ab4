"""The smallest single move that takes the key's mirror image off both panes of the glasses."""

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from sitwell.base.units import plain_number
from sitwell.base.words import mark, tr
from sitwell.head.surface import Head
from sitwell.scene.glasses_measures import Glasses, glare_measures
from sitwell.scene.setup import Setup
from sitwell.scene.view import Observer, View

CLEAR_DEG = 2.0  # a head is never held stiller (design choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """One move that clears both panes: by how much, how great an effort, and what results.

    ``move`` is "frame_tilt_deg" (temples raised where positive), "chin_deg", "key_elevation_deg"
    or "key_azimuth_deg". ``effort`` is the change as a share of a large one; ``margin_deg`` the
    lesser pane's margin then.
    """

    move: str
    change_deg: float
    effort: float
    margin_deg: float
    setup: Setup
    glasses: Glasses


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """A move's limits, its step, and a change that counts as large (common practice, no source)."""

    low: float
    high: float
    step: float
    large: float


WAYS = {
    "frame_tilt_deg": _Way(low=-2.0, high=20.0, step=0.5, large=10.0),
    "chin_deg": _Way(low=-12.0, high=18.0, step=0.5, large=10.0),
    "key_elevation_deg": _Way(low=0.0, high=60.0, step=1.0, large=30.0),
    "key_azimuth_deg": _Way(low=-90.0, high=90.0, step=1.0, large=40.0),
}
WORDS = {
    (
        "frame_tilt_deg",
        True,
    ): mark("raise the temples of the frame so that it leans {amount} degrees more"),
    ("frame_tilt_deg", False): mark(
        "lower the temples of the frame so that it leans {amount} degrees less"
    ),
    ("chin_deg", True): mark("bring the chin up {amount} degrees"),
    ("chin_deg", False): mark("bring the chin down {amount} degrees"),
    ("key_elevation_deg", True): mark("raise the key {amount} degrees"),
    ("key_elevation_deg", False): mark("lower the key {amount} degrees"),
    ("key_azimuth_deg", True): mark("move the key {amount} degrees toward camera right"),
    ("key_azimuth_deg", False): mark("move the key {amount} degrees toward camera left"),
}
NO_CURE = mark(
    "No single small move clears both panes: move the key and the chin together, or take a frame "
    "without glass."
)
KEY_MOVES = ("key_elevation_deg", "key_azimuth_deg")


def glare_margin_deg(view: View, glasses: Glasses) -> float:
    """The lesser of both panes' margins; negative = glare."""
    return float(np.min(glare_measures(view, glasses)))


def clear_glare(
    head: Head, setup: Setup, glasses: Glasses, *, key_moves: bool = True
) -> tuple[Cure, ...] | None:
    """Every single move that clears both panes, each by its smallest amount, least effort first.

    None when they are clear as it is; empty when no single move within its limits clears them:
    then two of them together, or a frame without glass. ``key_moves`` false leaves a key alone
    that can't be moved.
    """
    observer = Observer(head)
    view = observer.view(setup)
    if glare_margin_deg(view, glasses) >= CLEAR_DEG:
        return None
    tries: dict[str, Callable[[float], tuple[View, Glasses]]] = {
        "frame_tilt_deg": lambda value: (view, dataclasses.replace(glasses, tilt_deg=value)),
    }
    if key_moves:
        for name in KEY_MOVES:
            tries[name] = lambda value, name=name: (  # type: ignore[misc]
                dataclasses.replace(view, setup=setup.with_changes(**{name: value})),
                glasses,
            )
    # last, for it makes the observer look anew
    tries["chin_deg"] = lambda value: (observer.view(setup.with_changes(chin_deg=value)), glasses)
    found = [_smallest(name, _start(name, setup, glasses), tried) for name, tried in tries.items()]
    return tuple(sorted((cure for cure in found if cure), key=lambda cure: cure.effort))


def cure_words(cures: tuple[Cure, ...] | None) -> str:
    """The cures as one sentence for the photographer, least effort first; "" for nothing to do."""
    if cures is None:
        return ""
    if not cures:
        return tr(NO_CURE)
    told, *others = (
        tr(WORDS[cure.move, cure.change_deg > 0], amount=plain_number(abs(cure.change_deg)))
        for cure in cures
    )
    for other in others:
        told = tr("{one}, or {other}", one=told, other=other)
    return tr("To clear both panes {cures}.", cures=told)


def _start(name: str, setup: Setup, glasses: Glasses) -> float:
    return glasses.tilt_deg if name == "frame_tilt_deg" else float(getattr(setup, name))


def _smallest(
    name: str, start: float, tried: Callable[[float], tuple[View, Glasses]]
) -> Cure | None:
    for change in _outward(WAYS[name], start):
        view, glasses = tried(start + change)
        margin = glare_margin_deg(view, glasses)
        if margin >= CLEAR_DEG:
            return Cure(
                move=name,
                change_deg=change,
                effort=abs(change) / WAYS[name].large,
                margin_deg=margin,
                setup=view.setup,
                glasses=glasses,
            )
    return None


def _outward(way: _Way, start: float) -> Iterator[float]:
    """Changes from the smallest on, to both sides, within the limits."""
    for count in range(1, int((way.high - way.low) / way.step) + 1):
        for change in (count * way.step, -count * way.step):
            if way.low <= start + change <= way.high:
                yield change
