"""What a photographer sees and does on each page, without a browser."""

import httpx
import pytest
from nicegui import core, ui

from sitwell.brief.wishes import FEATURES, WAYS
from sitwell.ui.web.face_reading import OWN_LEFT
from sitwell.ui.web.talk_page import DIRECTIONS
from tests.ui.web.acting import Patient, fields, fire, say_yes, text_beside


async def begin(user):
    """A new sitting, on its talk page; gives its address."""
    await user.open("/")
    user.find("Begin a sitting").click()
    await user.should_see("Before anything is measured")
    return user.back_history[-1].removesuffix("/talk")


async def consent(user):
    say_yes(user)


def test_a_visit_that_fails_leaves_the_next_one_whole(visit):
    async def fail(user):
        await begin(user)
        raise AssertionError("of one test")

    for _ in range(2):
        with pytest.raises(AssertionError, match="of one test"):
            visit(fail)
    visit(begin)


def test_a_wish_is_kept_as_the_sitter_said_it(visit, paper):
    async def talk(user):
        await begin(user)
        await user.should_not_see("matters most")
        user.find("Ears").click()
        await user.should_see("matters most")
        radios = {r.props["^value"]: r for r in fields(user, "radio")}
        fire(radios["bring-out"], "change", "bring-out")
        fire(radios["3"], "change", "3")

    visit(talk)
    assert paper()["sitters"][0]["wishes"] == {"ears": ["bring-out", 3]}


def test_a_touched_wish_is_what_sitters_usually_mean_in_its_own_words(visit, paper):
    async def talk(user):
        await begin(user)
        user.find("Eyes, their size").click()
        await user.should_see("larger")
        await user.should_see("smaller")
        await user.should_not_see("quieter")
        await user.should_not_see("Ask which way it is meant")
        user.find("Both eyes alike").click()

    visit(talk)
    assert paper()["sitters"][0]["wishes"] == {
        "eye-size": ["bring-out", 2],
        "eye-balance": ["soften", 2],
    }


def test_what_may_be_meant_either_way_waits_for_a_choice(visit, paper):
    async def talk(user):
        await begin(user)
        user.find("Smile").click()
        await user.should_see("Ask which way it is meant; until then the plan leaves it out.")
        assert not any(r.props["checked"] for r in fields(user, "radio")[-7:-3])
        radios = {r.props["^value"]: r for r in fields(user, "radio")}
        fire(radios["fuller-own-left"], "change", "fuller-own-left")

    visit(talk)
    assert paper()["sitters"][0]["wishes"] == {"smile": ["fuller-own-left", 2]}


@pytest.mark.parametrize("feature", FEATURES)
def test_the_page_names_every_way_of_a_feature(feature):
    for direction in WAYS[feature].values():
        assert direction in DIRECTIONS[feature]


def test_nothing_is_a_wish_before_it_is_asked(visit, paper):
    visit(begin)
    assert paper()["sitters"][0]["wishes"] == {}


def test_a_wish_can_be_taken_back(visit, paper):
    async def talk(user):
        await begin(user)
        user.find("Skin").click()
        await user.should_see("matters most")
        word = next(e for e in user.find("Skin").elements if e.tag == "button")
        fire(word, "click", [])
        await user.should_not_see("matters most")

    visit(talk)
    assert paper()["sitters"][0]["wishes"] == {}


def test_nothing_is_measured_before_the_sitter_said_yes(visit):
    async def read(user):
        address = await begin(user)
        await user.open(f"{address}/read")
        await user.should_see("Nothing is measured before the sitter has said yes")
        await user.should_not_see("What to shoot next")

    visit(read)


def test_after_leave_the_read_page_says_what_to_shoot(visit, paper):
    async def read(user):
        address = await begin(user)
        await consent(user)
        await user.open(f"{address}/read")
        await user.should_see("Level and straight on, looking into the lens, mouth closed.")
        await user.should_see(OWN_LEFT)

    visit(read)
    assert paper()["sitters"][0]["consent_at"]


def test_plan_and_set_say_what_is_missing_and_where_to_go(visit):
    async def ahead(user):
        address = await begin(user)
        await user.open(f"{address}/plan")
        await user.should_see("There is no head to plan for yet; bring test frames first.")
        await user.open(f"{address}/set")
        await user.should_see("There is no set-up to set yet; search and open one first.")

    visit(ahead)


def test_a_sitting_that_is_gone_says_so(visit):
    async def gone(user):
        await user.open("/s/000000000000/talk")
        await user.should_see("The sitting 000000000000 is not here any more; begin a new one.")

    visit(gone)


def test_a_lens_is_added_to_the_bag_and_to_the_paper(visit, paper):
    async def kit(user):
        address = await begin(user)
        await user.open(f"{address}/kit")
        focal, widest = (
            e for e in user.find(kind=ui.element).elements if e.props.get("placeholder")
        )
        by_hint = {e.props["placeholder"]: e for e in (focal, widest)}
        fire(by_hint["85"], "change", "105")
        fire(by_hint["1.8"], "change", "2,4")
        user.find("Add the lens").click()
        await user.should_see("105 mm, f/2.4")

    visit(kit)
    names = [lens["name"] for lens in paper()["own_kit"]["lenses"]]
    assert names == ["35 mm prime", "50 mm prime", "85 mm prime", "105 mm"]


def test_a_lens_that_makes_no_sense_is_refused_where_it_was_typed(visit):
    async def kit(user):
        address = await begin(user)
        await user.open(f"{address}/kit")
        user.find("Add the lens").click()
        await user.should_see("Type a focal length such as 85 or 24-70, and an aperture.")

    visit(kit)


def test_the_discreet_switch_puts_everything_away(visit):
    async def discreet(user):
        address = await begin(user)
        user.http_client.cookies.set("sitwell_discreet", "1")
        for page in ("talk", "read", "plan", "kit", "records", "sort"):
            await user.open(f"{address}/{page}")
            await user.should_see("This page is put away while the sitter may be looking.")
            await user.should_not_see("Wishes")
        await user.open(f"{address}/set")
        await user.should_see("One moment, please.")
        await user.should_not_see("plan")

    visit(discreet)


def test_a_german_browser_is_spoken_to_in_german(visit):
    async def german(user):
        user.http_client.cookies.set("sitwell_language", "de")
        await user.open("/")
        await user.should_see("Sitzung beginnen")
        await user.should_not_see("Begin a sitting")

    visit(german)


def test_lengths_follow_the_reader(visit):
    async def feet(user):
        address = await begin(user)
        user.http_client.cookies.set("sitwell_units", "imperial")
        await user.open(f"{address}/kit")
        await user.should_see("Ceiling, feet")
        values = [e.props["^value"] for e in fields(user, "text") if "^value" in e.props]
        assert "10.5" in values  # 3.2 m
        await user.should_see("softbox, 2 ft 11 in across")

    visit(feet)


def test_another_tab_sees_a_change_when_the_first_rests(visit):
    async def two(user):
        address = await begin(user)
        transport = httpx.ASGITransport(core.app)
        async with httpx.AsyncClient(transport=transport, base_url="http://test") as browser:
            other = Patient(browser)
            await other.open(f"{address}/talk")
            await other.should_not_see("matters most")
            with user:
                user.find("Smile").click()
            await other.should_see("matters most")

    visit(two)


def test_leave_taken_back_takes_what_was_measured(visit, paper, papers):
    async def talk(user):
        address = await begin(user)
        await consent(user)
        (folder,) = (p for p in papers.iterdir() if (p / "sitting.json").exists())
        (folder / "plan-0.json").write_text("{}")
        (folder / "drawn").mkdir()
        await user.open(f"{address}/talk")
        said_yes = next(
            b
            for b in user.find(kind=ui.element).elements
            if b.props.get("type") == "checkbox" and "said yes" in text_beside(b)
        )
        fire(said_yes, "change", False)
        assert not (folder / "plan-0.json").exists()
        assert not (folder / "drawn").exists()

    visit(talk)
    assert paper()["sitters"][0]["consent_at"] == ""


def test_with_two_sitters_each_page_asks_whose_turn_it_is(visit, paper):
    async def two(user):
        address = await begin(user)
        user.find("One more sitter").click()
        await user.should_see("Sitter 2")
        await user.open(f"{address}/plan")
        await user.should_see("Who")

    visit(two)
    assert len(paper()["sitters"]) == 2


def test_an_address_that_is_none_is_said_in_the_reader_s_language_with_a_way_on(visit):
    async def nowhere(user):
        for language, said in (("en", "Nothing is here"), ("de", "Hier ist nichts")):
            header = {"accept-language": language}
            answer = await user.http_client.get("/s/nowhere", headers=header)
            assert answer.status_code == 404
            assert said in answer.text
            assert "pages.css" in answer.text

    visit(nowhere)


def test_an_example_of_nobody_is_ready_to_be_read(visit, paper, papers):
    async def example(user):
        await user.open("/")
        await user.should_see("Talk: ask for a yes")
        user.find("Look around with an example").click()
        await user.should_see("One to three frames")

    visit(example)
    sitter = paper()["sitters"][0]
    assert [frame["name"] for frame in sitter["frames"]] == [
        "level.jpg", "own_left.jpg", "own_right.jpg",
    ]  # fmt: skip
    assert len(list(papers.glob("*/frames/*.jpg"))) == 2 * 3  # each as it came, and its view
