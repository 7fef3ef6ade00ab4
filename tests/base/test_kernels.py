"""Inner loops: compiled when first called, told of once, kept in the user's cache folder."""

import os
import subprocess
import sys

import pytest

from sitwell.base import kernels
from sitwell.base.files import write_atomically

MODULES = {
    "inner.py": """
from sitwell.base.kernels import kernel

@kernel
def halved(value):
    return value / 2.0
""",
    "outer.py": """
import numpy as np
from inner import halved
from sitwell.base.kernels import kernel

@kernel
def sum_of_halves(values):
    total = 0.0
    for n in range(values.shape[0]):
        total += halved(values[n])
    return total

@kernel
def shares(one, other):
    return one / other
""",
}
PROGRAM = """
import sys
from sitwell.base.kernels import before_compiling
before_compiling(lambda: print("compiling"))
import outer
import numpy as np
print("numba" in sys.modules)
print(outer.sum_of_halves(np.array([1.0, 2.0, 4.0])), outer.shares(1.0, 0.0))
"""


@pytest.fixture
def run(tmp_path):
    for name, text in MODULES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")

    def run(**environment):
        kept = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
        paths = [str(tmp_path), os.environ.get("PYTHONPATH", "")]
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM],
            env=kept | {"PYTHONPATH": os.pathsep.join(paths)} | environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.splitlines()

    return run


@pytest.mark.skipif(sys.platform != "linux", reason="asks where Linux keeps a user's cache")
def test_loops_are_compiled_once_and_kept_in_the_users_cache(run, tmp_path):
    cache = tmp_path / "cache"
    assert run(XDG_CACHE_HOME=str(cache)) == ["False", "compiling", "3.5 inf"]
    kept = sorted((cache / "sitwell").rglob("*.nbc"))
    assert len(kept) == 3  # two that were called, and one that was called by one of them
    assert run(XDG_CACHE_HOME=str(cache)) == ["False", "3.5 inf"]
    assert sorted((cache / "sitwell").rglob("*.nbc")) == kept
    assert not list(tmp_path.glob("__pycache__/*.nbc"))  # nothing beside the code


def test_another_folder_may_be_named_and_a_changed_loop_is_compiled_again(run, tmp_path):
    named = tmp_path / "named"
    assert run(NUMBA_CACHE_DIR=str(named))[1] == "compiling"
    assert list(named.rglob("*.nbc"))
    outer = tmp_path / "outer.py"
    outer.write_text(outer.read_text().replace("total += ", "total += 1.0 + "), encoding="utf-8")
    assert run(NUMBA_CACHE_DIR=str(named)) == ["False", "compiling", "6.5 inf"]


def test_two_processes_may_compile_at_once(run, tmp_path):
    from concurrent.futures import ThreadPoolExecutor

    named = str(tmp_path / "named")
    with ThreadPoolExecutor(2) as both:
        said = [*both.map(lambda _: run(NUMBA_CACHE_DIR=named)[-1], range(2))]
    assert said == ["3.5 inf"] * 2
    assert run(NUMBA_CACHE_DIR=named) == ["False", "3.5 inf"]


def test_what_was_tried_out_is_remembered_for_these_sources_alone(tmp_path, monkeypatch):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    source = tmp_path / "sources" / "loops.py"
    write_atomically(source, "one = 1\n")
    monkeypatch.setattr(kernels, "SOURCES", source.parent)
    assert not kernels.all_kept()
    kernels.remember_all_kept()
    assert kernels.all_kept()
    write_atomically(source, "two = 22\n")
    assert not kernels.all_kept()
