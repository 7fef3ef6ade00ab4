"""No plotting library is loaded with the landmarks, and the true one can still be had."""

import subprocess
import sys

import pytest

from sitwell.face.unplotted import unplotted

ALONE = """
import sys
from sitwell.face.unplotted import unplotted
with unplotted():
    from mediapipe.tasks.python import vision
assert vision.FaceLandmarker
print(sorted(name for name in sys.modules if name.split(".")[0] == "matplotlib"))
"""


def test_the_landmarks_load_no_plotting_library():
    done = subprocess.run(
        [sys.executable, "-c", ALONE], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


@pytest.fixture
def unloaded(monkeypatch):
    for name in [name for name in sys.modules if name.split(".")[0] == "matplotlib"]:
        monkeypatch.delitem(sys.modules, name)


def test_the_stand_in_goes_whatever_happens(unloaded):
    def import_and_fail():
        with unplotted():
            import matplotlib.pyplot

            assert not hasattr(matplotlib.pyplot, "plot")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        import_and_fail()
    assert "matplotlib" not in sys.modules


def test_a_plotting_library_that_is_there_stays(monkeypatch):
    there = object()
    monkeypatch.setitem(sys.modules, "matplotlib", there)
    with unplotted():
        assert sys.modules["matplotlib"] is there
    assert sys.modules["matplotlib"] is there
