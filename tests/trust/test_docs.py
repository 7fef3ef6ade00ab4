"""The pages lead where they say, the command line's page is fresh, and its examples are valid."""

import re
import shlex
from pathlib import Path

import pytest
import typer.main

from builders.docs import cli_page
from sitwell.brief.comfort import LIMITS, comfort_for
from sitwell.brief.kit import PRESETS as KITS
from sitwell.brief.room import PRESETS as ROOMS
from sitwell.brief.wishes import FEATURES, parse_wish
from sitwell.scene.setup import ASPECTS, FRAMINGS
from sitwell.search.locks import parse_locks
from sitwell.sheet.pdf import check_paper
from sitwell.ui.cli import app

ROOT = Path(__file__).resolve().parents[2]
PAGES = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
COMMANDS = typer.main.get_command(app)


def plain_text(page):
    """A page without its code, in which brackets mean other things."""
    text = page.read_text(encoding="utf-8")
    text = re.sub(r"```.*?```", "", text, flags=re.S)
    return re.sub(r"`[^`\n]*`", lambda m: " " if "](" in m[0] else m[0], text)


def anchors(page):
    """The anchors of a page's headings, as they are commonly made."""
    heads = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), flags=re.M)
    plain = (re.sub(r"[^\w\- ]", "", head.lower()) for head in heads)
    return {head.strip().replace(" ", "-") for head in plain}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    for link in LINK.findall(plain_text(page)):
        assert not link.startswith(("http:", "/")), link
        if link.startswith("https:"):
            continue
        name, _, anchor = link.partition("#")
        there = (page.parent / name).resolve() if name else page
        assert there.exists(), link
        assert there.is_relative_to(ROOT), link
        assert not anchor or anchor in anchors(there), link


def test_links_are_found():
    assert len(LINK.findall(plain_text(ROOT / "docs" / "index.md"))) > 20


def test_the_index_leads_to_every_page():
    index = ROOT / "docs" / "index.md"
    linked = {(index.parent / link).resolve() for link in LINK.findall(plain_text(index))}
    assert {page for page in (ROOT / "docs").rglob("*.md") if page != index} <= linked


def test_every_picture_is_shown_somewhere():
    shown = {
        (page.parent / link).resolve() for page in PAGES for link in LINK.findall(plain_text(page))
    }
    pictures = set((ROOT / "docs" / "pictures").iterdir())
    assert pictures <= shown


def test_the_command_lines_page_is_fresh():
    written = cli_page.PAGE.read_text(encoding="utf-8")
    assert written == cli_page.page(), "run python -m builders.docs.cli_page"


def examples():
    """Each command in an indented or fenced line of a page, with lines that go on joined."""
    for page in PAGES:
        text = re.sub(r" \\\n\s*", " ", page.read_text(encoding="utf-8"))
        for line in re.findall(r"^\s{4,}sitwell .+$", text, flags=re.M):
            yield pytest.param(line.strip(), id=f"{page.stem}: {line.strip()[:50]}")


@pytest.mark.parametrize("line", list(examples()))
def test_every_command_that_a_page_shows_is_understood(line):
    words = shlex.split(line.replace("FOLDER", "folder"), comments=True)[1:]
    words = words[: words.index("&&")] if "&&" in words else words
    command = COMMANDS.commands[words[0]]
    given = command.make_context(words[0], words[1:]).params
    for wish in given.get("wish") or ():
        parse_wish(wish)
    comfort_for(given.get("limit") or ())
    parse_locks(given.get("lock") or ())
    check_paper(given.get("paper") or "a4")
    assert (given.get("framing") or FRAMINGS[0]) in FRAMINGS
    assert (given.get("aspect") or ASPECTS[0]) in ASPECTS
    for name, presets in (("kit", KITS), ("room", ROOMS)):
        assert not given.get(name) or given[name] in presets or given[name].endswith(".toml")


def test_examples_are_found():
    assert len(list(examples())) > 15


def test_the_how_to_names_every_feature_and_limit():
    talk = (ROOT / "docs" / "how-to" / "talk.md").read_text(encoding="utf-8")
    assert not {name for name in (*FEATURES, *LIMITS) if f"`{name}`" not in talk}
