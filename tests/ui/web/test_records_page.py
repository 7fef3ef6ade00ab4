"""The records' page: kept with leave, found, sat again, moved, guarded, erased; terms that end."""

import asyncio
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from sitwell.base.errors import ConsentError
from sitwell.brief.wishes import Wish
from sitwell.head.level import head_as_dict
from sitwell.head.surface import build_head
from sitwell.scene.setup import Setup
from sitwell.search.plan import Plan, PlannedSetup
from sitwell.store.days import day_words
from sitwell.store.sittings import Made, Yes
from sitwell.ui.records_door import Door
from sitwell.ui.web.documents import Shelf
from sitwell.ui.web.jobs import Workshop
from sitwell.ui.web.returning_sitter import fill_in
from sitwell.ui.web.server_state import ServerState
from sitwell.ui.web.terms import end_terms, forget_lost
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
    await user.should_see("Before anything is measured")
    address = user.back_history[-1].removesuffix("/talk")
    await user.open(f"{address}/records")
    return address


def test_who_is_known_sits_again_with_their_head_wishes_and_what_worked(known, visit, papers):
    async def again(user):
        await open_records(user)
        await user.should_see("worked: balanced")
        user.find("Sit again").click()
        await user.should_see("Three set-ups of different strength.")

    visit(again)
    (paper,) = [p for p in papers.glob("*/sitting.json") if LABEL in p.read_text()]
    text = paper.read_text()
    assert '"ears": [' in text
    assert '"turn_deg": 14.0' in text
    assert (paper.parent / "plan-0.json").exists()


def test_a_sitter_is_forgotten_with_their_papers(known, visit, papers):
    async def forget(user):
        await open_records(user)
        await user.should_see("Sit again")
        user.find("Sit again").click()
        await user.should_see("Three set-ups of different strength.")
        await open_records(user)
        await user.should_see("Forget")
        user.find("Forget").click()
        user.find(f"Erase everything of {LABEL}").click()
        await user.should_see("Not ours to erase: the photographs")
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
        await user.should_see("Kept under")
        (field,) = fields(user, "search")
        fire(field, "change", "nothing like it")
        await user.should_see("Nothing was found.")

    visit(keep)
    (line,) = door.sitters()
    assert line.sittings == 1


def test_a_backup_is_made_and_the_records_are_sealed(known, visit):
    async def guard(user):
        await open_records(user)
        user.find("Back up now").click()
        await user.should_see("records-")
        await user.should_see("nobody can read these records again")
        new, again = fields(user, "password")
        fire(new, "change", "river lamp seven onions")
        user.find("Seal the records").click()
        await user.should_see("The two passphrases differ; type both again.")
        fire(again, "change", "river lamp seven onions")
        user.find("Seal the records").click()
        await user.should_see("Sealed; write the passphrase down.")

    visit(guard)
    assert known.passphrase == ""
    known.passphrase = "river lamp seven onions"
    assert known.sitters()[0].label == LABEL


def test_sealed_records_ask_for_their_passphrase(known, visit):
    known.seal("river lamp seven onions")

    async def unlock(user):
        await open_records(user)
        await user.should_see("These records are sealed; give the passphrase.")
        asked = next(e for e in fields(user, "password") if "of the records" in text_beside(e))
        fire(asked, "change", "river lamp seven onions")
        await user.should_see(LABEL)

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
        trouble = refused.json()["trouble"]
        assert trouble == "a.zip is damaged or no zip file; export it again."
        gone = await client.post("/upload/records?name=a.zip", content=content)
        assert "was forgotten on this machine" in gone.json()["trouble"]

    landing(take)
    elsewhere = Door(home=tmp_path / "elsewhere", papers=tmp_path / "papers-elsewhere")
    assert elsewhere.take_in_bytes(content, "sent.zip") == LABEL


def test_of_several_each_says_their_own_yes_and_has_their_own_label(visit, paper, papers):
    async def two(user):
        await user.open("/")
        user.find("Begin a sitting").click()
        await user.should_see("Before anything is measured")
        address = user.back_history[-1].removesuffix("/talk")
        user.find("One more sitter").click()
        await user.should_see("Sitter 2")
        boxes = [b for b in fields(user, "checkbox") if "said yes" in text_beside(b)]
        assert len(boxes) == 2
        fire(boxes[1], "change", True)
        sitting = address.rsplit("/", 1)[1]
        for at, told in ((0, "The sitter has not said yes yet; ask them first."), (1, "empty")):
            sent = f"/upload/{sitting}/{at}?name=a.jpg"
            answer = await user.http_client.post(sent, content=b"")
            assert told in answer.json()["trouble"]
        for page in ("shoot", "sort"):
            await user.open(f"{address}/{page}")
            await user.should_see("before each of the sitters has said yes; ask them first.")
        await user.open(f"{address}/talk")
        fire(next(b for b in fields(user, "checkbox") if "said yes" in text_beside(b)), "change", 1)
        await user.open(f"{address}/records")
        user.find("Keep this sitting").click()
        await user.should_see("This sitter has no label of their own")

    visit(two)
    assert [bool(sitter["consent_at"]) for sitter in paper()["sitters"]] == [True, True]
    assert Door(home=papers / "records", papers=papers).sitters() == ()


def test_the_talk_says_until_when_in_words_and_the_pages_warn_on_the_last_day(visit, paper):
    today = datetime.now().astimezone().date()

    async def term(user):
        await user.open("/")
        user.find("Begin a sitting").click()
        usual = day_words(today + timedelta(days=1))
        await user.should_see(f"plan and sheets are kept until {usual}, then erased.")
        (day,) = fields(user, "date")
        fire(day, "change", str(today + timedelta(days=9)))
        later = day_words(today + timedelta(days=10))
        await user.should_see(f"plan and sheets are kept until {later}, then erased.")
        fire(day, "change", "no day")
        await user.should_see(f"plan and sheets are kept until {usual}, then erased.")
        await user.open("/")
        await user.should_see(f"are erased after {usual}; to keep them longer")
        address = user.back_history[-2].removesuffix("/talk")
        await user.open(f"{address}/talk")
        fire(
            next(r for r in fields(user, "radio") if "that day only" in text_beside(r)),
            "change",
            "0",
        )
        await user.open(f"{address}/kit")
        await user.should_see("The papers of this sitting are erased after today")

    visit(term)
    assert (paper()["keep_days"], paper()["day"]) == (0, str(today))


def test_damaged_papers_are_named_on_the_first_page_and_can_be_erased(visit, papers):
    place = papers / ("a" * 12)
    place.mkdir(parents=True)
    (place / "sitting.json").write_text('{"label": "Zwiebelturm 7731", "created": ""')

    async def erase(user):
        await user.open("/")
        await user.should_see(f"The papers in '{place}' can't be read and are set aside")
        user.find("Erase these papers").click()
        user.find("Yes, erase them unread").click()
        await user.should_not_see("are set aside")

    visit(erase)
    assert not place.exists()


def test_forgetting_goes_on_past_damaged_papers_and_takes_those_of_that_name(door, papers):
    for number, text in enumerate(('{"label": "Zwiebelturm 7731"', "{")):
        place = papers / (str(number) * 12)
        place.mkdir()
        (place / "sitting.json").write_text(text)
    door.record_yes(LABEL, Yes())
    report = "\n".join(door.forget(LABEL))
    assert f"damaged papers of that name in {papers / ('0' * 12)}" in report
    assert f"{papers / ('1' * 12)}: papers too damaged to tell whose they are" in report
    assert not (papers / ("0" * 12)).exists()
    assert door.sitters() == ()


def test_papers_that_would_not_go_are_not_told_as_gone(door, papers, monkeypatch):
    shelf = Shelf(papers)
    sitting = shelf.new()
    sitting.label = LABEL
    shelf.write(sitting)
    real = Path.unlink

    def unlink(path, missing_ok=False):
        if path.name == "sitting.json":
            raise PermissionError(13, "in use")
        real(path, missing_ok=missing_ok)

    with monkeypatch.context() as busy:
        busy.setattr(Path, "unlink", unlink)
        report = "\n".join(door.forget(LABEL))
        assert "Still there: " in report
        assert "the papers on the table" not in report
        assert "could not be erased yet" in door.still_to_erase()[0]
    assert list(Shelf(papers).all()) == []
    assert door.still_to_erase() == ()
    assert not shelf.place(sitting.id).exists()


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
    server = ServerState(shelf=Shelf(tmp_path / "shelf"), workshop=Workshop(inline=True), door=door)
    today, longer = server.shelf.new(), server.shelf.new()
    today.keep_days, longer.keep_days = 0, 7
    server._plans[server.key(today, "plan")] = PLAN
    asyncio.run(end_terms(server))
    assert server.shelf.place(today.id).exists()
    assert [line.label for line in door.sitters()] == [LABEL]
    asyncio.run(end_terms(server, tomorrow()))
    assert not server.shelf.place(today.id).exists()
    assert server.shelf.place(longer.id).exists()
    assert server._plans == {}
    assert door.sitters() == ()


def test_what_would_not_go_is_tried_again_before_it_is_named(door):
    """As `sitwell sitters` asks for it, with no pages open."""
    late = door.papers / ("a" * 12) / "frames"
    late.mkdir(parents=True)
    (door.papers / "still-to-erase.json").write_text(f'["{late.parent.name}"]')
    assert door.still_to_erase() == ()
    assert not late.parent.exists()


def test_what_the_command_line_forgets_goes_from_the_open_pages_memory(door, tmp_path):
    server = ServerState(shelf=Shelf(tmp_path / "shelf"), workshop=Workshop(inline=True), door=door)
    gone, stays = server.shelf.new(), server.shelf.new()
    for sitting in (gone, stays):
        server._plans[server.key(sitting, "plan")] = PLAN
    Shelf(tmp_path / "shelf").erase(gone.id)
    forget_lost(server)
    assert list(server._plans) == [server.key(stays, "plan")]


def test_records_that_are_sealed_hold_no_papers_up(door, tmp_path, caplog):
    door.record_yes(LABEL, Yes(until=date.today()))
    door.seal("river lamp seven onions")
    shut = Door(home=door.home, papers=door.papers)
    server = ServerState(shelf=Shelf(tmp_path / "shelf"), workshop=Workshop(inline=True), door=shut)
    today = server.shelf.new()
    today.keep_days = 0
    asyncio.run(end_terms(server, tomorrow()))
    assert not server.shelf.place(today.id).exists()
    assert "the records could not be swept" in caplog.text
