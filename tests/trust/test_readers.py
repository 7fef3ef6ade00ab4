"""Whatever the bytes, a reader reads them or says one sentence; it never fails in another way.

The long, coverage-guided search is ``python -m builders.fuzz.readers``; this is its short form.
"""

import json
import os
import re
import warnings

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builders.fuzz.targets import READERS
from sitwell.base.errors import SitwellError
from sitwell.brief.photos import open_photo

FAST = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
NASTY = (
    "1e999",
    "-0.0",
    "9" * 400,
    "9" * 5000,
    "NaN",
    "-Infinity",
    "null",
    "true",
    '""',
    '"\\ud800"',
    "[]",
    "{}",
    "[[[1]]]",
    '{"a": {"a": 1}}',
    "[" * 100_000,
)
# Values that TOML has words for.
NASTY_TOML = (
    "inf",
    "-inf",
    "nan",
    "-1",
    "0",
    "1e308",
    "9" * 400,
    "9" * 5000,
    "true",
    '""',
    "[]",
    "{}",
    "1979-05-27",
    "[nan, nan]",
    "[0, inf]",
    "[" * 100_000,
    "{a=" * 5000,
)
SPARSE = ("heif", "raw", "sitting", "obj", "ply", "glb")  # slow ones get fewer examples


@st.composite
def mutated(draw, seeds):
    """A good file with a few bytes changed, taken out, doubled or cut off."""
    data = bytearray(draw(st.sampled_from(seeds)))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(len(data) - 1, 0)))
        length = draw(st.integers(1, 8))
        match draw(st.sampled_from(("change", "insert", "remove", "double", "cut"))):
            case "change":
                data[at : at + length] = draw(st.binary(min_size=length, max_size=length))
            case "insert":
                data[at:at] = draw(st.binary(min_size=length, max_size=length))
            case "remove":
                del data[at : at + length]
            case "double":
                data[at:at] = data[at : at + 16 * length]
            case "cut":
                del data[at:]
    return bytes(data)


def read(name, data):
    """Read or refuse, and without a warning: they would reach the photographer's terminal."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return READERS[name].reads_or_refuses(data)


@pytest.mark.parametrize("name", READERS)
def test_a_good_file_is_read(name):
    assert all(read(name, seed) for seed in READERS[name].seeds())


@pytest.mark.parametrize("name", ["marks", "plan", "bare-plan", "kit", "room"])
def test_a_byte_order_mark_before_a_text_is_read(name):
    assert all(read(name, b"\xef\xbb\xbf" + seed) for seed in READERS[name].seeds())


@pytest.mark.parametrize("name", READERS)
def test_a_damaged_file_is_read_or_refused_in_a_sentence(name):
    @settings(FAST, max_examples=40 if name in SPARSE else 120)
    @given(data=mutated(READERS[name].seeds()))
    def holds(data):
        read(name, data)

    holds()


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("data", [b"", b"\0" * 64, b"\xff" * 4096, b"\xef\xbb\xbf", b"%PDF-1.7"])
def test_what_is_something_else_is_read_or_refused(name, data):
    read(name, data)


def values_in(text):
    """Where the numbers and quoted words of a JSON or TOML text stand."""
    return [found.span() for found in re.finditer(r'-?\d[\d.e+]*|"[^"]*"', text)]


@pytest.mark.parametrize("name", ["marks", "plan"])
def test_no_json_value_breaks_a_reader(name):
    (seed,) = READERS[name].seeds()
    text = seed.decode()
    for start, end in values_in(text)[:60]:
        for nasty in NASTY:
            read(name, (text[:start] + nasty + text[end:]).encode())


@pytest.mark.parametrize("name", ["kit", "room"])
def test_no_toml_value_breaks_a_reader(name):
    (seed,) = READERS[name].seeds()
    text = seed.decode()
    for start, end in values_in(text):
        for nasty in NASTY_TOML:
            read(name, (text[:start] + nasty + text[end:]).encode())


def test_no_value_of_a_sitting_breaks_its_reader(tmp_path):
    """The text inside the archive, put back where it stood with another value in it."""
    import io
    import zipfile

    (seed,) = READERS["sitting"].seeds()
    with zipfile.ZipFile(io.BytesIO(seed)) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    text = files["sitting.json"].decode()
    for start, end in values_in(text)[::3]:
        for nasty in ("9" * 400, "null", "[]", '"\\ud800"', "1e999"):
            made = io.BytesIO()
            with zipfile.ZipFile(made, "w") as archive:
                for name, content in files.items():
                    changed = text[:start] + nasty + text[end:]
                    archive.writestr(name, changed if name == "sitting.json" else content)
            read("sitting", made.getvalue())


ENTITIES = (
    '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]><x>&b;</x>',
    '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a;</x>',
    '<!DOCTYPE x SYSTEM "http://192.0.2.1/x.dtd"><x/>',
)


@pytest.mark.parametrize("text", ENTITIES)
def test_a_sidecar_with_entities_is_refused_before_one_is_opened(text):
    assert not read("sidecar", text.encode())


def test_a_sidecar_with_very_deep_or_very_long_content_is_read():
    (seed, _) = READERS["sidecar"].seeds()
    deep = b"<a>" * 20_000 + b"</a>" * 20_000
    long = b"word " * 1_000_000
    for more in (deep, long):
        read("sidecar", seed.replace(b"<dc:subject>", more + b"<dc:subject>"))


@pytest.mark.parametrize("name", ["marks", "plan", "kit", "room"])
def test_a_name_that_leads_to_a_folder_or_nowhere_is_a_sentence(name, tmp_path):
    reader = READERS[name]
    dangling = tmp_path / f"link{reader.file_name}"
    dangling.symlink_to(tmp_path / "gone")
    folder = tmp_path / reader.file_name
    folder.mkdir()
    for path in (dangling, folder):
        with pytest.raises(SitwellError):
            reader.read(path)


def test_values_are_found():
    """Without places to change, the tests of values would hold nothing."""
    for name in ("marks", "plan", "kit", "room"):
        (seed,) = READERS[name].seeds()
        assert len(values_in(seed.decode())) > 5
    assert json.loads(READERS["plan"].seeds()[0])["head"]


def test_a_pipe_or_a_circle_of_links_is_no_photograph_and_holds_nothing_up(tmp_path):
    pipe, circle = tmp_path / "pipe.jpg", tmp_path / "circle.jpg"
    os.mkfifo(pipe)
    circle.symlink_to(circle)
    for path in (pipe, circle):
        with pytest.raises(SitwellError):
            open_photo(path)
