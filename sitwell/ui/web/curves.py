"""What changes what: small curves of a measure against one move, drawn in ink."""

import html
import math
from collections.abc import Callable, Sequence

Place = Callable[[float, float], tuple[float, float]]
WIDE, HIGH, EDGE = 200.0, 84.0, 8.0


def curve_svg(
    values: Sequence[float],
    measures: Sequence[float],
    at: tuple[float, float],
    limit: float | None,
    words: str,
) -> str:
    """One curve as SVG: ``at`` is where the set-up stands, ``limit`` the guard's line if any.

    Where a measure can't be told (nan) the curve has a gap.
    """
    known = [value for value in (*measures, at[1], limit) if value is not None and value == value]
    if not known or values[0] == values[-1]:
        return ""
    low, high = min(known), max(known)
    span = (high - low) or 1.0

    def place(value: float, measure: float) -> tuple[float, float]:
        across = (value - values[0]) / (values[-1] - values[0])
        up = (measure - low) / span
        return EDGE + across * (WIDE - 2 * EDGE), HIGH - EDGE - up * (HIGH - 2 * EDGE)

    parts = [f'<path class="curve" d="{_line(values, measures, place)}"/>']
    if values[0] < 0 < values[-1]:
        x = place(0.0, low)[0]
        parts.insert(0, f'<path class="zero" d="M{x:.1f} {EDGE}V{HIGH - EDGE}"/>')
    if limit is not None and math.isfinite(limit):
        y = place(values[0], limit)[1]
        parts.append(f'<path class="limit" d="M{EDGE} {y:.1f}H{WIDE - EDGE}"/>')
    if at[1] == at[1]:
        x, y = place(min(max(at[0], values[0]), values[-1]), at[1])
        parts.append(f'<circle class="at" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>')
    body = "".join(parts)
    label = html.escape(words)
    return f'<svg viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" aria-label="{label}">{body}</svg>'


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
