import csv
import errno
import json
import os

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitwell.base.errors import SidecarError, SortError
from sitwell.sort import xmp as xmp_module
from sitwell.sort.handover import (
    FORWARD_RATING,
    harmless,
    left_to_retouch,
    rate,
    write_csv,
    write_json,
)
from sitwell.sort.proof import crop_box, write_proof
from sitwell.sort.rank import Ranked, RankedBurst
from sitwell.sort.sorting import Sorting
from sitwell.sort.xmp import read_sidecar, write_sidecar

from .sitting import make_sitting, need_model


@pytest.fixture(scope="module")
def read_once(tmp_path_factory):
    need_model()
    place = tmp_path_factory.mktemp("handover")
    sorting = Sorting(make_sitting(place / "card"), place / "i.sqlite")
    sorting.read(workers=1)
    yield sorting
    sorting.index.close()


@pytest.fixture
def sorting(read_once):
    yield read_once
    for sidecar in read_once.folder.glob("*.xmp"):
        sidecar.unlink()
    read_once.index.choose("D_0002.jpg", None)


def ranked(file, *findings, forward=True):
    return Ranked(
        file=file, place=1, put_forward=forward, reason="", by_person=False, findings=findings
    )


def test_the_json_holds_every_frame_and_the_unread(sorting, tmp_path):
    told = json.loads(write_json(tmp_path / "s.json", sorting).read_text())
    assert [len(b["frames"]) for b in told["bursts"]] == [4, 3]
    assert told["bursts"][0]["frames"][0]["file"] == "D_0003.jpg"
    assert [u["file"] for u in told["unread"]] == ["D_0020.jpg"]


def test_the_csv_has_a_row_for_each_frame(sorting, tmp_path):
    with write_csv(tmp_path / "s.csv", sorting).open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 7
    assert [r["file"] for r in rows if r["put_forward"] == "yes"] == ["D_0003.jpg", "D_0012.jpg"]


def test_frames_put_forward_are_rated_and_others_get_no_sidecar(sorting):
    written = list(rate(sorting, ("put forward",)))
    assert [w.path.name for w in written] == ["D_0003.xmp", "D_0012.xmp"]
    assert read_sidecar(sorting.folder / "D_0003.jpg").rating == FORWARD_RATING
    assert len(list(sorting.folder.glob("*.xmp"))) == 2
    assert not any(w.changed for w in rate(sorting, ("put forward",)))


def test_a_choice_made_with_us_is_written_as_a_persons_and_ours_taken_back(sorting):
    list(rate(sorting))
    sorting.index.choose("D_0002.jpg", 4.0)
    list(rate(sorting))
    assert read_sidecar(sorting.folder / "D_0002.jpg").rating == 4
    assert read_sidecar(sorting.folder / "D_0003.jpg").rating == 0
    for choice, rating in ((1.0, FORWARD_RATING), (-1.0, -1)):  # a plain yes and no
        sorting.index.choose("D_0002.jpg", choice)
        list(rate(sorting))
        assert read_sidecar(sorting.folder / "D_0002.jpg").rating == rating


def test_a_persons_rating_stays_and_a_broken_sidecar_is_told_of(sorting):
    photo = sorting.folder / "D_0012.jpg"
    write_sidecar(photo, 1, person=True)
    theirs = photo.with_suffix(".xmp")
    theirs.write_bytes(theirs.read_bytes().replace(b"sitwell:xmp:1", b"other:xmp:1"))
    (sorting.folder / "D_0003.xmp").write_bytes(b"<half")
    (written,) = [w for w in rate(sorting) if w.why]
    assert "can't be read" in written.why
    assert read_sidecar(photo).rating == 1
    assert (sorting.folder / "D_0003.xmp").read_bytes() == b"<half"


def test_regions_go_to_what_is_put_forward_when_asked_for(sorting):
    list(rate(sorting, regions=True))
    assert b'mwg-rs:Type="Face"' in (sorting.folder / "D_0003.xmp").read_bytes()
    assert len(list(sorting.folder.glob("*.xmp"))) == 2


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "The disk of '.*card' is full; make room and rate again"),
        (errno.EROFS, "The folder '.*card' can't be written in; allow it or copy the frames"),
    ],
)
def test_where_nothing_can_be_written_one_sentence_says_so(sorting, monkeypatch, number, words):
    def fails(*_):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(xmp_module, "replace_known", fails)
    with pytest.raises(SidecarError, match=words):
        list(rate(sorting))
    assert list(sorting.folder.glob("*.xmp")) == []


def test_one_sidecar_that_cannot_be_written_does_not_stop_the_others(sorting, monkeypatch):
    real = xmp_module.replace_known

    def fails(path, before, data):
        if path.name == "D_0003.xmp":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return real(path, before, data)

    monkeypatch.setattr(xmp_module, "replace_known", fails)
    first, second = rate(sorting)
    assert first.why == "it could not be written (Input/output error)"
    assert second.changed


def test_a_folder_that_has_gone_is_said(sorting, monkeypatch, tmp_path):
    away = tmp_path / "unplugged"

    def gone(*_):
        sorting.folder.rename(away)
        raise FileNotFoundError(errno.ENOENT, "gone")

    monkeypatch.setattr(xmp_module, "replace_known", gone)
    try:
        with pytest.raises(SidecarError, match=r"'.*card' has gone; connect it and rate again"):
            list(rate(sorting))
    finally:
        away.rename(sorting.folder)


def test_what_a_killed_run_left_half_written_is_swept_and_nothing_else(sorting):
    old, fresh, foreign = (
        sorting.folder / name
        for name in (".D_0003-abcd_123.part.xmp", ".D_0012-abcd1234.part.xmp", ".notes.part.xmp")
    )
    for path in (old, fresh, foreign):
        path.write_bytes(b"<half")
    os.utime(old, (0, 0))
    os.utime(foreign, (0, 0))
    list(rate(sorting))
    assert [path.exists() for path in (old, fresh, foreign)] == [False, True, True]
    fresh.unlink(), foreign.unlink()


def test_what_is_left_to_retouch_is_only_of_frames_put_forward():
    bursts = [
        RankedBurst(frames=(ranked("a"), ranked("b", "Burnt.", forward=False)), best_for={}),
        RankedBurst(
            frames=(ranked("c", "Glare."),), best_for={"camera left": "c", "camera right": "d"}
        ),
        RankedBurst(frames=(ranked("e", "x", forward=False),), best_for={}),
    ]
    assert list(left_to_retouch(bursts)) == [("c", ("Glare.", "camera right: better in d."))]


def words_of(path):
    with pypdfium2.PdfDocument(path) as pdf:
        return [page.get_textpage().get_text_range() for page in pdf]


def test_the_proof_sheet_names_the_frames_and_keeps_remarks_off(sorting, tmp_path):
    path = write_proof(tmp_path / "p.pdf", sorting.folder, sorting.bursts(), "An invented sitting")
    (page,) = words_of(path)
    for text in ("An invented sitting", "2 frames", "D_0003.jpg", "D_0012.jpg"):
        assert text in page
    assert "eyes" not in page


def test_the_retouching_list_is_there_when_asked_for(sorting, tmp_path):
    bursts = [RankedBurst(frames=(ranked("D_0003.jpg", "#let x = [*burnt*] out."),), best_for={})]
    path = write_proof(tmp_path / "p.pdf", sorting.folder, bursts, "T", with_notes=True)
    assert "#let x = [*burnt*] out." in words_of(path)[1]


def test_an_empty_proof_sheet_is_refused(sorting, tmp_path):
    with pytest.raises(SortError, match="Nothing in 'card' was put forward, so there is no proof"):
        write_proof(tmp_path / "p.pdf", sorting.folder, [], "T")


boxes = st.tuples(
    st.floats(0, 0.7), st.floats(0, 0.7), st.floats(0.05, 0.3), st.floats(0.05, 0.3)
).map(lambda b: (b[0], b[1], b[0] + b[2], b[1] + b[3]))


@given(
    st.sampled_from([(4000, 6000), (6000, 4000), (3000, 3000)]),
    st.lists(boxes, min_size=1, max_size=3),
    st.sampled_from(["2:3", "3:4", "4:5", "1:1", "5:7", "16:9"]),
)
def test_a_crop_lies_in_the_picture_has_its_aspect_and_cuts_no_face(size, faces, aspect):
    left, top, right, bottom = crop_box(*size, faces, aspect)
    assert -1e-9 <= left < right <= 1 + 1e-9
    assert -1e-9 <= top < bottom <= 1 + 1e-9
    for face in faces:
        assert left <= face[0] + 1e-9
        assert right >= face[2] - 1e-9
        assert top <= face[1] + 1e-9
        assert bottom >= face[3] - 1e-9
    if (left, top, right, bottom) != (0.0, 0.0, 1.0, 1.0):
        across, along = (int(part) for part in aspect.split(":"))
        shown = (right - left) * size[0] / ((bottom - top) * size[1])
        assert min(shown, 1 / shown) == pytest.approx(min(across / along, along / across))


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ('=HYPERLINK("a")', '\'=HYPERLINK("a")'),
        ("@SUM(1)", "'@SUM(1)"),
        ("+1 step", "'+1 step"),
        ("-cmd|' /C x'!A0", "'-cmd|' /C x'!A0"),
        ("\t=1", "'\t=1"),
        ("\r=1", "'\r=1"),
        ("-3.5", "-3.5"),
        ("+2", "+2"),
        ("plain = words", "plain = words"),
    ],
)
def test_no_cell_is_taken_for_a_formula(cell, written):
    assert harmless(cell) == written


def test_a_file_named_like_a_formula_is_made_harmless(tmp_path):
    class OneBurst:
        def bursts(self):
            yield RankedBurst(frames=(ranked("=1+1.jpg"),), best_for={})

    with write_csv(tmp_path / "order.csv", OneBurst()).open(newline="") as stream:
        _, row = csv.reader(stream)
    assert row[3] == "'=1+1.jpg"
