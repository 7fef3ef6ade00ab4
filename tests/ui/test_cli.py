"""The command line as a person meets it: what it prints, where, and how it ends."""

import json
import os
import subprocess
import sys

import pytest
from PIL import Image
from skimage import data

from tests.ui.prompt import sitwell


@pytest.fixture(scope="module")
def photograph(tmp_path_factory):
    # A NASA portrait, public domain, carried by scikit-image.
    path = tmp_path_factory.mktemp("photo") / "portrait.png"
    Image.fromarray(data.astronaut()).save(path)
    return path


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    path = tmp_path_factory.mktemp("photo") / "wall.png"
    Image.new("RGB", (640, 800), (120, 120, 120)).save(path)
    return path


@pytest.mark.skipif(os.name == "nt", reason="Windows takes no such names")
def test_a_name_gives_the_terminal_no_orders(empty, tmp_path):
    """Cards and archives come from others, and a file's name may hold a terminal's orders."""
    for content, said in ((b"x", "is not a photograph"), (empty.read_bytes(), "")):
        path = tmp_path / "\x1b[31m[bold]red\x1b]0;title\x07\x9b.png"
        path.write_bytes(content)
        done = sitwell("read", path)
        text = done.stdout + done.stderr
        assert not {"\x1b", "\x07", "\x9b"} & set(text)
        assert said in text
        assert "\\x1b[31m[bold]red\\x1b]0;title\\x07\\x9b.png" in text


def one_sentence(text):
    return text.strip().endswith((".", ".'")) and "\n" not in text.strip()


def test_read_prints_the_rows_of_the_contract(photograph, empty):
    result = sitwell("read", photograph, empty, "--json")
    assert result.returncode == 0, result.stderr
    content = json.loads(result.stdout)
    face, wall = content["frames"]
    assert face["faces"] == 1
    assert {
        "file",
        "turn_deg",
        "chin_deg",
        "tilt_deg",
        "distance_mm",
        "focal_mm",
        "focal_source",
        "key_azimuth_deg",
        "key_elevation_deg",
        "blink",
        "squint",
    } <= set(face)
    assert wall["faces"] == 0
    assert wall["turn_deg"] is None


def test_plan_prints_the_plan_of_the_contract_and_writes_the_sheets(photograph, tmp_path):
    result = sitwell("plan", photograph, "--wish", "ears:soften:3", "--out", tmp_path, "--json")
    assert result.returncode == 0, result.stderr
    content = json.loads(result.stdout)
    assert {"setup", "measures"} == set(content["baseline"])
    for planned in content["setups"]:
        assert {
            "name",
            "setup",
            "measures",
            "gains",
            "guards",
            "leeway",
            "reasons",
            "words",
        } <= set(planned)
    assert {path.name for path in tmp_path.iterdir()} == {
        "plan.json",
        *(f"{p['name']}.{suffix}" for p in content["setups"] for suffix in ("pdf", "png")),
    }


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["read", "none.jpg"], 1, "none.jpg"),
        (["plan", "{photo}", "--wish", "elbows"], 2, "'elbows' is not known; choose one of"),
        (["plan", "{photo}", "--kit", "brass"], 2, "'brass' is neither a file nor a preset"),
        (["plan", "{photo}", "--room", "attic"], 2, "'attic' is neither a file nor a preset"),
        (["plan", "{photo}", "--lock", "turn=3"], 2, "can't be held"),
        (["plan", "{photo}", "--paper", "a9", "--out", "{out}"], 1, "a9"),
        (["plan", "{wall}", "--wish", "ears"], 1, "wall.png"),
        (["plan", "{photo}", "--face", "3"], 1, "portrait.png"),
        (["plan"], 2, "Give one to three test frames, a scan with --scan"),
        (["plan", "--scan", "head.xyz"], 1, "head.xyz"),
        (["read", "{photo}", "--level", "other.png"], 2, "is not among the photographs"),
        (["read", "{photo}", "--marks", "none.json"], 1, "none.json"),
    ],
)
def test_what_cannot_serve_is_said_in_one_sentence(
    photograph, empty, tmp_path, arguments, code, words
):
    given = [text.format(photo=photograph, wall=empty, out=tmp_path / "out") for text in arguments]
    result = sitwell(*given, cwd=tmp_path)
    assert result.returncode == code, result.stderr
    assert words in result.stderr
    assert one_sentence(result.stderr), result.stderr
    assert result.stdout == ""
    assert not [path for path in tmp_path.rglob("*") if path.is_file()], "nothing half-written"


def test_a_frame_without_a_face_gives_its_row_and_ends_with_the_reason(empty):
    result = sitwell("read", empty, "--json")
    assert result.returncode == 1
    assert json.loads(result.stdout)["frames"][0]["faces"] == 0
    assert "wall.png" in result.stderr
    assert one_sentence(result.stderr)


def test_what_is_hidden_is_not_told(photograph):
    result = sitwell("read", photograph, "--in-the-way", "hair-over-ears")
    assert result.returncode == 0, result.stderr
    assert "ear out" not in result.stdout
    assert "nose length" in result.stdout
    assert sitwell("read", photograph, "--in-the-way", "scarf").returncode == 2


def test_glasses_that_are_worn_are_measured(photograph):
    result = sitwell("plan", photograph, "--glasses", "--json")
    assert result.returncode == 0, result.stderr
    for planned in json.loads(result.stdout)["setups"]:
        assert planned["measures"]["glare_own_left_deg"] > 0


def test_a_wish_that_may_be_meant_either_way_is_asked_about_before_anything_is_read():
    result = sitwell("plan", "no-such-frame.jpg", "--wish", "ears", "--wish", "face-width")
    assert result.returncode == 2
    assert result.stderr == (
        "'face-width' may be meant either way; write face-width:narrower or face-width:wider.\n"
    )


def test_wrong_usage_ends_with_two():
    assert sitwell("read").returncode == 2
    assert sitwell("dance").returncode == 2


def test_a_name_in_any_letters_is_printed_whatever_the_terminal_speaks():
    done = subprocess.run(
        [sys.executable, "-m", "sitwell", "read", "Łucja 王.jpg"],
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "cp1252"},
    )
    assert done.returncode == 1
    assert done.stderr.decode("utf-8") == "There is no file 'Łucja 王.jpg'; check the name.\n"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--kit", "none.toml"], "kit"),
        (["--room", "none.toml"], "room"),
        (["--lock", "turn_deg=999"], "The lock 'turn_deg=999' can't be held"),
        (["--limit", "flying"], "limit 'flying' is not known"),
        (["--framing", "ear"], "framing 'ear' is not known"),
        (["--wish", "wings"], "wings"),
    ],
)
def test_what_can_t_be_asked_is_told_before_a_face_is_read(options, says, tmp_path):
    # were the frame opened first, that it is missing would be told
    result = sitwell("plan", tmp_path / "none.jpg", *options)
    assert (result.returncode, result.stdout) == (2, "") or "framing" in says
    assert says in result.stderr
    assert "none.jpg" not in result.stderr
