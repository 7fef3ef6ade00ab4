"""The records from the command line, run as a person would: moved, guarded, found, forgotten."""

import json
import zipfile

import pytest

from builders.pictures import plain_frames
from sitwell.head.surface import build_head
from tests.ui.prompt import sitwell

LABEL = "Zwiebelturm 7731"  # a word that occurs nowhere else
WORDS = "river lamp seven onions"


@pytest.fixture(scope="module")
def frame(tmp_path_factory):
    folder = tmp_path_factory.mktemp("frames")
    frames, _ = plain_frames.write_frames(
        build_head(plain_frames.SHAPE), plain_frames.frames_to_take()[:1], folder
    )
    return frames[0]


@pytest.fixture(scope="module")
def kept(tmp_path_factory, frame):
    """A home with one sitting of a sitter who said yes to all of it, and its sheets."""
    place = tmp_path_factory.mktemp("kept")
    run = runner(place / "home")
    run("consent", LABEL, "--wishes", "--yes")
    run("plan", frame, "--wish", "ears:soften:3", "--sitter", LABEL, "--out", place / "out")
    run("worked", LABEL, first_stop(place / "out"), "--note", "she laughed")
    return place


def first_stop(folder):
    """The name of a plan's first set-up: how many there are is the search's."""
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"))["setups"][0]["name"]


def runner(home, told=None, **variables):
    """A person at the command line; what is said on standard error goes to ``told``."""

    def run(*arguments, code=0, typed=None):
        done = sitwell(*arguments, typed=typed or "", SITWELL_HOME=str(home), **variables)
        assert done.returncode == code, done.stderr
        if told is not None:
            told.append(done.stderr)
        return (done.stdout if code == 0 else done.stderr.splitlines()[-1]).strip()

    return run


@pytest.mark.slow
def test_a_sitting_moves_to_another_machine_as_one_file(kept, tmp_path):
    here, there = runner(kept / "home"), runner(tmp_path / "there")
    sent, stop = tmp_path / "sent.zip", first_stop(kept / "out")
    assert here("export", LABEL, "--out", sent) == f"Written, and not sealed: {sent}"
    with zipfile.ZipFile(sent) as archive:
        assert {"sitting.json", f"sheets/{stop}.pdf"} <= set(archive.namelist())
        assert json.loads(archive.read("sitting.json"))["format"] == "sitwell-sitting"
    assert "is there already; name another file" in here("export", LABEL, "--out", sent, code=1)

    out = tmp_path / "sheets"
    taken = there("import", sent, "--sitter", "K 2", "--sheets", out)
    assert "Taken in: the sitting of " in taken
    assert (out / f"{stop}.pdf").read_bytes().startswith(b"%PDF")
    assert there("sitters").startswith("K 2: until ")
    assert "is in the records already" in there("import", sent, code=1)
    there("forget", "K 2")
    assert list(out.iterdir()) == []


@pytest.mark.slow
def test_who_comes_back_needs_no_frames(kept):
    run = runner(kept / "home", told=(told := []))
    made = json.loads(run("plan", "--sitter", LABEL, "--json"))
    assert {"head", "setups"} <= set(made)
    assert {gain["wish"] for planned in made["setups"] for gain in planned["gains"]} == {"ears"}
    assert "Wishes as last time: ears:soften:3; --wish asks anew." in told[-1]
    assert f": {first_stop(kept / 'out')}. " in told[-1]  # what worked, with its settings
    assert "Give one to three test frames, a scan" in run("plan", code=2)
    assert "is called 'Nobody'" in run("plan", "--sitter", "Nobody", code=1)


@pytest.mark.slow
def test_words_are_found_and_what_worked_is_listed(kept):
    run = runner(kept / "home")
    assert run("search", "LAUGHED") == f"{LABEL}: note: she laughed"
    assert run("search", "onions") == "Nothing in the records says 'onions'."
    assert "The search text is empty" in run("search", " ", code=1)
    assert run("sitters").endswith(f"; worked: {first_stop(kept / 'out')}")
    assert "There is no set-up 'soft' to note" in run("worked", LABEL, "soft", code=1)


def test_a_backup_is_gone_back_to_and_brings_nobody_back_who_was_forgotten(tmp_path):
    run = runner(tmp_path / "home")
    assert "make one: sitwell backup" in run("restore", code=2)
    run("consent", LABEL, "--yes")
    run("consent", "K 2", "--yes")
    backup = run("backup").removeprefix("Backed up to ")
    run("forget", LABEL)
    run("forget", "K 2")
    run("consent", "L 3", "--yes")
    assert run("restore") == backup
    assert run("restore", backup, typed="n\n").endswith("Nothing was changed.")
    assert run("restore", backup, "--yes").startswith(f"Restored from {backup}; the records of")
    assert run("sitters") == "Nobody is in the records."
    assert "There is no backup at nowhere" in run("restore", "nowhere", "--yes", code=1)


def test_sealed_records_open_with_their_passphrase_and_no_other_way(tmp_path):
    home = tmp_path / "home"
    run = runner(home)
    run("consent", LABEL, "--yes")
    assert "has fewer than 10 characters" in run("seal", typed="short\n", code=1)
    assert "are sealed; keep the passphrase safe" in run("seal", typed=WORDS + "\n")
    database = b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())
    assert b"Zwiebelturm" not in database
    assert "give the passphrase on a terminal or in SITWELL_PASSPHRASE" in run("sitters", code=1)
    wrong = runner(home, SITWELL_PASSPHRASE="river lamp eight onions")
    assert "does not open these records" in wrong("sitters", code=1)
    known = runner(home, SITWELL_PASSPHRASE=WORDS)
    assert known("sitters").startswith(f"{LABEL}: until ")
    backup = known("backup").removeprefix("Backed up to ")
    known("forget", LABEL)
    known("restore", backup, "--yes")
    assert known("sitters") == "Nobody is in the records."


def test_one_yes_ends_and_the_rest_stays(tmp_path):
    run = runner(tmp_path / "home")
    run("consent", LABEL, "--wishes", "--yes")
    assert f"Erased of {LABEL} (wishes):" in run("forget", LABEL, "--only", "wishes")
    assert run("sitters").startswith(f"{LABEL}: until ")
    assert "Consent to 'ears' is not known" in run("forget", LABEL, "--only", "ears", code=1)
    assert "Say whom to forget" in run("forget", "--only", "wishes", code=2)


def test_a_childs_own_yes_is_not_taken(tmp_path):
    run = runner(tmp_path / "home")
    said = run("consent", LABEL, "--guardian", "A. Invented", "--yes")
    assert "For a child, a parent or guardian decides" in said
    assert "is a child; name the guardian who said yes" in run("consent", LABEL, "--yes", code=1)


@pytest.mark.parametrize("name", ["", "  "])
def test_a_guardian_without_a_name_is_not_an_adults_own_yes(tmp_path, name):
    run = runner(tmp_path / "home")
    refused = run("consent", LABEL, "--guardian", name, "--yes", code=1)
    assert refused == "The guardian's name is empty; write down who said yes."
    assert run("sitters") == "Nobody is in the records."


@pytest.mark.slow
def test_a_plan_without_a_yes_measures_no_face_and_is_found_again(frame, tmp_path):
    home, out = tmp_path / "home", tmp_path / "out"
    run = runner(home)
    told = json.loads(run("plan", frame, "--wish", "ears", "--out", out, "--json"))
    written = json.loads((out / "plan.json").read_text())
    assert "head" not in written
    assert written["source"] == {"photos": [str(frame)]}
    shape = told["head"]["shape"]
    assert shape
    kept_here = b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())
    for text in [(out / "plan.json").read_bytes(), kept_here]:
        assert not [name for name in shape if name.encode() in text]
    sorted_here = json.loads(run("sort", frame.parent, "--plan", out / "plan.json", "--json"))
    (burst,) = sorted_here["bursts"]
    assert burst["frames"]
    report = run("forget", "--frames")
    assert f"Erased {out / 'plan.json'}" in report
    assert list(out.iterdir()) == []
    assert frame.exists()
