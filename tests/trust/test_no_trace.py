"""After forgetting, a sitter's label and a pattern of their frames are looked for everywhere.

Everything that is kept without reading a face is written here by the code that writes it; the
whole job with real readings is in ``test_traces.py``.
"""

import json
import os
import tempfile

import numpy as np
import pytest

from sitwell.brief.wishes import Wish
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.shoot.journal import Stamp
from sitwell.sort.index import Index, ReadFrame
from sitwell.store.entries import CROPS, Consent, Crop, Sitting
from sitwell.store.files import SORTED
from sitwell.store.places import make_places
from sitwell.store.sittings import Made, Yes
from sitwell.store.unrecorded import note_loose
from sitwell.ui.records_door import Door
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.paper import FrameNote

LABEL = "Zwiebelturm 7731"  # a word that occurs nowhere else
PATTERN = bytes(range(200, 256)) + b"pixels of an invented frame" + bytes(range(200, 256))
WORDS = "river lamp seven onions"
PLANNED = PlannedSetup(
    name="balanced", setup=Setup(), measures={}, gains=(), guards=(), leeway=(), reasons=()
)
PLAN = Plan(baseline=Setup(), baseline_measures={}, setups=(PLANNED,), conflicts=())


def traces(*folders):
    """Every file whose name or content shows the label, in any writing, or the pattern."""
    sought = [
        PATTERN, LABEL.encode(), LABEL.lower().encode(), LABEL.encode("utf-16-le"),
        LABEL.encode("utf-16-be"), json.dumps(LABEL).encode(), LABEL.replace(" ", "%20").encode(),
    ]  # fmt: skip
    return [
        str(path)
        for folder in folders
        for path in folder.rglob("*")
        for content in [os.fsencode(path) + (path.read_bytes() if path.is_file() else b"")]
        if any(word in content for word in sought)
    ]


def fill_papers(shelf):
    """A sitting on the table with a frame, its view, drawings, plan, readings and old versions."""
    sitting = shelf.new()
    sitting.label = LABEL
    sitting.sitter.frames.append(FrameNote(id="0123abcd", file="0123abcd.jpg", name=f"{LABEL}.jpg"))
    shelf.write(sitting)
    place = shelf.place(sitting.id)
    for name in (
        "frames/0123abcd.jpg", "frames/0123abcd.view.jpg", "frames/.0123abcd-abcd1234.part.jpg",
        "drawn/balanced.pdf", "drawn/thumb-1.jpg", "plan-0.json", "sitting-kept-3.json",
        "watch-1.sqlite", "watch-1.sqlite-wal",
    ):  # fmt: skip
        (place / name).parent.mkdir(exist_ok=True)
        (place / name).write_bytes(LABEL.encode() + PATTERN)
    return sitting


def fill_records(door, out):
    """A sitter with all that can be kept of them, in every place where it is kept."""
    door.record_yes(LABEL, Yes(wishes=True))
    head = head_as_dict(build_head({"nose_length": 0.4}), np.eye(3))
    sheet = out / "balanced.pdf"
    sheet.write_bytes(b"%PDF-" + PATTERN)
    made = Made(wishes=(Wish(feature="ears"),), head=head, plan=PLAN, used=("balanced", Setup()),
                worked=True, files=[sheet])  # fmt: skip
    door.keep(LABEL, made)
    lists = [out / name for name in ("order.json", "order.csv", "proof.pdf")]
    for path in lists:
        path.write_bytes(LABEL.encode() + PATTERN)
    door.note_files(LABEL, lists, SORTED)
    half = out / ".proof-abcd_123.part.pdf"
    half.write_bytes(PATTERN)
    os.utime(half, (1, 1))
    with door.frames_folder(LABEL) as folder:
        index = Index(folder / "sort-1.sqlite", "lens")
        read = ReadFrame(name=f"{LABEL}.jpg", master=f"{LABEL}.jpg", stamp=Stamp(1, 1), taken_s=1.0,
                         look=PATTERN)  # fmt: skip
        index.add([(0, read)])
        index.close()
    with door.open() as records:
        sitter = records.sitter(LABEL)
        yes = records.all(Consent, sitter)[0]
        crops = Consent(sitter_id=sitter.id, purpose=CROPS, keep_until=yes.keep_until, notice=LABEL)
        sitting = records.all(Sitting, sitter)[0]
        crop = Crop(sitter_id=sitter.id, sitting_id=sitting.id, name=LABEL, png=PATTERN)
        records.keep(crops, crop)
    door.export(LABEL, None)
    door.export(LABEL, out)
    door.back_up(None)
    door.back_up(out)


@pytest.mark.parametrize("sealed", [False, True])
def test_nothing_of_a_forgotten_sitter_is_left_anywhere(tmp_path, monkeypatch, sealed):
    home, out, temporary = (tmp_path / name for name in ("home", "out", "temporary"))
    for folder in (out, temporary):
        folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    desk = temporary / "sitwell-proof-killed"
    desk.mkdir()
    (desk / "frame.jpg").write_bytes(PATTERN)
    os.utime(desk, (1, 1))
    door = Door(home=home)
    fill_records(door, out)
    if sealed:
        door.seal(WORDS)
        door = Door(home=home, passphrase=WORDS)
        fill_papers(Shelf(home / "sittings", door.open_seal()))
    else:
        fill_papers(Shelf(home / "sittings"))
    assert len(traces(home, out)) > 15
    report = "\n".join(door.forget(LABEL))
    for name in ("order.json", "order.csv", "proof.pdf", "balanced.pdf", ".sitting.zip"):
        assert name in report
    assert "Still there" not in report
    assert traces(home, out, temporary) == []
    with door.open() as records:
        assert records.sitters() == ()


def test_what_may_be_theirs_but_is_nobodys_is_named(tmp_path):
    door = Door(home=tmp_path / "home")
    door.record_yes(LABEL, Yes())
    places = make_places(door.home)
    sheet = tmp_path / LABEL / "plan.json"
    sheet.parent.mkdir()
    sheet.write_text("{}")
    note_loose(places, [sheet])
    with door.frames_folder("") as folder:
        (folder / "watch-1.sqlite").write_bytes(f"{LABEL}.jpg".encode())
    report = "\n".join(door.forget(LABEL))
    for path in (sheet, folder / "watch-1.sqlite"):
        assert f"Still there: {path} may be theirs; sitwell forget --frames erases it." in report
    door.forget_loose()
    assert traces(tmp_path / "home") == []


def test_papers_erased_elsewhere_are_gone_from_the_pages_and_never_made_anew(tmp_path):
    server = Shelf(tmp_path)
    sitting = fill_papers(server)
    Shelf(tmp_path).erase(sitting.id)
    with pytest.raises(Exception, match="is not here any more"):
        server.open(sitting.id)
    server.write(sitting)
    assert traces(tmp_path) == []
