import dataclasses
import json
import sqlite3
import struct
from contextlib import closing

import pytest

from sitwell.base.errors import SealError
from sitwell.store import entries
from sitwell.store.backups import back_up
from sitwell.store.erase import forget
from sitwell.store.opening import open_records
from sitwell.store.sealed import LOST_PASSPHRASE, Seal, lock, mark, new_seal, unlock
from sitwell.store.sealing import set_passphrase

PHRASE = "river lamp seven onions"
CHEAP = 2**10  # scrypt at full cost takes half a second a time
MARKER = b"Zwiebelturm-7731"
TRACES = (MARKER, b"0.7319284650173", struct.pack("<d", 0.7319284650173), b"ears", b"onions")


def test_no_word_or_number_of_a_sitter_can_be_read_in_the_files(records, fill, home, traces):
    set_passphrase(records, PHRASE, cost=CHEAP)
    filled = fill(records)
    back_up(records)
    cached = records.places.cache / filled.sitter.id / "reading.bin"
    cached.unlink()  # what is in the cache is not sealed; docs/records.md says so
    assert traces(home, *TRACES) == []
    assert records.search("zwiebelturm")


def test_sealing_covers_what_was_there_before_and_every_backup(records, fill, home, traces):
    filled = fill(records)
    (records.places.cache / filled.sitter.id / "reading.bin").unlink()
    back_up(records)
    assert traces(home, *TRACES)
    assert set_passphrase(records, PHRASE, cost=CHEAP) == ()
    assert traces(home, *TRACES) == []
    for record in filled.held:
        assert records.all(type(record)) == (record,)
    assert records.sitter(filled.sitter.label) == filled.sitter


def test_the_passphrase_opens_them_again(home, fill):
    with open_records(home) as records:
        filled = fill(records)
        set_passphrase(records, PHRASE, cost=CHEAP)
    with open_records(home, passphrase=f" {PHRASE} ") as records:
        assert records.all(entries.KeptHead) == (filled.held[1],)
        assert forget(records, filled.sitter).complete


def test_a_wrong_or_missing_passphrase_is_one_sentence(home, fill):
    with open_records(home) as records:
        set_passphrase(records, PHRASE, cost=CHEAP)
    with pytest.raises(SealError, match="does not open these records; check for capitals and try"):
        open_records(home, passphrase="river lamp eight onions")
    with pytest.raises(SealError, match="These records are sealed; give the passphrase"):
        open_records(home)


def test_a_passphrase_for_records_that_are_not_sealed_is_refused(home):
    with pytest.raises(SealError, match="not sealed, so the passphrase opens nothing; set one"):
        open_records(home, passphrase=PHRASE)


def test_a_short_passphrase_is_refused_and_seals_nothing(records, fill):
    filled = fill(records)
    with pytest.raises(SealError, match="fewer than 10 characters; use four or five words"):
        set_passphrase(records, "short   ", cost=CHEAP)
    assert records.all(entries.KeptHead) == (filled.held[1],)


def test_the_passphrase_can_be_changed(home, fill):
    with open_records(home) as records:
        filled = fill(records)
        set_passphrase(records, PHRASE, cost=CHEAP)
        backup = back_up(records)
        set_passphrase(records, "another set of words", cost=CHEAP)
    with pytest.raises(SealError, match="does not open these records"):
        open_records(home, passphrase=PHRASE)
    with open_records(home, passphrase="another set of words") as records:
        assert records.all(entries.KeptHead) == (filled.held[1],)
    with closing(sqlite3.connect(backup)) as copy:
        (locked,) = copy.execute("select value from settings where name = 'lock'").fetchone()
    assert unlock(locked, "another set of words")


def test_another_window_does_not_write_in_the_clear_after_sealing(home, fill, yes):
    with open_records(home) as old, open_records(home) as other:
        filled = fill(old)
        set_passphrase(other, PHRASE, cost=CHEAP)
        with pytest.raises(SealError, match="set or changed in another window; open the records"):
            old.keep(dataclasses.replace(filled.held[1], note="in the clear"))
        with pytest.raises(SealError, match="is not sealed like the others"):
            old.all(entries.KeptHead)


def test_a_sealed_body_can_not_be_altered_or_moved():
    seal = Seal(bytes(32))
    body = seal.close(b"plain", "heads/1")
    assert seal.open(body, "heads/1") == b"plain"
    for bad, where in (
        (body[:-1] + bytes([body[-1] ^ 1]), "heads/1"),
        (body[:20], "heads/1"),
        (body[:5], "heads/1"),
        (body, "heads/2"),
    ):
        with pytest.raises(SealError, match=f"record {where} was altered; use a backup"):
            seal.open(bad, where)


def test_two_seals_of_one_text_differ():
    seal = Seal(bytes(32))
    assert seal.close(b"plain", "a") != seal.close(b"plain", "a")


def test_the_key_never_shows_in_a_printed_seal(records):
    seal, locked = new_seal(PHRASE, cost=CHEAP)
    assert seal.data_key.hex() not in repr(seal) + locked
    set_passphrase(records, PHRASE, cost=CHEAP)
    assert "data_key" not in repr(records)


def test_a_damaged_lock_is_one_sentence():
    _, locked = new_seal(PHRASE, cost=CHEAP)
    kept_values = json.loads(locked)
    for bad in (
        "{",
        "[]",
        "{}",
        json.dumps(kept_values | {"cost": 2**40}),
        json.dumps(kept_values | {"cost": 1000}),
        json.dumps(kept_values | {"salt": 3}),
    ):
        with pytest.raises(SealError, match="lock of these records is damaged; use a backup"):
            unlock(bad, PHRASE)


def test_a_passphrase_may_be_typed_composed_or_not():
    seal, locked = new_seal("fünf grüne Zwiebeln", cost=CHEAP)
    assert unlock(locked, "fu\u0308nf gru\u0308ne Zwiebeln") == seal


def test_a_lock_made_anew_holds_the_same_key():
    seal, _ = new_seal(PHRASE, cost=CHEAP)
    assert unlock(lock(seal, "another set of words", cost=CHEAP), "another set of words") == seal


def test_a_mark_tells_nothing_without_the_seal():
    one, two = Seal(bytes(32)), Seal(bytes(31) + b"1")
    assert mark("Ada", one) == mark(" ADA ", one)
    assert len({mark("Ada", None), mark("Ada", one), mark("Ada", two), mark("Eve", one)}) == 4


def test_the_loss_of_a_passphrase_is_said_plainly():
    assert "nobody can read these records again: not you, not us" in LOST_PASSPHRASE
