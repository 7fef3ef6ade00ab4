"""Ink on paper: a small SVG canvas in millimetres, and labels that never lie on each other.

Every line that is drawn is remembered as points, so that a label can look for a clear place.
Text is set in the face that the typesetter carries, whose letter widths are tabled here: an
independent measurement of the same widths by the typesetter itself is in the tests.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from html import escape
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

FONT = "Libertinus Serif"
INK, SOFT, FAINT = "#1d2733", "#5c6873", "#a9b1b8"
KEY_FILL, KEY_INK = "#f3d9a4", "#9a5b12"
LAMP_FILL, LAMP_INK = "#dbe4ec", "#35536e"  # a light behind the sitter

POINT_SPACING_MM = 0.6
ON_SHAPE_MM = 80.0  # lying on a filled shape costs a label as much as this way on the paper
# Where a label's best place costs more, a line of it that is wider may be broken in two.
CROWDED_MM, WIDE_MM = 25.0, 28.0
LABEL_STEP_MM = 1.5
LABEL_AIR_MM = 1.2
CROSSING_MM = 40.0  # a leader across another label costs as much as this way on the paper
LINE_HEIGHT = 1.16
# Letter widths of the face, in thousandths of the type size; unlisted letters count as the widest.
_NARROW = dict(zip(" !\"#$%&'()*+,-./:;", (250, 288, 336, 465, 465, 637, 705, 190, 298, 298, 369,
    550, 220, 338, 220, 323, 236, 236), strict=True))  # fmt: skip
_CAPITALS = dict(zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", (695, 588, 646, 701, 557, 485, 685, 730, 297,
    322, 637, 528, 839, 699, 702, 541, 702, 587, 485, 597, 661, 652, 951, 660, 575, 604),
    strict=True))  # fmt: skip
_SMALL = dict(zip("abcdefghijklmnopqrstuvwxyz", (457, 493, 428, 506, 447, 310, 500, 538, 271, 272,
    512, 264, 790, 542, 504, 519, 503, 372, 390, 316, 531, 497, 747, 490, 515, 424),
    strict=True))  # fmt: skip
_SIGNS = {"°": 267, "×": 550, "–": 548, "·": 250, "’": 268, "−": 550}
WIDTHS = _NARROW | _CAPITALS | _SMALL | _SIGNS | dict.fromkeys("0123456789", 465)


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle on the paper in mm, from its top left corner; y runs down."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Lines of text that belong to an anchor (2,) on the paper; the first line is the stronger.

    ``or_lines`` is another way to break them, taken where it finds a clearer place.
    A thin line leads from the anchor to a label that stands farther off than ``leader_from_mm``;
    one with less ``pull`` rather goes farther than onto ink.
    """

    lines: tuple[str, ...]
    anchor: tuple[float, float]
    colour: str = INK
    leader_from_mm: float = 3.0
    strong: bool = True
    or_lines: tuple[str, ...] = ()
    bar_mm: float = 0.0
    pull: float = 1.0


@dataclass(slots=True, kw_only=True)
class Canvas:
    """A sheet of paper in mm with what has been drawn on it; y runs down."""

    width_mm: float
    height_mm: float
    text_mm: float
    elements: list[str] = field(default_factory=list)
    inked: list[NDArray[np.float64]] = field(default_factory=list)
    filled: list[NDArray[np.float64]] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    barred: list[Box] = field(default_factory=list)

    def bar(self, box: Box) -> None:
        """Let no label stand on a part of the paper."""
        self.barred.append(box)

    def line(
        self,
        points: ArrayLike,
        *,
        colour: str = INK,
        width: float = 0.3,
        dash: str = "",
        fill: str = "none",
        closed: bool = False,
        clear: bool = True,
    ) -> None:
        """Draw a line through points (N, 2) in mm; labels keep off it where ``clear``."""
        path = np.asarray(points, dtype=np.float64)
        path = np.vstack([path, path[:1]]) if closed else path
        steps = " L".join(f"{x:.2f} {y:.2f}" for x, y in path)
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.elements.append(
            f'<path d="M{steps}{"Z" if closed else ""}" fill="{fill}" stroke="{colour}" '
            f'stroke-width="{width}" stroke-linejoin="round" stroke-linecap="round"{dashes}/>'
        )
        if clear:
            self.inked.append(_sampled(path))
        if clear and fill != "none":
            self.filled += [_sampled(path), _inside(path)]

    def place(self, labels: Iterable[Label]) -> None:
        """Set each label in the clearest place near its anchor, never on another label."""
        for label in labels:
            ways = [label]
            if label.or_lines:
                ways.append(replace(label, lines=label.or_lines))
            places = [self._clearest(way) for way in ways]
            if min(cost for _, cost in places) > CROWDED_MM:
                ways.append(replace(label, lines=self._broken(label.lines)))
                places.append(self._clearest(ways[-1]))
            best = min(range(len(ways)), key=lambda index: places[index][1])
            self.boxes.append(places[best][0])
            self._write(ways[best], places[best][0])

    def svg(self) -> str:
        """The drawing as a complete SVG document, sized in mm."""
        size = f'width="{self.width_mm:g}mm" height="{self.height_mm:g}mm"'
        view = f'viewBox="0 0 {self.width_mm:g} {self.height_mm:g}"'
        body = "\n".join(self.elements)
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {view}>\n{body}\n</svg>\n'

    def _clearest(self, label: Label) -> tuple[Box, float]:
        """The best place for a label, and what it costs in mm of way, ink and crossings."""
        width, height = self._size(label)
        xs = np.arange(0.0, max(self.width_mm - width, 0.0) + 1e-9, LABEL_STEP_MM)
        ys = np.arange(0.0, max(self.height_mm - height, 0.0) + 1e-9, LABEL_STEP_MM)
        x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
        cost = self._cost(label, x, y, width, height)
        cost += 7.0 * np.sqrt(_under(self.inked, xs, ys, width, height))
        on_shape = _under(self.filled, xs, ys, width, height)
        cost += np.where(on_shape > 0, ON_SHAPE_MM, 0.0) + 7.0 * np.sqrt(on_shape)
        best = int(np.argmin(cost))
        box = Box(x=float(x[best]), y=float(y[best]), width=width, height=height)
        return box, float(cost[best])

    def _cost(
        self,
        label: Label,
        x: NDArray[np.float64],
        y: NDArray[np.float64],
        width: float,
        height: float,
    ) -> NDArray[np.float64]:
        ax, ay = label.anchor
        gap_x = np.maximum(np.maximum(x - ax, ax - x - width), 0.0)
        gap_y = np.maximum(np.maximum(y - ay, ay - y - height), 0.0)
        cost = np.hypot(gap_x, gap_y) + 0.1 * np.hypot(x + width / 2 - ax, y + height / 2 - ay)
        cost *= label.pull
        leads_across = self._leads_across(label, x, y, width, height)
        cost = cost + np.where(leads_across, CROSSING_MM, 0.0)
        for box in (*self.boxes, *self.barred):
            apart = (x >= box.x + box.width) | (x + width <= box.x)
            apart |= (y >= box.y + box.height) | (y + height <= box.y)
            cost = np.where(apart, cost, np.inf)
        return cost

    def _leads_across(
        self,
        label: Label,
        x: NDArray[np.float64],
        y: NDArray[np.float64],
        width: float,
        height: float,
    ) -> NDArray[np.bool_]:
        """For each place (N,), whether the line from the anchor would cross another label."""
        ax, ay = label.anchor
        along = np.linspace(0.0, 1.0, 16)
        line_x = ax + along * (np.clip(ax, x, x + width) - ax)[:, None]
        line_y = ay + along * (np.clip(ay, y, y + height) - ay)[:, None]
        across = np.zeros(x.shape, dtype=bool)
        for box in self.boxes:
            within = (line_x > box.x) & (line_x < box.x + box.width)
            within &= (line_y > box.y) & (line_y < box.y + box.height)
            across |= within.any(axis=1)
        return across

    def _broken(self, lines: tuple[str, ...]) -> tuple[str, ...]:
        """The lines with each wide one broken in two, at the space nearest to its middle."""
        broken: list[str] = []
        for line in lines:
            spaces = [at for at, letter in enumerate(line) if letter == " "]
            if not spaces or text_width_mm(line, self.text_mm) <= WIDE_MM:
                broken.append(line)
                continue
            at = min(spaces, key=lambda at: abs(at - len(line) / 2))
            broken += [line[:at], line[at + 1 :]]
        return tuple(broken)

    def _size(self, label: Label) -> tuple[float, float]:
        widths = [text_width_mm(line, self.text_mm) for line in label.lines]
        height = len(label.lines) * LINE_HEIGHT * self.text_mm + (2.2 if label.bar_mm else 0.0)
        return max(*widths, label.bar_mm) + 2 * LABEL_AIR_MM / 2, height

    def _write(self, label: Label, box: Box) -> None:
        self._lead(label, box)
        x = box.x + LABEL_AIR_MM / 2
        for number, line in enumerate(label.lines):
            y = box.y + (number * LINE_HEIGHT + 0.92) * self.text_mm
            style = "" if number or not label.strong else ' font-weight="600"'
            self.elements.append(
                f'<text x="{x:.2f}" y="{y:.2f}" font-family="{FONT}, Georgia, serif" '
                f'font-size="{self.text_mm:g}" fill="{label.colour}"{style}>{escape(line)}</text>'
            )
        if label.bar_mm:
            y = box.y + box.height - 0.8
            ends = ((x, y - 1.0), (x, y), (x + label.bar_mm, y), (x + label.bar_mm, y - 1.0))
            self.line(ends, clear=False)

    def _lead(self, label: Label, box: Box) -> None:
        ax, ay = label.anchor
        x = min(max(ax, box.x), box.x + box.width)
        y = min(max(ay, box.y), box.y + box.height)
        if np.hypot(x - ax, y - ay) > label.leader_from_mm:
            self.line(((ax, ay), (x, y)), colour=FAINT, width=0.18)


def text_width_mm(text: str, size_mm: float) -> float:
    """Width of a line of text at a type size, both in mm; semibold is allowed for by 5 %."""
    return 1.05 * size_mm * sum(WIDTHS.get(letter, 951) for letter in text) / 1000.0


def arc_points(
    centre: ArrayLike, radius: float, start_deg: float, end_deg: float
) -> NDArray[np.float64]:
    """Points (N, 2) of an arc on paper; angles from straight down, positive to the right."""
    angles = np.radians(np.linspace(start_deg, end_deg, 24))
    return np.asarray(centre, dtype=np.float64) + radius * np.stack(
        [np.sin(angles), np.cos(angles)], axis=1
    )


def _inside(path: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points (N, 2) of a grid that lie inside a closed path, by the even-odd rule."""
    (left, top), (right, bottom) = path.min(axis=0), path.max(axis=0)
    xs = np.arange(left, right, 2 * POINT_SPACING_MM)
    ys = np.arange(top, bottom, 2 * POINT_SPACING_MM)
    x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
    inside = np.zeros(x.shape, dtype=bool)
    for (x1, y1), (x2, y2) in zip(path, np.roll(path, -1, axis=0), strict=True):
        spans = (y1 > y) != (y2 > y)
        rise = y2 - y1 if y2 != y1 else 1.0
        inside ^= spans & (x < x1 + (x2 - x1) * (y - y1) / rise)
    return np.stack([x[inside], y[inside]], axis=1)


def _under(
    points: list[NDArray[np.float64]],
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
    width: float,
    height: float,
) -> NDArray[np.float64]:
    """How many points lie under a box of that size at each of a grid's places (N,), row by row."""
    if not points:
        return np.zeros(len(xs) * len(ys))
    ink_x, ink_y = np.vstack(points).T
    air_x, air_y = LABEL_AIR_MM, LABEL_AIR_MM / 2
    # a point lies under the boxes of one rectangle of places: count at its corners, then sum
    first = np.searchsorted(xs, ink_x - width - air_x, side="right")
    past = np.searchsorted(xs, ink_x + air_x)
    top = np.searchsorted(ys, ink_y - height - air_y, side="right")
    below = np.searchsorted(ys, ink_y + air_y)
    count = np.zeros((len(ys) + 1, len(xs) + 1))
    for row, column, sign in ((top, first, 1), (top, past, -1), (below, first, -1),
                              (below, past, 1)):  # fmt: skip
        np.add.at(count, (row, column), sign)
    return np.asarray(count.cumsum(axis=0).cumsum(axis=1)[:-1, :-1].ravel())


def _sampled(path: NDArray[np.float64]) -> NDArray[np.float64]:
    pieces = [path[:1]]
    for start, end in pairwise(path):
        count = int(np.ceil(np.hypot(*(end - start)) / POINT_SPACING_MM)) + 1
        pieces.append(start + np.linspace(0.0, 1.0, count)[:, None] * (end - start))
    return np.vstack(pieces)
