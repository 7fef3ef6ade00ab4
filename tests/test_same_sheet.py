"""One brief gives one sheet, whoever asks: the command line, the pages, or a script."""

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from sitwell import flow
from sitwell.brief.request import open_brief, save_brief
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.sitter import sitter_kept
from sitwell.search.planner import make_group_plan
from sitwell.sheet import group_page, pdf, set_sheet
from sitwell.ui.cli import app
from sitwell.ui.web import brief as papers
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.paper import FrameNote, SitterNote, Sitting, now
from sitwell.ui.web.planning import Model, SheetWork, draw_sheet, plan_brief, sitter_with
from sitwell.ui.web.server_state import ServerState
from tests.search.conftest import StandInEvaluator

FEW = {"evaluations": 60, "measure_names": StandInEvaluator().names}
MARA = SitterNote(
    label="Mara", glasses=True, wishes={"ears": ["soften", 3]}, limits=["stiff-neck"],
    frames=[FrameNote(id="a" * 8, file="a.jpg", name="a.jpg")],
)  # fmt: skip
BEN = SitterNote(
    label="Ben", height_mm=1900.0, wishes={"forehead": ["soften", 2]},
    frames=[FrameNote(id="b" * 8, file="b.jpg", name="b.jpg")],
)  # fmt: skip
SHAPES = {"Mara": {"ear_wing": 0.4}, "Ben": {"forehead_height": 0.4}}


@pytest.fixture
def printed(monkeypatch, tmp_path):
    """All that stands on each sheet that is printed, by its title."""
    sheets = {}

    def keep(desk):
        content = json.loads((desk / "page.json").read_text(encoding="utf-8"))
        sheets[content["title"]] = content
        return b""

    monkeypatch.setattr(pdf, "_typeset", lambda desk, part, content: part.write_bytes(keep(desk)))
    monkeypatch.setattr(group_page, "_typeset", lambda desk, kind: keep(desk))
    monkeypatch.setattr(set_sheet, "PICTURE_PX", 60)
    monkeypatch.setattr(set_sheet, "TOGETHER_PX", 60)
    monkeypatch.setattr(flow, "Evaluator", lambda *_: StandInEvaluator())
    monkeypatch.setattr(flow, "make_group_plan", lambda *a, **k: make_group_plan(*a, **(k | FEW)))
    monkeypatch.setattr(flow, "read_sitter", lambda asked: sitter(asked.name))
    monkeypatch.setenv("SITWELL_HOME", str(tmp_path / "home"))
    return sheets


def sitter(name):
    return sitter_kept(head_as_dict(build_head(SHAPES[name]), np.eye(3)))


def strong(found):
    return found.setups[-1]


def by_command(path, tmp_path):
    # as few options as can be: the file says all of it
    done = CliRunner().invoke(app, ["plan", str(path), "--out", str(tmp_path / "out")])
    assert done.exit_code == 0, done.output


def by_script(path, tmp_path):
    brief = open_brief(path)
    flow.write_sheets(flow.plan(brief, flow.read(brief)), tmp_path)


def by_pages(sitting, server, tmp_path):
    views = [turned_to(sitting, i) for i in range(len(sitting.sitters))]
    known = [sitter(view.sitter.label) for view in views]
    found = plan_brief(
        server.asked(sitting, *sitting.sitters),
        tuple(sitter_with(one.head, one.kept) for one in known),
        lambda *_: None,
        lambda: False,
    )
    planned = strong(found)
    work = SheetWork(
        plan=found,
        planned=planned,
        setup=planned.setup,
        path=tmp_path / f"{planned.name}.pdf",
        means=set_sheet.Means(
            kit=papers.kit_of(sitting), room=papers.room_of(sitting), label=sitting.title()
        ),
        discreet=False,
        language="en",
    )
    models = [Model(one.head, view.sitter.glasses) for one, view in zip(known, views, strict=True)]
    parts = [papers.judge_parts(view) for view in views]
    draw_sheet(models, parts, work, lambda *_: None, lambda: False)


@pytest.mark.parametrize("sitters", [[MARA], [MARA, BEN]], ids=["one", "two"])
def test_the_command_line_the_pages_and_a_script_print_the_same_lines(printed, tmp_path, sitters):
    server = ServerState(shelf=Shelf(tmp_path / "papers"), workshop=Workshop(inline=True))
    sitting = Sitting(
        id="a" * 12, created=now(), label="Mara", kit="three-flashes", sitters=sitters,
        rim_light=len(sitters) == 1,
    )  # fmt: skip
    path = save_brief(tmp_path / "brief.json", server.asked(sitting))
    by_pages(sitting, server, tmp_path)
    ((title, pages),) = printed.items()
    for way in (by_script, by_command):
        printed.clear()
        way(path, tmp_path)
        assert printed[title] == pages, way.__name__
    told = {row["name"]: row["value"] for row in pages["settings"]}
    assert told["Exposure"].startswith("f/")
    assert told["Background light"]
    assert ("Rim, power" in told) == (len(sitters) == 1)
