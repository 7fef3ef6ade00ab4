"""Records of an invented sitter in a temporary home, never the person's own."""

import os
from datetime import timedelta
from types import SimpleNamespace

import pytest

from sitwell.brief.wishes import Wish
from sitwell.scene.setup import Setup
from sitwell.search.plan import Gain, Plan, PlannedSetup
from sitwell.store import entries
from sitwell.store.opening import open_records

PURPOSES = entries.PURPOSES
MARKER = "Zwiebelturm-7731"  # a word that occurs nowhere else
MARKER_NUMBER = 0.7319284650173


@pytest.fixture
def home(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def records(home):
    with open_records(home) as opened:
        yield opened


@pytest.fixture
def yes():
    """A consent of a sitter to a purpose, in force for a year unless told otherwise."""

    def consent(sitter, purpose, **changes):
        values = {
            "sitter_id": sitter.id,
            "purpose": purpose,
            "notice": "invented notice",
            "keep_until": (entries.now() + timedelta(days=365)).date(),
        }
        return entries.Consent(**(values | changes))

    return consent


@pytest.fixture
def plan():
    planned = PlannedSetup(
        name="one",
        setup=Setup(turn_deg=12.0),
        measures={"nose_length": MARKER_NUMBER, "glare_own_left_deg": float("inf")},
        gains=(Gain(wish=MARKER, measure="nose_length", was=0.4, becomes=0.3, gain=2.0),),
        guards=(),
        leeway=(),
        reasons=(),
    )
    return Plan(baseline=Setup(), baseline_measures={}, setups=(planned,), conflicts=())


@pytest.fixture
def fill(yes, plan, tmp_path):
    """Keep one of everything of one sitter, with the marker wherever words go."""

    def fill_records(records, label=f"Sitter {MARKER}"):
        sitter = entries.Sitter(label=label, note=MARKER)
        sitting = entries.Sitting(sitter_id=sitter.id, title=MARKER, note=MARKER)
        of = {"sitter_id": sitter.id, "sitting_id": sitting.id}
        photograph = tmp_path / "photographs" / f"{MARKER}.jpg"
        photograph.parent.mkdir(exist_ok=True)
        photograph.write_bytes(b"an invented photograph")
        held = [
            entries.KeptWishes(**of, wishes=(Wish(feature="ears"),), note=MARKER),
            entries.KeptHead(**of, shape={"nose": MARKER_NUMBER}, level_frame={"chin_deg": 3.25}),
            entries.KeptPlan(**of, plan=plan),
            entries.UsedSetup(**of, name=MARKER, setup=Setup(), worked=True),
            entries.KeptFrame(**of, path=str(photograph), measures={"nose_length": MARKER_NUMBER}),
            entries.Crop(**of, name=MARKER, png=MARKER.encode()),
        ]
        consents = [yes(sitter, purpose) for purpose in PURPOSES]
        records.keep(sitter, *consents, sitting, *held)
        cached = records.cache_folder(sitter) / "reading.bin"
        cached.write_bytes(MARKER.encode())
        return SimpleNamespace(sitter=sitter, sitting=sitting, held=held, photograph=photograph)

    return fill_records


@pytest.fixture
def traces():
    """Where any of some bytes can still be found: names and raw contents under a folder."""

    def found_in(folder, *sought):
        hits = []
        for entry in folder.rglob("*"):
            readable = entry.read_bytes() if entry.is_file() else b""
            content = os.fsencode(entry.name) + b"\n" + readable
            hits += [entry.name for trace in sought if trace in content]
        return hits

    return found_in
