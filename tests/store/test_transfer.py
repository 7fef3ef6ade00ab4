"""A sitting out and in again; and files that mean harm."""

import dataclasses
import io
import json
import stat
import struct
import zipfile
import zlib
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitwell.base.errors import ConsentError, StoreError, TransferError
from sitwell.store import archive, entries
from sitwell.store.archive import check_name, read_archive
from sitwell.store.erase import forget
from sitwell.store.opening import open_records
from sitwell.store.transfer import export_sitting, import_sitting, sitting_bytes

SHEETS = {"set sheet.pdf": b"%PDF-1.7 invented", "preview.png": b"\x89PNG\r\n\x1a\n invented"}


@pytest.fixture
def sent(home, fill, tmp_path):
    """An exported sitting, and what was in it."""
    with open_records(home) as records:
        filled = fill(records)
        path = tmp_path / "sent.sitting.zip"
        export_sitting(records, filled.sitting, path, sheets=SHEETS)
        filled.path = tmp_path / "kept.sitting.zip"
        filled.path.write_bytes(path.read_bytes())
    return filled


@pytest.fixture
def other(tmp_path):
    with open_records(tmp_path / "other") as opened:
        yield opened


def test_a_sitting_comes_back_equal(sent, other):
    taken = import_sitting(other, sent.path)
    assert taken.sitter == sent.sitter
    assert taken.sitting == sent.sitting
    assert dict(taken.sheets) == SHEETS
    for record in sent.held:
        assert other.all(type(record)) == (record,)
    assert len(other.all(entries.Consent)) == 3


def test_what_came_in_goes_out_as_the_same_bytes(sent, other, tmp_path):
    taken = import_sitting(other, sent.path)
    again = export_sitting(other, taken.sitting, tmp_path / "again.zip", sheets=taken.sheets)
    assert again.read_bytes() == sent.path.read_bytes()


def test_the_same_sitting_always_gives_the_same_bytes(records, fill):
    filled = fill(records)
    turned = dict(reversed(SHEETS.items()))
    one = sitting_bytes(records, filled.sitter, filled.sitting, SHEETS)
    assert one == sitting_bytes(records, filled.sitter, filled.sitting, turned)


def test_the_file_is_plain_zip_and_json(sent):
    with zipfile.ZipFile(sent.path) as opened:
        assert opened.testzip() is None
        assert sorted(opened.namelist()) == [
            "sheets/preview.png",
            "sheets/set sheet.pdf",
            "sitting.json",
        ]
        plain = json.loads(opened.read("sitting.json"))
    assert (plain["format"], plain["version"]) == ("sitwell-sitting", 1)
    assert plain["records"]["heads"][0]["shape"] == {"nose": 0.7319284650173}


def test_another_sitting_of_a_known_sitter_joins_them(home, sent, other, tmp_path):
    import_sitting(other, sent.path)
    with open_records(home) as records:
        second = entries.Sitting(sitter_id=sent.sitter.id, title="second")
        head = entries.KeptHead(sitter_id=sent.sitter.id, sitting_id=second.id, shape={"a": 1.0})
        records.keep(second, head)
        path = export_sitting(records, second, tmp_path / "second.zip")
    import_sitting(other, path, label="not used: known here")
    assert other.sitters() == (sent.sitter,)
    assert other.all(entries.KeptHead) == (sent.held[1], head)


def test_the_same_sitting_is_not_taken_in_twice(sent, other):
    import_sitting(other, sent.path)
    with pytest.raises(TransferError, match="is in the records already; open it there"):
        import_sitting(other, sent.path)


def test_a_label_that_is_taken_can_be_replaced(sent, other):
    other.add_sitter(sent.sitter.label)
    with pytest.raises(StoreError, match="is taken in the sitters; choose another name"):
        import_sitting(other, sent.path)
    assert other.all(entries.Sitting) == ()
    assert import_sitting(other, sent.path, label="the other one").sitter.label == "the other one"


def test_an_ended_consent_keeps_a_sitting_out(sent, other):
    with pytest.raises(ConsentError, match="has no consent in force for"):
        import_sitting(other, sent.path, at=entries.now() + timedelta(days=366))
    assert other.sitters() == ()


def test_a_forgotten_sitter_does_not_come_back_in_a_file(home, sent):
    with open_records(home) as records:
        assert forget(records, sent.sitter).complete
        with pytest.raises(ConsentError, match="was forgotten on this machine; if they sit again"):
            import_sitting(records, sent.path)


def test_a_record_that_is_here_already_is_not_overwritten(sent, other, tmp_path):
    import_sitting(other, sent.path)

    def move(plain):
        plain["sitting"]["id"] = "another"
        for item in (item for items in plain["records"].values() for item in items):
            item["sitting_id"] = "another"

    with pytest.raises(StoreError, match="number is taken"):
        import_sitting(other, altered(sent.path, tmp_path, move))
    assert other.all(entries.KeptHead) == (sent.held[1],)


def test_a_sitting_of_a_sitter_who_is_gone_is_one_sentence(records, fill):
    filled = fill(records)
    forget(records, filled.sitter)
    with pytest.raises(StoreError, match="not in the records any more"):
        export_sitting(records, filled.sitting)


@pytest.mark.parametrize("sheets", [{"a.txt": b"%PDF-"}, {"a.pdf": b"MZ"}, {"b/a.pdf": b"%PDF-"}])
def test_only_pdf_and_png_go_with_a_sitting(records, fill, sheets):
    (name,) = sheets
    with pytest.raises(TransferError, match=f"sheet '{name}' is no PDF or PNG; call it name.pdf"):
        export_sitting(records, fill(records).sitting, sheets=sheets)


# Files that mean harm


def altered(path, folder, change):
    """The same file with its JSON changed and all else as it was."""
    with zipfile.ZipFile(path) as old:
        files = {name: old.read(name) for name in old.namelist()}
    plain = json.loads(files["sitting.json"])
    change(plain)
    files["sitting.json"] = json.dumps(plain).encode()
    return zipped(folder / "altered.zip", files)


def zipped(path, files, method=zipfile.ZIP_STORED):
    with zipfile.ZipFile(path, "w", method) as new:
        for name, content in files.items():
            new.writestr(name, content)
    return path


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda p: p.update(version=2), "is of version 2, and this Sitwell reads 1; open it with"),
        (lambda p: p.update(version=True), "is of version True, and this Sitwell reads 1"),
        (lambda p: p.update(version="1"), "is of version '1', and this"),
        (lambda p: p.pop("version"), "is of version None"),
        (lambda p: p.update(format="other"), "is no exported sitting; choose a file that"),
        (lambda p: p.pop("sitter"), "can't be taken in"),
        (lambda p: p.update(records=[]), "can't be taken in"),
        (lambda p: p["sitter"].update(label=3), "can't be taken in .* 3 is not of the kind str"),
        (lambda p: p["sitter"].update(label=" "), "can't be taken in .*label is empty"),
        (lambda p: p["sitter"].update(at="soon"), "can't be taken in"),
        (lambda p: p["sitter"].update(at="2026-01-01T00:00:00"), "has no time zone"),
        (lambda p: p["consents"][0].update(purpose="x"), "can't be taken in .*'x' is not known"),
        (lambda p: p["records"]["heads"][0].update(shape={"a": "1"}), "'1' is not a number"),
        (lambda p: p["records"]["crops"][0].update(png="%%"), "bytes are not in base64"),
        (lambda p: p["records"]["wishes"][0].update(wishes=[{"feature": "soul"}]), "soul"),
        (lambda p: p["records"]["heads"][0].update(sitter_id="x"), "mixes several sitters or"),
        (lambda p: p["records"]["heads"][0].update(sitting_id="x"), "mixes several sitters or"),
        (lambda p: p["consents"][0].update(sitter_id="x"), "mixes several sitters or"),
        (lambda p: p.update(sheets={}), "are not those it lists; export it again"),
        (lambda p: p.update(sheets=[]), "are not those it lists; export it again"),
        (lambda p: p["sheets"].update({"preview.png": "0"}), "preview.png in .* was altered"),
    ],
)
def test_a_wrong_value_keeps_everything_out(sent, other, tmp_path, change, sentence):
    with pytest.raises(TransferError, match=sentence):
        import_sitting(other, altered(sent.path, tmp_path, change))
    assert other.sitters() == ()


@pytest.mark.parametrize("text", [b"", b"{", b"[]", b"\xff", b"[" * 100_000])
def test_what_is_no_json_is_one_sentence(other, tmp_path, text):
    bad = zipped(tmp_path / "bad.zip", {"sitting.json": text})
    with pytest.raises(TransferError, match=r"can't be read; export it again|no exported sitting"):
        import_sitting(other, bad)


@pytest.mark.parametrize(
    "name",
    [
        "../out.pdf",
        "sheets/../../out.pdf",
        "/etc/out.pdf",
        "C:\\out.pdf",
        "C:out.pdf",
        "\\\\server\\out.pdf",
        "sheets\\out.pdf",
        "sheets//out.pdf",
        "./out.pdf",
        "sheets/",
        "",
        ".hidden.pdf",
        "out.pdf\x00.txt",
        "out\n.pdf",
        "out.pdf.",
        "out.pdf ",
        "CON.pdf",
        "sheets/nul",
        "com1.png",
        "a:stream.pdf",
        "a*b.pdf",
        "~/out.pdf",
    ],
)
def test_a_name_that_leads_elsewhere_is_refused(name):
    with pytest.raises(TransferError, match=r"is not safe in a file; use plain letters"):
        check_name(name)


@pytest.mark.parametrize("name", ["../out.pdf", "/out.pdf", "C:/out.pdf", "a\\b.pdf", "a//b.pdf"])
def test_a_zip_with_such_a_name_is_refused_whole(other, tmp_path, name):
    bad = zipped(tmp_path / "bad.zip", {"sitting.json": b"{}", name: b"%PDF-"})
    with pytest.raises(TransferError, match="is not safe in a file"):
        import_sitting(other, bad)
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["bad.zip", "other"]


def test_a_second_name_hidden_beside_the_first_is_checked_too(tmp_path):
    """Zip's field 0x7075 carries a name that newer readers take instead of the plain one."""
    plain, hidden = b"a.pdf", b"../out.pdf"
    field = b"\x01" + zlib.crc32(plain).to_bytes(4, "little") + hidden
    entry = zipfile.ZipInfo(plain.decode())
    entry.extra = struct.pack("<HH", 0x7075, len(field)) + field
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(bad, "w") as new:
        new.writestr(entry, b"%PDF-")
    with zipfile.ZipFile(bad) as opened:
        taken = opened.namelist()
    if taken == [plain.decode()]:
        pytest.skip("this Python's zip reader does not look at the second name")
    with pytest.raises(TransferError, match=r"'../out.pdf' is not safe in a file"):
        read_archive(bad)


@given(st.text(max_size=12))
@settings(max_examples=300)
def test_no_accepted_name_leads_out_of_a_folder(name):
    import ntpath
    import posixpath

    try:
        check_name(name)
    except TransferError:
        return
    for path in (posixpath, ntpath):
        inside = path.normpath(path.join("/base" if path is posixpath else "c:\\base", name))
        assert inside.startswith(("/base/", "c:\\base\\"))


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFDIR, stat.S_IFIFO, stat.S_IFCHR])
def test_links_and_devices_are_refused(tmp_path, kind):
    entry = zipfile.ZipInfo("sheets-a.pdf")
    entry.external_attr = (kind | 0o777) << 16
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(bad, "w") as new:
        new.writestr(entry, "/etc/passwd")
    with pytest.raises(TransferError, match=r"'sheets-a.pdf' is a link or no plain file"):
        read_archive(bad)


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path):
    bad = zipped(tmp_path / "bad.zip", {"a.pdf": bytes(50_000_000)}, zipfile.ZIP_DEFLATED)
    assert bad.stat().st_size < 60_000
    with pytest.raises(TransferError, match=r"'a.pdf' is squeezed \d+ times, over 100; do not"):
        read_archive(bad)


def test_a_size_that_lies_is_refused(tmp_path):
    good = zipped(tmp_path / "bad.zip", {"a.pdf": bytes(5_000_000)}, zipfile.ZIP_DEFLATED)
    # The size stands in the local header and in the directory at the end: shrink both.
    lied = good.read_bytes().replace((5_000_000).to_bytes(4, "little"), (100).to_bytes(4, "little"))
    good.write_bytes(lied)
    with pytest.raises(TransferError, match=r"is damaged or no zip file|not as long as it says"):
        read_archive(good)


def test_too_much_and_too_many_are_refused(tmp_path, monkeypatch):
    many = zipped(tmp_path / "many.zip", {f"{n}.pdf": b"" for n in range(201)})
    with pytest.raises(TransferError, match="holds 201 files, over 200; leave it"):
        read_archive(many)
    monkeypatch.setattr(archive, "MOST_BYTES", 2**20)
    large = zipped(tmp_path / "large.zip", {"a.pdf": bytes(2**20), "b.pdf": b"1"})
    with pytest.raises(TransferError, match="would unpack to 1 MB, over 1; do not open it"):
        read_archive(large)


def test_one_name_twice_is_refused(tmp_path):
    bad = zipped(tmp_path / "bad.zip", {"a.pdf": b"1", "A.PDF": b"2"})
    with pytest.raises(TransferError, match="holds one name twice; export it again"):
        read_archive(bad)


def test_another_packing_is_refused(tmp_path):
    bad = zipped(tmp_path / "bad.zip", {"a.pdf": b"1"}, zipfile.ZIP_LZMA)
    with pytest.raises(TransferError, match=r"'a.pdf' is packed in an unknown way; pack it"):
        read_archive(bad)


def test_a_locked_entry_is_refused(tmp_path):
    bad = zipped(tmp_path / "bad.zip", {"a.pdf": b"1"})
    raw = bytearray(bad.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        raw[raw.index(mark) + offset] |= 1
    bad.write_bytes(raw)
    with pytest.raises(TransferError, match="is packed in an unknown way"):
        read_archive(bad)


def test_what_is_no_zip_is_one_sentence(tmp_path):
    bad = tmp_path / "bad.zip"
    bad.write_bytes(b"no zip at all")
    with pytest.raises(TransferError, match="is damaged or no zip file; export it again"):
        read_archive(bad)
    with pytest.raises(TransferError, match=r"missing.zip can't be opened .*check it"):
        read_archive(tmp_path / "missing.zip")
    with pytest.raises(TransferError, match=r"holds no sitting.json; choose a file that Sitwell"):
        import_sitting_of({"a.pdf": b"%PDF-"}, tmp_path)


def import_sitting_of(files, tmp_path):
    with open_records(tmp_path / "home") as records:
        import_sitting(records, zipped(tmp_path / "test.zip", files))


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_a_file_with_any_byte_changed_never_gives_other_contents(data):
    stream = io.BytesIO()
    files = {"sitting.json": b'{"a": 1}', "a.pdf": b"%PDF-1"}
    with zipfile.ZipFile(stream, "w") as new:
        for name, content in files.items():
            new.writestr(name, content)
    raw = bytearray(stream.getvalue())
    raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        read = read_archive(io.BytesIO(bytes(raw)))
    except TransferError:
        return
    # An entry may vanish (the sitting then lists a sheet that is not there), none may change.
    assert set(read.values()) <= set(files.values())


def test_consents_that_are_known_are_not_doubled(home, sent, other, tmp_path):
    import_sitting(other, sent.path)
    longer = dataclasses.replace(other.all(entries.Consent)[0], notice="changed here")
    other.keep(longer)
    with open_records(home) as records:
        second = entries.Sitting(sitter_id=sent.sitter.id)
        records.keep(second)
        path = export_sitting(records, second, tmp_path / "second.zip")
    import_sitting(other, path)
    assert len(other.all(entries.Consent)) == 3
    assert longer in other.all(entries.Consent)
