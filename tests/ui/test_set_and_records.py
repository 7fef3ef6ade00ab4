"""The commands of the set and the records, run as a person would run them."""

import json
import os
import shutil
import signal
import subprocess
import sys

import pytest

from builders.pictures import plain_frames
from sitwell.head.surface import build_head
from tests.ui import prompt


def sitwell(*arguments, home, **more):
    return prompt.sitwell(*arguments, SITWELL_HOME=str(home), **more)


def one_sentence(text):
    return text.strip().endswith((".", ".'")) and "\n" not in text.strip()


@pytest.fixture(scope="module")
def sitting(tmp_path_factory):
    """Frames of an invented sitter and the plan made from the first."""
    folder = tmp_path_factory.mktemp("sitting")
    frames, _ = plain_frames.write_frames(
        build_head(plain_frames.SHAPE), plain_frames.frames_to_take(), folder / "frames"
    )
    done = sitwell("plan", frames[0], "--wish", "jaw", "--out", folder, home=folder / "home")
    assert done.returncode == 0, done.stderr
    return folder


def test_a_yes_comes_before_anything_is_kept_and_forgetting_takes_all(sitting, tmp_path):
    home, frame = tmp_path / "home", sitting / "frames" / "invented-1.jpg"
    out = tmp_path / "out"
    before = sitwell("plan", frame, "--sitter", "M. 14", "--out", out, home=home)
    assert "has not said yes yet; ask with: sitwell consent 'M. 14'." in before.stderr
    assert "Nobody is in the records." in sitwell("sitters", home=home).stdout

    refused = sitwell("consent", "M. 14", home=home, typed="n\n")
    assert "nothing will be kept" in refused.stdout
    agreed = sitwell("consent", "M. 14", "--wishes", home=home, typed="y\n")
    assert "It works on this computer and sends nothing away." in agreed.stdout
    assert sitwell("sitters", home=home).stdout.startswith("M. 14: until ")

    kept = sitwell("plan", frame, "--wish", "jaw", "--sitter", "m. 14", "--out", out, home=home)
    assert (
        "Kept in the records for 'm. 14': the head, the wishes, the plan, where the sheets"
        in kept.stderr
    )
    gone = sitwell("forget", "M. 14", home=home)
    assert "Not ours to erase: the photographs" in gone.stdout
    assert not (out / "plan.json").exists()
    assert frame.exists()
    assert "Nobody is in the records." in sitwell("sitters", home=home).stdout


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["forget"], 2, "Say whom to forget"),
        (["forget", "nobody"], 1, "nobody"),
        (["consent", "child", "--until", "2090-01-01", "--yes"], 1, "longer than 3 years"),
        (["sort", "no-such-folder"], 1, "There is no folder 'no-such-folder' to sort"),
        (["sort", ".", "--choose", "none.jpg"], 1, "There is no frame 'none.jpg'"),
        (["sort", "{frames}", "--scheduler", "tcp://127.0.0.1:1"], 1, "Dask"),
        (["watch", ".", "--plan", "none.json"], 1, "The plan 'none.json' can't be opened"),
        (["watch", ".", "--plan", "{plan}", "--setup", "soft"], 1, "no set-up 'soft'; choose"),
    ],
)
def test_what_cannot_serve_is_said_in_one_sentence(sitting, tmp_path, arguments, code, words):
    given = [
        text.format(plan=sitting / "plan.json", frames=sitting / "frames") for text in arguments
    ]
    result = sitwell(*given, home=tmp_path / "home", cwd=tmp_path)
    assert result.returncode == code, result.stderr
    assert words in result.stderr
    assert one_sentence(result.stderr.strip().splitlines()[-1])


def test_sorting_gives_reasons_rates_beside_the_frames_and_moves_nothing(sitting, tmp_path):
    folder = shutil.copytree(sitting / "frames", tmp_path / "frames")
    before = {path.name: path.read_bytes() for path in folder.glob("*.jpg")}
    done = sitwell(
        *("sort", folder, "--plan", sitting / "plan.json", "--out", tmp_path / "out"),
        *("--rate", "--keyword", "invented", "--json", "--workers", "1"),
        home=tmp_path / "home",
    )
    assert done.returncode == 0, done.stderr
    content = json.loads(done.stdout)
    files = [frame["file"] for burst in content["bursts"] for frame in burst["frames"]]
    assert sorted(files) == sorted(before)
    assert {path.name: path.read_bytes() for path in folder.glob("*.jpg")} == before
    assert (folder / "invented-1.xmp").exists()
    lists = sorted((tmp_path / "out").iterdir())
    assert [path.name for path in lists] == ["order.csv", "order.json", "proof.pdf"]
    assert lists[-1].read_bytes().startswith(b"%PDF")
    report = sitwell("forget", "--frames", home=tmp_path / "home").stdout
    assert [f"Erased {path}" in report for path in lists] == [True] * 3
    assert list((tmp_path / "out").iterdir()) == []


def test_forgetting_a_sitter_names_and_erases_what_sorting_wrote_for_them(sitting, tmp_path):
    home, out = tmp_path / "home", tmp_path / "out"
    sitwell("consent", "M. 14", "--yes", home=home)
    done = sitwell(
        *("sort", sitting / "frames", "--sitter", "M. 14", "--out", out, "--workers", "1"),
        home=home,
    )
    assert done.returncode == 0, done.stderr
    lists = sorted(out.iterdir())
    assert len(lists) == 3
    report = sitwell("forget", "M. 14", home=home).stdout
    assert [f"file {path}" in report for path in lists] == [True] * 3
    assert list(out.iterdir()) == []


def test_watching_says_one_nudge_a_frame_and_starts_again_where_it_stopped(sitting, tmp_path):
    folder, home = tmp_path / "card", tmp_path / "home"
    folder.mkdir()
    first = watch_until(folder, sitting / "plan.json", home, sitting / "frames" / "invented-2.jpg")
    assert [line["file"] for line in first] == ["invented-2.jpg"]
    assert first[0]["nudge"]
    again = watch_until(folder, sitting / "plan.json", home, sitting / "frames" / "invented-3.jpg")
    assert [line["file"] for line in again] == ["invented-3.jpg"]


def watch_until(folder, plan, home, frame):
    """Watch, let one frame land, and give the lines printed until it was said."""
    process = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "sitwell",
            "watch",
            str(folder),
            "--plan",
            str(plan),
            "--json",
            "--sound",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"SITWELL_HOME": str(home)},
    )
    try:
        shutil.copy(frame, folder)
        line = process.stdout.readline()
        process.send_signal(signal.SIGINT)
        rest, errors = process.communicate()
        assert errors.count("\a") == 1  # one nudge, one bell
    finally:
        process.kill()
    return [json.loads(text) for text in [line, *rest.splitlines()] if text.strip()]
