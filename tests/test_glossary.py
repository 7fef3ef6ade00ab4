"""The glossary names every quantity of a set-up, with a unit, and nothing that has gone."""

import dataclasses
import re
from pathlib import Path

from sitwell.scene.setup import Setup

GLOSSARY = Path(__file__).resolve().parent.parent / "docs" / "glossary.md"


def rows_of_the_setup_table() -> dict[str, str]:
    text = GLOSSARY.read_text(encoding="utf-8")
    table = text.split("## A set-up")[1].split("## The face")[0]
    rows = {}
    for line in (row for row in table.splitlines() if row.startswith("|")):
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        for name in re.findall(r"`(\w+)`", cells[0]):
            rows[name] = cells[1] if len(cells) > 1 else ""
    return rows


def test_every_quantity_of_a_setup_is_in_the_glossary_and_no_other():
    assert set(rows_of_the_setup_table()) == set(Setup().as_dict())


def test_the_glossary_gives_the_unit_that_the_name_carries():
    units = {"deg": "degrees", "mm": "mm", "stops": "stops"}
    for name, unit in rows_of_the_setup_table().items():
        suffix = name.rsplit("_", 1)[-1]
        if suffix in units:
            assert unit == units[suffix], name


def test_every_number_of_a_setup_carries_its_unit():
    plain = {"f_number", "fill_ratio"}
    for field in dataclasses.fields(Setup):
        if field.type in (float, "float"):
            assert field.name in plain or re.search(r"_(deg|mm|stops)$", field.name), field.name
