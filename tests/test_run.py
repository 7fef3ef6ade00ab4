"""``python3 run check``: what is named leads to its own tests, and nothing is installed."""

import subprocess
import sys
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def run():
    """The start file, which has no suffix, as a module."""
    spec = spec_from_loader("run", SourceFileLoader("run", str(ROOT / "run")))
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("named", "tests"),
    [
        ("sitwell/scene/crop_check.py", ["tests/scene/test_crop_check.py"]),
        ("sitwell/head/stills.py", ["tests/head/test_stills.py"]),
        ("sitwell/ui/web/app.py", ["tests/ui/web"]),
        ("sitwell/sort", ["tests/sort"]),
        ("sitwell/ui/web/assets", ["tests/ui/web"]),
        ("sitwell/flow.py", ["tests/test_flow.py"]),
        ("sitwell/__main__.py", ["tests/test_house.py"]),
        ("sitwell", ["tests"]),
        ("builders/traced/faces.py", ["tests/builders/traced/test_faces.py"]),
        ("builders/catalogues.py", ["tests/builders"]),
        ("benchmarks/bench_web.py", ["tests/test_house.py"]),
        ("tests/base/test_units.py", ["tests/base/test_units.py"]),
        ("tests/likeness/sitting.py", ["tests/likeness"]),
        ("tests/laws", ["tests/laws"]),
        ("docs/web.md", ["tests/trust/test_docs.py"]),
        ("README.md", ["tests/trust/test_docs.py"]),
        ("pyproject.toml", ["tests/test_house.py"]),
    ],
)
def test_what_is_named_leads_to_its_own_tests(run, named, tests):
    assert (ROOT / named).exists()
    found = [path.as_posix() for path in run.tests_of(Path(named))]
    assert found == tests
    assert all((ROOT / path).exists() for path in found)


def test_a_module_s_several_test_files_are_all_its_own(run):
    found = run.tests_of(Path("sitwell/scene/sun.py"))
    assert {path.name for path in found} >= {"test_sun.py", "test_sun_day.py"}


def check(*named):
    command = [sys.executable, str(ROOT / "run"), "check", *named]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_a_check_goes_through_ruff_types_and_tests_without_an_install():
    done = check("sitwell/base/units.py")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Installing" not in done.stdout
    order = ["All checks passed", "already formatted", "no issues found", "tests/base/test_units"]
    places = [done.stdout.index(said) for said in order]
    assert places == sorted(places)


def test_what_is_not_there_is_said():
    done = check("sitwell/nothing.py")
    assert done.returncode == 1
    assert done.stderr == (
        "There is no sitwell/nothing.py here; name files and folders of the checkout.\n"
    )
