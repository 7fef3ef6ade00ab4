"""Inner loops compiled by numba: brought when the first is called, and kept once compiled.

Compiled code is kept in the user's cache folder, apart for each installation and for each state of
a module; ``NUMBA_CACHE_DIR`` names another folder. Call each loop with one set of types alone: it
is compiled for each, and two processes that compile at once then write the same, by renaming.
"""

import functools
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

# Called once, before the first loop that is not kept yet is compiled.
_tell: list[Callable[[], None]] = []


def kernel(loop: Callable[..., Any]) -> Callable[..., Any]:
    """Compile an inner loop when it is first called; others of its kind may call it too.

    Division by zero gives infinity or no number, as numpy's does, and is no error.
    """
    return _Kernel(loop)


def before_compiling(tell: Callable[[], None]) -> None:
    """Have this called once where something must be compiled, which takes some seconds."""
    _tell.append(tell)


class _Kernel:
    """A loop that is compiled when it is first called; numba is slow to bring."""

    def __init__(self, loop: Callable[..., Any]) -> None:
        functools.update_wrapper(self, loop)
        self._loop = loop

    def __call__(self, *given: Any) -> Any:
        return self.compiled(*given)

    @functools.cached_property
    def compiled(self) -> Any:
        """What numba made of it."""
        options = {"cache": True, "nogil": True, "error_model": "numpy"}
        return _compiler().njit(**options)(self._loop)


@functools.cache
def _compiler() -> Any:
    """numba, told where to keep what it compiles, and how a loop finds another."""
    import numba
    from numba.core import event
    from numba.extending import typeof_impl

    if not os.environ.get("NUMBA_CACHE_DIR"):
        numba.config.CACHE_DIR = str(_folder())

    @typeof_impl.register(_Kernel)
    def _(kernel: _Kernel, _context: Any) -> Any:
        return numba.types.Dispatcher(kernel.compiled)

    class Telling(event.Listener):
        def on_start(self, event: Any) -> None:
            while _tell:
                _tell.pop()()

        def on_end(self, event: Any) -> None:
            pass

    event.register("numba:compile", Telling())
    return numba


def _folder() -> Path:
    import platformdirs

    return Path(platformdirs.user_cache_dir("sitwell")) / "compiled"
