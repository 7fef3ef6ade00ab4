import json
import os
import shutil
import subprocess
import sys

import pytest

from benchmarks import rival_sidecars
from sitwell.base.errors import SidecarError
from sitwell.sort import xmp
from sitwell.sort.packet import empty_packet, set_rating
from sitwell.sort.xmp import find_sidecars, read_sidecar, sweep, write_sidecar

PERSON = (
    set_rating(empty_packet(), 2)
    .replace(b"sitwell:", b"foreign:")
    .replace(b"xmlns:sitwell", b"xmlns:foreign")
    .replace(b"urn:sitwell:xmp:1", b"urn:foreign")
)


@pytest.fixture
def photo(tmp_path):
    path = tmp_path / "shot 0001.dng"
    path.write_bytes(b"not touched")
    return path


@pytest.mark.parametrize(
    ("form", "name"),
    [
        (None, "shot 0001.xmp"),
        ("NAME.xmp", "shot 0001.xmp"),
        ("NAME.EXT.xmp", "shot 0001.dng.xmp"),
    ],
)
def test_a_new_sidecar_takes_the_asked_name(photo, form, name):
    written = write_sidecar(photo, 3, ["put forward"], form=form)
    assert (written.path.name, written.changed) == (name, True)
    assert read_sidecar(photo).rating == 3
    assert sorted(p.name for p in photo.parent.iterdir()) == sorted([name, photo.name])
    assert photo.read_bytes() == b"not touched"


@pytest.mark.parametrize("name", ["shot 0001.xmp", "shot 0001.dng.xmp", "shot 0001.XMP"])
def test_the_sidecar_that_exists_is_the_one_merged_into(photo, name):
    photo.with_name(name).write_bytes(empty_packet().replace(b"\n </", b"<!-- theirs --></"))
    assert write_sidecar(photo, 4).path.name == name
    assert b"<!-- theirs -->" in photo.with_name(name).read_bytes()
    assert [p.name for p in find_sidecars(photo)] == [name]


def test_of_two_sidecars_the_more_specific_counts_and_the_other_is_not_touched(photo):
    shared, specific = photo.with_suffix(".xmp"), photo.with_name("shot 0001.dng.xmp")
    shared.write_bytes(empty_packet())
    specific.write_bytes(empty_packet())
    assert write_sidecar(photo, 1).path == specific
    assert shared.read_bytes() == empty_packet()
    assert read_sidecar(photo).path == specific


def test_the_asked_form_is_written_and_the_other_form_never_overwritten(photo):
    shared = photo.with_suffix(".xmp")
    shared.write_bytes(empty_packet())
    assert write_sidecar(photo, 1, form="NAME.EXT.xmp").path.name == "shot 0001.dng.xmp"
    assert shared.read_bytes() == empty_packet()


def test_a_persons_rating_stays_in_either_form_and_keywords_still_join(photo):
    shared = photo.with_suffix(".xmp")
    shared.write_bytes(PERSON)
    written = write_sidecar(photo, 5, ["put forward"], form="NAME.EXT.xmp")
    assert written.why == "a person rated it 2 in shot 0001.xmp"
    assert read_sidecar(photo).rating == 2
    assert shared.read_bytes() == PERSON


def test_our_own_rating_may_change_until_a_person_changes_it(photo):
    write_sidecar(photo, 3)
    assert write_sidecar(photo, 1).changed
    sidecar = photo.with_suffix(".xmp")
    sidecar.write_bytes(sidecar.read_bytes().replace(b"<xmp:Rating>1", b"<xmp:Rating>5"))
    assert write_sidecar(photo, 3).why == "a person rated it 5 in shot 0001.xmp"
    assert read_sidecar(photo).by_person
    assert write_sidecar(photo, 4, person=True).changed


def test_a_rating_a_person_took_away_is_not_given_again(photo):
    write_sidecar(photo, 3)
    sidecar = photo.with_suffix(".xmp")
    sidecar.write_bytes(sidecar.read_bytes().replace(b"<xmp:Rating>3</xmp:Rating>", b""))
    assert write_sidecar(photo, 3).why == "a person took its rating away in shot 0001.xmp"


def test_an_unrated_nought_from_another_program_may_be_rated(photo):
    photo.with_suffix(".xmp").write_bytes(PERSON.replace(b"Rating>2", b"Rating>0"))
    assert write_sidecar(photo, 3).why == ""
    assert read_sidecar(photo).rating == 3


def test_writing_twice_is_as_once_and_nothing_asked_writes_nothing(photo):
    assert not write_sidecar(photo).changed
    assert find_sidecars(photo) == []
    write_sidecar(photo, 3, ["a"])
    assert not write_sidecar(photo, 3, ["a"]).changed


def test_a_linked_sidecar_stays_a_link_and_rights_stay(photo, tmp_path):
    real = tmp_path / "elsewhere.xmp"
    real.write_bytes(empty_packet())
    real.chmod(0o640)
    photo.with_suffix(".xmp").symlink_to(real)
    write_sidecar(photo, 2)
    assert photo.with_suffix(".xmp").is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert read_sidecar(photo).rating == 2


def test_an_unknown_form_and_a_broken_sidecar_are_refused_untouched(photo):
    with pytest.raises(SidecarError, match="form 'x' is not known; choose one of"):
        write_sidecar(photo, 1, form="x")
    photo.with_suffix(".xmp").write_bytes(b"<half")
    with pytest.raises(SidecarError, match=r"shot 0001\.xmp can't be read"):
        write_sidecar(photo, 1)
    assert photo.with_suffix(".xmp").read_bytes() == b"<half"


@pytest.mark.parametrize("person", [False, True])
def test_a_write_by_another_program_meanwhile_is_merged_into(photo, monkeypatch, person):
    sidecar = photo.with_suffix(".xmp")
    sidecar.write_bytes(empty_packet())
    from sitwell.sort import packet

    add_keywords, waiting = packet.add_keywords, [PERSON]

    def slow(data, keywords, name):
        if waiting:
            sidecar.write_bytes(waiting.pop())
        return add_keywords(data, keywords, name)

    monkeypatch.setattr(packet, "add_keywords", slow)
    written = write_sidecar(photo, 1, ["put forward"], person=person)
    assert written.why == "a person rated it 2 in shot 0001.xmp"
    assert read_sidecar(photo).rating == 2
    assert read_sidecar(photo).keywords == ("put forward",)


def test_a_program_that_never_stops_writing_is_given_up_on_in_one_sentence(photo, monkeypatch):
    monkeypatch.setattr(xmp, "replace_known", lambda *_: False)
    with pytest.raises(SidecarError, match="is being written by another program without a pause"):
        write_sidecar(photo, 1)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="exchanging is Linux's")
@pytest.mark.parametrize("manner", rival_sidecars.MANNERS)
def test_no_rating_of_a_program_that_writes_at_the_same_moment_is_lost(tmp_path, manner):
    """A hundred tries each; python -m benchmarks.rival_sidecars makes as many as are wanted."""
    assert rival_sidecars.lost_ratings(tmp_path, 100, manner) == 0


@pytest.mark.parametrize("name", ["shot 0001.xmp", "shot 0001.dng.XMP"])
def test_a_link_to_nowhere_is_refused_and_nothing_is_made_at_its_end(photo, tmp_path, name):
    photo.with_name(name).symlink_to(tmp_path / "gone.xmp")
    with pytest.raises(SidecarError, match=r"is a link to '.*gone\.xmp', which is not there; put"):
        write_sidecar(photo, 2)
    assert not (tmp_path / "gone.xmp").exists()
    assert read_sidecar(photo) is None


def test_the_sweep_takes_our_own_leftovers_only(photo):
    old = [".shot 0001-abcd1234.part.xmp", ".shot 0001.xmp.sitwell-lock", ".theirs.xmp"]
    for name in old:
        path = photo.with_name(name)
        path.touch()
        os.utime(path, (1, 1))
    sweep(photo.parent)
    assert sorted(p.name for p in photo.parent.iterdir()) == [".theirs.xmp", photo.name]


needs_exiftool = pytest.mark.skipif(shutil.which("exiftool") is None, reason="exiftool is absent")


def exiftool(*arguments):
    answer = subprocess.run(
        ["exiftool", "-j", "-G1", "-struct", *map(str, arguments)], capture_output=True, check=True
    )
    return json.loads(answer.stdout)[0]


@needs_exiftool
@pytest.mark.parametrize("rating", range(-1, 6))
def test_an_independent_reader_reads_what_we_wrote(photo, rating):
    path = write_sidecar(photo, rating, ["Ünïcode & <mark>", 'say "no"', "5"]).path
    said = exiftool("-validate", "-warning", "-all", path)
    assert said["XMP-xmp:Rating"] == rating
    assert [str(k) for k in said["XMP-dc:Subject"]] == ["Ünïcode & <mark>", 'say "no"', "5"]
    assert said["ExifTool:Validate"] == "OK"


@needs_exiftool
def test_what_an_independent_writer_wrote_survives_our_merge(photo):
    path = photo.with_suffix(".xmp")
    subprocess.run(
        [
            "exiftool",
            "-q",
            "-XMP-xmp:Rating=0",
            "-XMP-dc:Subject=theirs",
            "-XMP-dc:Title=A title",
            "-XMP-xmpRights:Owner=Somebody",
            "-XMP-iptcCore:Location=Studio",
            str(path),
        ],
        check=True,
    )
    before = exiftool("-XMP:all", path)
    write_sidecar(photo, 3, ["ours"])
    after = exiftool("-XMP:all", path)
    assert after.pop("XMP-xmp:Rating") == 3
    assert after.pop("XMP-dc:Subject") == ["theirs", "ours"]
    before.pop("XMP-xmp:Rating"), before.pop("XMP-dc:Subject")
    assert before.items() <= after.items()
    assert "XMP-dc:Title" in before


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
@pytest.mark.parametrize("make", [os.mkdir, getattr(os, "mkfifo", None)])
def test_a_pipe_or_a_folder_called_as_a_sidecar_is_refused_at_once(photo, make):
    make(photo.with_suffix(".xmp"))
    with pytest.raises(SidecarError, match="is a folder, a pipe or a device; move it away"):
        write_sidecar(photo, rating=3)
