"""A brief leaves the pages as a file and comes back as a new sitting, without its frames."""

import json
from dataclasses import replace

import pytest

from sitwell.base.errors import WebError
from sitwell.brief.request import brief_of, brief_text, brief_words
from sitwell.ui.web import brief as papers
from sitwell.ui.web.brief_file import _read, fill
from sitwell.ui.web.paper import Sitting, now

TYPED = """
kit = "three-flashes"
room = "open-shade"
aspect = "2:3"
rim = true
height_difference = "soften:3"
[[sitter]]
name = "Mara"
frames = ["a.jpg"]
wishes = ["ears:soften:3"]
limits = ["stiff-neck"]
height_mm = 1780
glasses = true
[[sitter]]
name = "Ben"
frames = ["b.jpg"]
"""


def opened(text, name="couple.toml"):
    sitting = Sitting(id="b" * 12, created=now())
    fill(sitting, _read(text.encode(), name))
    return sitting


def test_what_was_typed_stands_on_the_papers_and_leaves_them_again(tmp_path):
    sitting = opened(TYPED)
    assert [sitter.label for sitter in sitting.sitters] == ["Mara", "Ben"]
    assert not any(sitter.frames or sitter.consent_at for sitter in sitting.sitters)
    again = brief_words(papers.asked(sitting, tmp_path))
    typed = brief_words(_read(TYPED.encode(), "couple.toml"))
    for sitter in typed["sitter"]:
        sitter.pop("frames")
    assert again == typed


def test_a_kit_and_room_of_one_s_own_come_along(tmp_path):
    sitting = opened(TYPED)
    kit = replace(papers.kit_of(sitting), name="mine", fill_ratio=(1.0, 4.0))
    papers.keep_kit(sitting, kit)
    text = brief_text(papers.asked(sitting, tmp_path))
    assert papers.kit_of(opened(text, "brief.json")) == kit


@pytest.mark.parametrize("line", ["kit = 'mine.toml'", "room = '../room.toml'"])
def test_no_file_of_this_machine_is_opened_by_name(line):
    with pytest.raises(WebError, match=r"names the file '(mine|room)\.toml'"):
        _read(f"{line}\n[[sitter]]\n".encode(), "a.toml")


def test_it_is_saved_and_opened_over_the_wire(landing):
    async def there_and_back(client, sitting_id):
        saved = await client.get(f"/brief/{sitting_id}")
        assert saved.headers["content-disposition"].startswith("attachment")
        assert brief_of(saved.json())
        sent = await client.post("/upload/brief?name=brief.json", content=saved.content)
        assert sent.status_code == 200
        assert sent.json()["id"] != sitting_id
        again = await client.get(f"/brief/{sent.json()['id']}")
        assert json.loads(again.content) == json.loads(saved.content)
        refused = await client.post("/upload/brief?name=a.jpg", content=b"no")
        assert refused.status_code == 422
        assert refused.json()["trouble"].startswith("'a.jpg' is no brief")
        assert (await client.get("/brief/000000000000")).status_code == 404

    landing(there_and_back)
