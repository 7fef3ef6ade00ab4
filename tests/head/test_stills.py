"""Of a film in which a head turns, frames are taken that are sharp, look and differ in pose."""

import json
import re

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from builders.pictures.ray_traced import Light, pose_at, render
from sitwell import flow
from sitwell.base.errors import FaceError, ModelError, PhotoError, UsageError
from sitwell.brief.photos import open_photo
from sitwell.face.clip import frames_of, open_clip
from sitwell.face.landmarks import find_faces
from sitwell.face.model import model_path
from sitwell.head.stills import choose_stills
from sitwell.head.surface import build_head
from sitwell.ui.cli import app

SIZE_PX, COUNT = 360, 45


@pytest.fixture(scope="module", autouse=True)
def landmark_model():
    try:
        model_path()
    except ModelError:
        pytest.skip("the landmark model has not been brought")


def written(path, frames, rate=25.0):
    film = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"mp4v"), rate, (SIZE_PX, SIZE_PX))
    for rgb in frames:
        film.write(np.ascontiguousarray(rgb[:, :, ::-1]))
    film.release()
    return path


def turned(turn):
    return render(
        build_head(), pose_at(turn, 0.0, 0.0, 1500.0), focal_px=1500.0, size_px=(SIZE_PX, SIZE_PX),
        lights=[Light(azimuth_deg=25.0, elevation_deg=30.0)],
    )  # fmt: skip


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    """From 33 degrees one way to as much the other in 1.8 s; the middle third is out of focus."""
    frames = [turned(1.5 * (n - COUNT // 2)) for n in range(0, COUNT, 3) for _ in range(3)]
    for n in range(24, 30):
        frames[n] = cv2.GaussianBlur(frames[n], (0, 0), 4.0)
    return written(tmp_path_factory.mktemp("film") / "turning.mp4", frames)


def nothing(share, doing):
    assert 0.0 <= share <= 1.0
    assert doing == "looking through the film"


def test_a_film_tells_its_frames_and_gives_them_in_order(film):
    clip = open_clip(film)
    assert (clip.frames, clip.frames_per_second) == (COUNT, 25.0)
    got = list(frames_of(clip, [0, 10, 44]))
    assert [number for number, _ in got] == [0, 10, 44]
    assert got[0][1].shape == (SIZE_PX, SIZE_PX, 3)
    assert np.abs(got[0][1].astype(int) - turned(1.5 * -22)).mean() < 6.0  # it was compressed


def test_the_stills_are_sharp_and_show_the_head_from_unlike_sides(film):
    stills = choose_stills(open_clip(film), 4, nothing)
    turns = [still.turn_deg for still in stills]
    assert turns == sorted(turns)
    assert len(stills) == 4
    assert turns[0] < -22.0 < 22.0 < turns[-1]
    assert min(np.abs(turns)) < 10.0
    assert not any(24 <= still.number < 30 for still in stills)
    assert [still.second for still in stills] == [still.number / 25.0 for still in stills]


def test_stills_are_photographs_that_can_be_read_and_replace_nothing(film, tmp_path):
    folder = tmp_path / "frames"
    taken = flow.stills(film, folder, 3, nothing)
    assert [path.name for path, _ in taken] == [f"turning-{s.number:05d}.jpg" for _, s in taken]
    assert all(len(find_faces(open_photo(path))) == 1 for path, _ in taken)
    before = taken[0][0].read_bytes()
    with pytest.raises(UsageError, match="is there already; give another folder with --out"):
        flow.stills(film, folder, 3, nothing)
    assert taken[0][0].read_bytes() == before


def test_what_is_no_film_or_shows_nobody_says_so(tmp_path):
    with pytest.raises(PhotoError, match=r"There is no file '.*gone\.mp4'; check the name"):
        open_clip(tmp_path / "gone.mp4")
    (tmp_path / "text.mp4").write_text("no film")
    with pytest.raises(PhotoError, match=r"'text\.mp4' is not a film that can be read"):
        open_clip(tmp_path / "text.mp4")
    grey = written(tmp_path / "grey.mp4", [np.full((SIZE_PX, SIZE_PX, 3), 90, np.uint8)] * 5)
    with pytest.raises(FaceError, match=r"No face was found in 'grey\.mp4'; film closer"):
        choose_stills(open_clip(grey), 3, nothing)


def test_a_film_given_as_a_photograph_is_told_what_to_do(film):
    with pytest.raises(PhotoError, match=r"'turning\.mp4' is a film; take frames from it with"):
        open_photo(film)


def test_the_command_says_when_and_how_each_still_stands(film, tmp_path):
    result = CliRunner().invoke(app, ["stills", str(film), "--out", str(tmp_path), "--most", "2"])
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert len(lines) == len(list(tmp_path.glob("turning-*.jpg"))) == 2
    assert re.search(r"turning-\d{5}\.jpg: at [0-9.]+ s, turn about .*\d, chin about", lines[0])
    again = ["stills", str(film), "--out", str(tmp_path / "more"), "--most", "2", "--json"]
    rows = json.loads(CliRunner().invoke(app, again).stdout)["stills"]
    assert [set(row) for row in rows] == [{"file", "second", "turn_deg", "chin_deg"}] * 2
