"""The records' page: kept with leave, found, sat again, moved, guarded, erased; terms that end."""

import asyncio
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from sitwell.base.errors import ConsentError
from sitwell.brief.wishes import Wish
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.store.sittings import Made, Yes
from sitwell.ui.keeping import Door
from sitwell.ui.web.again import fill_in
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.house import House
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.terms import end_terms
from tests.ui.web.acting import fields, fire, say_yes, text_beside

LABEL = "Zwiebelturm 7731"
PLANNED = PlannedSetup(
    name="balanced", setup=Setup(turn_deg=12.0), measures={}, gains=(), guards=(), leeway=(),
    reasons=(),
)  # fmt: skip
PLAN = Plan(baseline=Setup(), baseline_measures={}, setups=(PLANNED,), conflicts=())
HEAD = head_as_dict(build_head({"nose_length": 0.4}), np.eye(3))


@pytest.fixture
def door(papers):
    """The same records that the pages under test use."""
    papers.mkdir()
    return Door(home=papers / "records", papers=papers)


@pytest.fixture
def known(door):
    """A sitter in the records, for whom a set-up worked that was moved by hand."""
    door.record_yes(LABEL, Yes(wishes=True))
    made = Made(wishes=(Wish(feature="ears", weight=3),), head=HEAD, plan=PLAN,
                used=("balanced", Setup(turn_deg=14.0)), worked=True)  # fmt: skip
    door.keep(LABEL, made)
    return door


async def open_records(user):
    await user.open("/")
    user.find("Begin a sitting").click()
    await user.should_see("Leave, before anything is measured")
    address = user.back_history[-1].removesuffix("/talk")
    await user.open(f"{address}/records")
    return address


def test_who_is_known_sits_again_with_their_head_wishes_and_what_worked(known, visit, papers):
    async def again(user):
        await open_records(user)
        await user.should_see("worked: balanced", retries=60)
        user.find("Sit again").click()
        await user.should_see("Three set-ups of different strength.", retries=60)

    visit(again)
    (paper,) = [p for p in papers.glob("*/sitting.json") if LABEL in p.read_text()]
    text = paper.read_text()
    assert '"ears": [' in text
    assert '"turn_deg": 14.0' in text
    assert (paper.parent / "plan-0.json").exists()


def test_a_sitter_is_forgotten_with_their_papers(known, visit, papers):
    async def forget(user):
        await open_records(user)
        await user.should_see("Sit again", retries=60)
        user.find("Sit again").click()
        await user.should_see("Three set-ups of different strength.", retries=60)
        await open_records(user)
        await user.should_see("Forget", retries=60)
        user.find("Forget").click()
        user.find(f"Erase everything of {LABEL}").click()
        await user.should_see("Not ours to erase: the photographs", retries=60)
        await user.should_see(f"the papers on the table of '{LABEL}'")

    visit(forget)
    traces = [p for p in papers.rglob("*") if p.is_file() and b"Zwiebelturm" in p.read_bytes()]
    assert traces == []
    assert list(papers.glob("*/plan-0.json")) == []


def test_a_sitting_is_kept_under_its_leave_and_found(visit, door):
    async def keep(user):
        address = await open_records(user)
        await user.open(f"{address}/talk")
        say_yes(user)
        await user.open(f"{address}/records")
        user.find("Keep this sitting").click()
        await user.should_see("Kept under", retries=60)
        (field,) = fields(user, "search")
        fire(field, "change", "nothing like it")
        await user.should_see("Nothing was found.", retries=60)

    visit(keep)
    (line,) = door.sitters()
    assert line.sittings == 1


def test_a_backup_is_made_and_the_records_are_sealed(known, visit):
    async def guard(user):
        await open_records(user)
        user.find("Back up now").click()
        await user.should_see("records-", retries=60)
        await user.should_see("nobody can read these records again")
        new, again = fields(user, "password")
        fire(new, "change", "river lamp seven onions")
        user.find("Seal the records").click()
        await user.should_see("The two passphrases differ; type both again.", retries=60)
        fire(again, "change", "river lamp seven onions")
        user.find("Seal the records").click()
        await user.should_see("Sealed; write the passphrase down.", retries=60)

    visit(guard)
    assert known.passphrase == ""
    known.passphrase = "river lamp seven onions"
    assert known.sitters()[0].label == LABEL


def test_sealed_records_ask_for_their_passphrase(known, visit):
    known.seal("river lamp seven onions")

    async def unlock(user):
        await open_records(user)
        await user.should_see("These records are sealed; give the passphrase.", retries=60)
        asked = next(e for e in fields(user, "password") if "of the records" in text_beside(e))
        fire(asked, "change", "river lamp seven onions")
        await user.should_see(LABEL, retries=60)

    visit(unlock)


def test_an_exported_sitting_is_taken_in_and_a_foreign_file_is_refused(
    known, landing, tmp_path, door
):
    (sent,) = known.export(LABEL, tmp_path / "sent.zip")
    content = sent.read_bytes()
    known.forget(LABEL)

    async def take(client, _):
        refused = await client.post("/upload/records?name=a.zip", content=b"PK no zip at all")
        assert refused.status_code == 422
        assert refused.json()["trouble"].endswith("is damaged or no zip file; export it again.")
        gone = await client.post("/upload/records?name=a.zip", content=content)
        assert "was forgotten on this machine" in gone.json()["trouble"]

    landing(take)
    elsewhere = Door(home=tmp_path / "elsewhere", papers=tmp_path / "papers-elsewhere")
    assert elsewhere.take_in_bytes(content) == LABEL


def test_no_frame_lands_before_the_sitter_has_said_yes(visit):
    async def land(user):
        address = await open_records(user)
        sitting = address.rsplit("/", 1)[1]
        answer = await user.http_client.post(f"/upload/{sitting}/0?name=a.jpg", content=b"\xff\xd8")
        assert answer.json()["trouble"] == "The sitter has not said yes yet; ask them first."

    visit(land)


def tomorrow():
    return datetime.now().astimezone() + timedelta(days=1)


def test_nobody_sits_again_whose_yes_has_ended(door, tmp_path):
    door.record_yes(LABEL, Yes(until=date.today()))
    with door.open() as records:
        back = records.returning(records.sitter(LABEL), at=tomorrow())
    with pytest.raises(ConsentError, match="No yes of 'Zwiebelturm 7731' stands any more; ask"):
        fill_in(Shelf(tmp_path / "shelf").new(), back)


def test_terms_end_while_the_pages_stay_open(door, tmp_path):
    """A day passes in a running server: papers go from disk and memory, the records are swept."""
    door.record_yes(LABEL, Yes(until=date.today()))
    house = House(shelf=Shelf(tmp_path / "shelf"), workshop=Workshop(inline=True), door=door)
    today, longer = house.shelf.new(), house.shelf.new()
    longer.keep_days = 7
    house._plans[house.key(today, "plan")] = PLAN
    asyncio.run(end_terms(house))
    assert house.shelf.place(today.id).exists()
    assert [line.label for line in door.sitters()] == [LABEL]
    asyncio.run(end_terms(house, tomorrow()))
    assert not house.shelf.place(today.id).exists()
    assert house.shelf.place(longer.id).exists()
    assert house._plans == {}
    assert door.sitters() == ()


def test_records_that_are_sealed_hold_no_papers_up(door, tmp_path, caplog):
    door.record_yes(LABEL, Yes(until=date.today()))
    door.seal("river lamp seven onions")
    shut = Door(home=door.home, papers=door.papers)
    house = House(shelf=Shelf(tmp_path / "shelf"), workshop=Workshop(inline=True), door=shut)
    today = house.shelf.new()
    asyncio.run(end_terms(house, tomorrow()))
    assert not house.shelf.place(today.id).exists()
    assert "the records could not be swept" in caplog.text
