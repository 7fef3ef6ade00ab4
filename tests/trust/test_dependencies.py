"""What is installed: pinned for the checks, and nothing under the GPL at run time."""

import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.markers import Marker
from packaging.requirements import Requirement

from builders.packaging.lock_requirements import EXTRAS
from builders.references.heic_fixture import FIXTURE

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCK = (ROOT / "requirements" / "test.txt").read_text(encoding="utf-8")
# name==release ; marker, then hashes on lines of their own
PIN = re.compile(r"^([a-z0-9._-]+)==(\S+)(?: ; (.+?))? \\\n((?:    --hash=\S+(?: \\)?\n)+)", re.M)
PINS = PIN.findall(LOCK)
RUN_TIME_EXTRAS = ("web", "scan", "sun", "cluster", "postgres")
# Under several licences, of which we take the free one; each with its reason.
ANOTHER_LICENCE = {"docutils": "its library is in the public domain; one editor file is GPL"}


def asked_for():
    optional = PROJECT["optional-dependencies"]
    rows = [*PROJECT["dependencies"], *(row for extra in EXTRAS for row in optional[extra])]
    return [Requirement(row) for row in rows]


def plain(name):
    return re.sub(r"[-_.]+", "-", name).lower()


@pytest.mark.parametrize("asked", asked_for(), ids=lambda asked: asked.name)
def test_what_the_project_asks_for_is_pinned_at_a_release_that_fits(asked):
    releases = [release for name, release, _, _ in PINS if name == plain(asked.name)]
    assert releases, "run python -m builders.packaging.lock_requirements"
    assert all(asked.specifier.contains(release) for release in releases)


def test_every_pin_has_a_hash_and_the_file_names_no_index():
    named = [line for line in LOCK.splitlines() if line and line[0] not in " #"]
    assert len(named) == len(PINS) > 50
    assert all("sha256:" in hashes for *_, hashes in PINS)
    assert not re.search(r"://|--(extra-)?index|--find-links", LOCK)


def test_a_name_that_is_pinned_twice_is_told_apart_by_its_marker():
    for name in {name for name, *_ in PINS}:
        markers = [marker for other, _, marker, _ in PINS if other == name]
        assert len(markers) == 1 or sum(Marker(m).evaluate() for m in markers) <= 1


def run_time():
    """Every installed distribution that the tool and its extras stand on, by name."""
    optional = PROJECT["optional-dependencies"]
    waiting = [
        Requirement(row)
        for row in (*PROJECT["dependencies"], *(r for e in RUN_TIME_EXTRAS for r in optional[e]))
    ]
    found = {}
    while waiting:
        asked = waiting.pop()
        name = plain(asked.name)
        extras = asked.extras or {""}
        if asked.marker and not any(asked.marker.evaluate({"extra": e}) for e in extras):
            continue
        if name not in found:
            try:
                found[name] = metadata.distribution(name)
            except metadata.PackageNotFoundError:
                continue  # an extra that is not installed here
            for row in found[name].requires or []:
                inner = Requirement(row)
                if not inner.marker or any(inner.marker.evaluate({"extra": e}) for e in extras):
                    waiting.append(inner)
    return found


def licence_words(distribution):
    about = distribution.metadata
    classifiers = [c for c in about.get_all("Classifier", []) if c.startswith("License")]
    # Some put the whole text into the old field; its first line names the licence.
    written = (about.get("License") or "").splitlines()[:1]
    return " ".join([about.get("License-Expression") or "", *written, *classifiers])


def test_nothing_at_run_time_is_under_the_gpl():
    known = run_time()
    assert {"numba", "numpy", "llvmlite", "fastapi"} <= set(known)  # the walk goes deep
    bound = {
        name
        for name, distribution in known.items()
        if re.search(r"\bA?GPL|(?<!Lesser )General Public", licence_words(distribution))
    }
    assert bound <= set(ANOTHER_LICENCE)


# Encoders under the GPL that wheels were seen to carry, and others of their kind (from memory).
GPL_LIBRARIES = re.compile(r"x26[45]|xvid|vid\.?stab|rubberband|libcdio|postproc|ghostscript", re.I)
# What such a file says of each thing that a wheel carries; the compiler's own run-time libraries
# are under the GPL with an exception that lets anybody link to them.
FREE_TOO = re.compile(r"exception| OR ", re.I)  # or the free one of two
BUNDLED = re.compile(r"^ *Licen[cs]e *: *(.*\bA?GPL.*)$", re.M)


def bundled_licences(distribution):
    for file in distribution.files or []:
        if re.search(r"licen[cs]e|copying|notice", file.name, re.I):
            path = Path(str(file.locate()))
            if path.is_file() and path.suffix not in (".py", ".pyc"):
                yield file, path.read_text(encoding="utf-8", errors="replace")


def test_no_wheel_says_that_it_carries_something_under_the_gpl():
    said = {}
    for name, distribution in run_time().items():
        for file, text in bundled_licences(distribution):
            rows = [row for row in BUNDLED.findall(text) if not FREE_TOO.search(row)]
            said |= {f"{name}: {file}": rows} if rows else {}
    assert said == {}


def test_no_wheel_carries_an_encoder_under_the_gpl():
    carried = {
        str(file)
        for distribution in run_time().values()
        for file in distribution.files or []
        if re.search(r"\.(so|dll|dylib|pyd)\b", file.name) and GPL_LIBRARIES.search(file.name)
    }
    assert carried == set()


LOADED = """
import sys
from sitwell.brief.photos import open_photo
import cv2, rawpy
open_photo(sys.argv[1])
print(open("/proc/self/maps").read())
"""


@pytest.mark.skipif(not Path("/proc/self/maps").exists(), reason="libraries are listed by Linux")
def test_a_process_that_opened_a_heic_file_has_loaded_nothing_under_the_gpl():
    """And only decoders: FFmpeg in OpenCV was built without its parts under the GPL."""
    command = [sys.executable, "-c", LOADED, str(FIXTURE)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    loaded = {line.split()[-1] for line in done.stdout.splitlines() if "/" in line}
    assert any("libheif" in name for name in loaded)
    assert {name for name in loaded if GPL_LIBRARIES.search(Path(name).name)} == set()
    ffmpeg = [Path(name) for name in loaded if "libavcodec" in name]
    assert not any(b"--enable-gpl" in path.read_bytes() for path in ffmpeg)


def test_the_docs_name_each_wheel_that_carries_libraries():
    told = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8").lower()
    for name, distribution in run_time().items():
        carries = {f.parts[0] for f in distribution.files or [] if ".libs" in f.parts[0]}
        if carries:
            assert f"| {name} |" in told, name
