"""Inner loops compiled by numba: brought when the first is called, and kept once compiled.

Compiled code is kept in the user's cache folder, apart for each installation and for each state of
a module; ``NUMBA_CACHE_DIR`` names another folder. Call each loop with one set of types alone: it
is compiled for each, and two processes that compile at once then write the same, by renaming.
"""

import contextlib
import functools
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sitwell.base.files import write_atomically

SOURCES = Path(__file__).parents[1]
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


def all_kept() -> bool:
    """Whether ``remember_all_kept`` was called for these sources, in this cache folder."""
    kept = _stamp_file()
    return kept.is_file() and kept.read_text(encoding="utf-8") == _stamp()


def remember_all_kept() -> None:
    """Remember that every loop was called once, so that nothing need be tried out again."""
    with contextlib.suppress(OSError):  # a folder that can't be written: it is tried out again
        write_atomically(_stamp_file(), _stamp())


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


def _stamp_file() -> Path:
    return Path(os.environ.get("NUMBA_CACHE_DIR") or _folder()) / "all-kept.txt"


def _stamp() -> str:
    """What numba asks of what it kept: the same sources, compiler and Python."""
    import hashlib  # these here, for every command brings this module and one asks for the stamp
    import importlib.metadata
    import platform

    states = [(path, path.stat()) for path in sorted(SOURCES.rglob("*.py"))]
    told = [f"{path} {state.st_mtime_ns} {state.st_size}" for path, state in states]
    told += [importlib.metadata.version("numba"), sys.version, platform.machine()]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()
