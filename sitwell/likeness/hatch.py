"""The hatch that marks what no frame has shown."""

from sitwell.base.kernels import kernel

HATCH_PERIODS = 110  # lines over the picture's height
HATCH_SHADE = 0.16  # how much darker a line is than what it lies on


@kernel
def hatch_line(row: int, column: int, height: int) -> float:
    """How much of a pixel lies on a line of the hatch, 0 to 1."""
    period = max(height / HATCH_PERIODS, 4.0)
    off = abs(((row + column) / 1.4142135623730951) % period - 0.5 * period)
    return min(max(0.22 * period + 0.5 - off, 0.0), 1.0)
