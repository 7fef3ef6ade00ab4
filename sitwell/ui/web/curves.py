"""What changes what: small curves of a measure against one move, drawn in ink."""

import html
import math
from collections.abc import Callable, Sequence

Place = Callable[[float, float], tuple[float, float]]
Say = Callable[[float], str]
WIDE, HIGH, EDGE = 240.0, 108.0, 8.0
LEFT, FOOT = 58.0, 20.0  # room for the words at the axes


def curve_svg(
    values: Sequence[float],
    measures: Sequence[float],
    at: tuple[float, float],
    limit: float | None,
    words: str,
    says: tuple[Say, Say] = (str, str),
) -> str:
    """One curve as SVG: ``at`` is where the set-up stands, ``limit`` the guard's line if any.

    ``says`` tells a value of the move, across, and of the measure, up, at the axes. Where a measure
    can't be told (nan) the curve has a gap.
    """
    known = [value for value in (*measures, at[1], limit) if value is not None and value == value]
    if not known or values[0] == values[-1]:
        return ""
    low, high = min(known), max(known)
    span = (high - low) or 1.0

    def place(value: float, measure: float) -> tuple[float, float]:
        across = (value - values[0]) / (values[-1] - values[0])
        up = (measure - low) / span
        return LEFT + across * (WIDE - LEFT - EDGE), HIGH - FOOT - up * (HIGH - FOOT - EDGE)

    parts = [f'<path class="axis" d="M{LEFT} {EDGE}V{HIGH - FOOT}H{WIDE - EDGE}"/>']
    if values[0] < 0 < values[-1]:
        x = place(0.0, low)[0]
        parts.append(f'<path class="zero" d="M{x:.1f} {EDGE}V{HIGH - FOOT}"/>')
    parts.append(f'<path class="curve" d="{_line(values, measures, place)}"/>')
    if limit is not None and math.isfinite(limit):
        y = place(values[0], limit)[1]
        parts.append(f'<path class="limit" d="M{LEFT} {y:.1f}H{WIDE - EDGE}"/>')
    if at[1] == at[1]:
        x, y = place(min(max(at[0], values[0]), values[-1]), at[1])
        parts.append(f'<circle class="at" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>')
    parts += _axis_words(values, (low, high), place, says)
    body = "".join(parts)
    label = html.escape(words)
    return f'<svg viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" aria-label="{label}">{body}</svg>'


def _axis_words(
    values: Sequence[float], ends: tuple[float, float], place: Place, says: tuple[Say, Say]
) -> list[str]:
    """The two ends of both axes and, across, zero; an end that would say the same is left out."""
    across, up = says
    told = [_letters(LEFT - 5, place(values[0], end)[1] + 4, "end", up(end)) for end in ends]
    if up(ends[0]) == up(ends[1]):
        told.pop()
    marks = {values[0]: "start", values[-1]: "end"}
    if values[0] < 0 < values[-1]:
        marks[0.0] = "middle"
    foot = HIGH - FOOT + 14
    return told + [
        _letters(place(value, ends[0])[0], foot, anchor, across(value))
        for value, anchor in marks.items()
    ]


def _letters(x: float, y: float, anchor: str, text: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{html.escape(text)}</text>'


def _line(values: Sequence[float], measures: Sequence[float], place: Place) -> str:
    path, pen = [], "M"
    for value, measure in zip(values, measures, strict=True):
        if measure != measure:
            pen = "M"
            continue
        x, y = place(value, measure)
        path.append(f"{pen}{x:.1f} {y:.1f}")
        pen = "L"
    return "".join(path)
