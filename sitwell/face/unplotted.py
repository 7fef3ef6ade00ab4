"""The landmark library without the plotting that comes with it."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType

PLOTTING = ("matplotlib", "matplotlib.pyplot")


@contextmanager
def unplotted() -> Iterator[None]:
    """Import mediapipe in here: its drawing of landmarks would load matplotlib, unused by us.

    That saves 39 MB and 0.3 s. Whoever imports matplotlib afterwards gets the true one.
    """
    if PLOTTING[0] in sys.modules:
        yield
        return
    stands_in = {name: ModuleType(name) for name in PLOTTING}
    setattr(stands_in[PLOTTING[0]], "pyplot", stands_in[PLOTTING[1]])  # noqa: B010
    sys.modules.update(stands_in)
    try:
        yield
    finally:
        for name, module in stands_in.items():
            if sys.modules.get(name) is module:
                del sys.modules[name]
