"""Every route of the files under requests made up from its own schema: refused, never a failure."""

from types import SimpleNamespace

import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings

from sitwell.ui.records_door import Door
from sitwell.ui.web import brief as papers
from sitwell.ui.web.brief_file import add_briefs
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.uploads import add_files, add_records

schemathesis = pytest.importorskip("schemathesis")
FAST = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def schema(tmp_path_factory):
    """The routes over a shelf with one sitting."""
    folder = tmp_path_factory.mktemp("schema")
    shelf = Shelf(folder / "papers")
    sitting = shelf.new()
    sitting.sitter.consent_at = "2026-03-14T10:15:00+00:00"
    app = FastAPI()
    server = SimpleNamespace(
        shelf=shelf,
        door=Door(home=folder / "home", papers=folder / "papers"),
        asked=lambda sitting: papers.asked(sitting, shelf.frames(sitting)),
    )
    add_files(app, server)
    add_records(app, server)
    add_briefs(app, server)
    return SimpleNamespace(
        asked=schemathesis.openapi.from_asgi("/openapi.json", app), sitting=sitting.id
    )


@pytest.mark.parametrize("within", [False, True])
def test_no_request_makes_a_route_fail(schema, within):
    """With ``within`` the made-up requests name the sitting that is there."""
    answered = set()
    for found in schema.asked.get_all_operations():
        operation = found.ok()

        @FAST
        @given(case=operation.as_strategy())
        def refuse(case):
            if within and "sitting_id" in (case.path_parameters or {}):
                case.path_parameters["sitting_id"] = schema.sitting
            answer = case.call()
            answered.add((case.method, answer.status_code))
            assert answer.status_code < 500

        refuse()
    # nothing made up is a frame or a sheet; the brief of the sitting that is there is one
    told = {("GET", 200)} if within else set()
    assert answered == {("GET", 404), ("POST", 422), *told}
