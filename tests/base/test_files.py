import pytest

from sitwell.base.files import make_atomically, write_atomically


def test_a_file_is_written_whole(tmp_path):
    path = write_atomically(tmp_path / "new" / "plan.json", "{}")
    assert path.read_text() == "{}"
    assert [p.name for p in path.parent.iterdir()] == ["plan.json"]


def test_a_failed_write_leaves_the_old_file_and_no_litter(tmp_path):
    path = write_atomically(tmp_path / "plan.json", "old")

    def fails(temporary):
        temporary.write_text("half")
        raise OSError("disk full")

    with pytest.raises(OSError, match="disk full"):
        make_atomically(path, fails)
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["plan.json"]
