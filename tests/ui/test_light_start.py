"""What counts nothing loads no library that counts: help and the records answer at once."""

import os
import subprocess
import sys

import pytest

from sitwell.demo import SHIPPED as DEMO_FRAMES

HEAVY = ("numpy", "scipy", "numba", "cv2", "PIL", "rawpy", "typst", "nicegui", "mediapipe")
PROGRAM = """
import sys
from sitwell.ui.cli import main
try:
    main()
finally:
    loaded = {name.split(".")[0] for name in sys.modules}
    print("LOADED", *sorted(loaded & set(%r)), file=sys.stderr)
"""


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    return tmp_path_factory.mktemp("home")


def loaded_by(home, *arguments):
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM % (HEAVY,), *arguments],
        env=os.environ | {"SITWELL_HOME": str(home)},
        input="y\n",
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stderr.strip().splitlines()[-1].split()[1:]


def test_help_and_the_records_load_no_numeric_library(home):
    for arguments in (
        ("--help",),
        ("read", "--help"),
        ("consent", "Anna K", "--wishes", "--yes"),
        ("consent", "Berta", "--wishes", "--yes"),
        ("sitters",),
        ("forget", "Berta"),
    ):
        assert loaded_by(home, *arguments) == [], arguments


def test_reading_a_frame_loads_no_compiler_and_no_solvers(home):
    frame = DEMO_FRAMES / "first-1.jpg"
    loaded = loaded_by(home, "read", str(frame), "--json")
    assert {"numpy", "cv2"} <= set(loaded)
    assert not {"scipy", "numba", "typst"} & set(loaded)


def test_what_is_counted_with_is_told_apart(home):
    """That the test above can fail: reading a picture loads them."""
    program = "import sitwell.flow, sys; print('LOADED', *sys.modules, file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    modules = set(done.stderr.split())
    assert {"numpy", "cv2"} <= modules
    # of these only one function is needed, and it brings them when it is called
    assert modules.isdisjoint({"scipy.stats", "mediapipe", "matplotlib", "sounddevice"})
