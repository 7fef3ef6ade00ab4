"""The wheel and the source archive hold what the tool needs, and the tool runs from the wheel."""

import os
import subprocess
import sys
import sysconfig
import tarfile
import tomllib
import venv
import zipfile
from email import message_from_bytes
from importlib import metadata
from pathlib import Path

import pytest
from PIL import Image
from skimage import data

import sitwell

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
BIN = "Scripts" if os.name == "nt" else "bin"
# Refuses every import of a package that only the checks need.
WITHOUT = """
import sys

class Refused:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {names}:
            raise ModuleNotFoundError(f"{{name}} is for development only", name=name)

sys.meta_path.insert(0, Refused())
"""
MODULES = """
import importlib, pkgutil, sitwell
for module in pkgutil.walk_packages(sitwell.__path__, "sitwell."):
    if not module.name.startswith(("sitwell.ui.web", "sitwell.__main__")):
        importlib.import_module(module.name)
print("all imported")
"""
CLI = "from sitwell.ui.cli import main; main()"


def run(*command, **more):
    done = subprocess.run(
        list(map(str, command)), capture_output=True, text=True, check=False, **more
    )
    assert done.returncode == 0, done.stderr + done.stdout
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The wheel and the source archive, built here without a network."""
    out = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "hatchling", "build", "-d", out, cwd=ROOT)
    (wheel,), (source,) = out.glob("*.whl"), out.glob("*.tar.gz")
    return wheel, source


@pytest.fixture(scope="module")
def names(built):
    with zipfile.ZipFile(built[0]) as archive:
        return set(archive.namelist())


@pytest.fixture(scope="module")
def installed(built, tmp_path_factory):
    """A fresh environment with the wheel; what it depends on is seen from this one."""
    place = tmp_path_factory.mktemp("installed")
    venv.create(place, with_pip=False)
    python = place / BIN / Path(sys.executable).name
    pip = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet"]
    run(*pip, "--no-deps", "--no-index", "--ignore-installed", built[0])
    # Only now, so that pip could not take our own installation for an older one of its own.
    home = Path(run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())
    (home / "others.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return place


@pytest.fixture
def photograph(tmp_path):
    # A NASA portrait, public domain, carried by scikit-image.
    path = tmp_path / "portrait.png"
    Image.fromarray(data.astronaut()).save(path)
    return path


@pytest.fixture
def elsewhere(tmp_path):
    """How to run outside the checkout, with records of the test's own."""
    (tmp_path / "here").mkdir()
    outside = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    return {"cwd": tmp_path / "here", "env": outside | {"SITWELL_HOME": str(tmp_path / "home")}}


@pytest.mark.slow
def test_the_wheel_holds_every_file_of_the_package_and_nothing_else(names):
    ours = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "sitwell").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    packed = {name for name in names if ".dist-info/" not in name}
    assert packed == ours
    for needed in (
        "py.typed",
        "head/data/head.npz",
        "head/data/landmark_bias.npz",
        "sheet/page.typ",
        "sort/proof.typ",
        "base/locale/de/LC_MESSAGES/sitwell.mo",
        "ui/web/assets/pages.css",
        "ui/web/assets/fonts/alegreya-OFL.txt",
    ):
        assert f"sitwell/{needed}" in packed


@pytest.mark.slow
def test_the_wheel_says_what_it_is(built, names):
    (about,) = (name for name in names if name.endswith("/METADATA"))
    with zipfile.ZipFile(built[0]) as archive:
        said = message_from_bytes(archive.read(about))
    assert (said["Name"], said["Version"]) == ("sitwell", sitwell.__version__)
    assert said["Requires-Python"] == PROJECT["requires-python"]
    licences = {name.rpartition("/")[2] for name in names if "/licenses/" in name}
    assert {"LICENSE", "NOTICE"} <= licences
    # No network: nothing asks for a package by an address.
    assert not [row for row in said.get_all("Requires-Dist") if "@" in row]


@pytest.mark.slow
def test_the_source_archive_builds_the_same_wheel(built, names, tmp_path):
    with tarfile.open(built[1]) as archive:
        archive.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.iterdir()
    for needed in ("run", "README.md", "LICENSE", "NOTICE", "tests/test_package.py", ".ci/run"):
        assert (unpacked / needed).is_file()
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", tmp_path, cwd=unpacked)
    (wheel,) = tmp_path.glob("*.whl")
    assert wheel.read_bytes() == built[0].read_bytes()


@pytest.mark.slow
def test_the_tool_runs_from_the_wheel_without_the_checkout(installed, photograph, elsewhere):
    python = installed / BIN / Path(sys.executable).name
    place = run(python, "-c", "import sitwell; print(sitwell.__file__)", **elsewhere)
    assert Path(place.strip()).is_relative_to(installed)
    assert "Plan, shoot, check and sort" in run(installed / BIN / "sitwell", "--help", **elsewhere)
    told = run(installed / BIN / "sitwell", "read", photograph, **elsewhere)
    assert photograph.name in told


def development_modules():
    """The modules of the packages that only the checks install."""
    wanted = {row.partition(">")[0] for row in PROJECT["optional-dependencies"]["dev"]}
    homes = metadata.packages_distributions()
    return {module for module, owners in homes.items() if wanted & set(owners)}


@pytest.mark.slow
def test_no_command_needs_what_only_the_checks_install(photograph, elsewhere):
    modules = development_modules()
    assert {"pytest", "hypothesis", "mitsuba", "skimage"} <= modules
    python = [sys.executable, "-c"]
    without = WITHOUT.format(names=modules)
    assert "all imported" in run(*python, without + MODULES, **elsewhere)
    assert "Ctrl-C" in run(*python, without + CLI, "watch", "--help", **elsewhere)
    assert "turn" in run(*python, without + CLI, "read", photograph, **elsewhere)


def test_what_only_the_checks_install_is_really_refused():
    with pytest.raises(AssertionError, match="pytest is for development only"):
        run(sys.executable, "-c", WITHOUT.format(names={"pytest"}) + "import pytest")
