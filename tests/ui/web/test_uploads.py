"""Frames land whole or not at all, and nothing outside a sitting's folder is ever served."""

from io import BytesIO

import pytest
from PIL import Image

from sitwell.store.pending import Pending
from sitwell.ui.web import uploads
from sitwell.ui.web.documents import FrameNote
from sitwell.ui.web.uploads import MOST_FRAMES, store_frame
from tests.brief.test_pictures import POSTSCRIPT


def jpeg(width=640, height=800):
    made = BytesIO()
    Image.new("RGB", (width, height), (90, 80, 70)).save(made, "JPEG")
    return made.getvalue()


def test_a_frame_lands_as_it_came_and_has_a_view(landing, paper, papers):
    data = jpeg(4000, 5000)

    async def land(client, sitting):
        answer = await client.post(f"/upload/{sitting}/0?name=IMG_1.JPG", content=data)
        view = await client.get(f"/frame/{sitting}/{answer.json()['id']}")
        assert view.headers["content-type"] == "image/jpeg"
        # what a browser may keep it keeps on the disk, where no erasure of ours reaches it
        assert view.headers["cache-control"] == "no-store"
        assert max(Image.open(BytesIO(view.content)).size) <= 2500

    landing(land)
    (frame,) = paper()["sitters"][0]["frames"]
    assert (frame["name"], frame["width_px"], frame["height_px"]) == ("IMG_1.JPG", 4000, 5000)
    (kept,) = papers.glob(f"*/frames/{frame['file']}")
    assert kept.read_bytes() == data


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("notes.txt", b"hello", "'notes.txt' is not a photograph; give a JPEG, PNG, TIFF, WebP"),
        ("../../x.sh", jpeg(), "'x.sh' is not a photograph"),
        ("empty.jpg", b"", "'empty.jpg' is empty (0 bytes); copy it again from the card."),
        ("broken.jpg", b"\xff\xd8nothing", "'broken.jpg'"),
        ("script.jpg", POSTSCRIPT, "'script.jpg' is not a photograph that can be read"),
        ("tiny.jpg", jpeg(20, 20), "'tiny.jpg' is 20 x 20 pixels, too small to show a face"),
    ],
)
def test_what_is_no_photograph_is_refused_by_name_and_leaves_nothing(
    landing, papers, name, data, sentence
):
    async def land(client, sitting):
        answer = await client.post(f"/upload/{sitting}/0", params={"name": name}, content=data)
        assert answer.status_code == 422
        assert sentence in answer.json()["trouble"]

    landing(land)
    assert [p for p in papers.glob("*/frames/*") if p.is_file()] == []


def test_an_upload_that_can_t_be_shown_leaves_nothing_whatever_the_reason(tmp_path, monkeypatch):
    def failing(*_args, **_options):
        raise RuntimeError

    monkeypatch.setattr(uploads, "open_photo", failing)
    with pytest.raises(RuntimeError):
        store_frame(tmp_path, FrameNote(id="0" * 8, file="00000000.jpg", name="a.jpg"), jpeg())
    assert list(tmp_path.iterdir()) == []


def test_a_frame_that_was_on_its_way_when_its_sitting_was_erased_leaves_nothing(landing, papers):
    async def land(client, sitting):
        async def slowly():
            yield jpeg()[:100]
            Pending(papers).erase([sitting])  # as another window, or the command line, does it
            yield jpeg()[100:]

        answer = await client.post(f"/upload/{sitting}/0?name=IMG_1.JPG", content=slowly())
        assert answer.json()["trouble"].endswith("is not here any more; begin a new one.")

    landing(land)
    assert list(papers.glob("*/frames/*")) == []


def test_a_refusal_is_in_the_readers_language_and_names_their_file(landing):
    async def land(client, sitting):
        german = {"accept-language": "de-AT,de;q=0.9"}
        answer = await client.post(f"/upload/{sitting}/0?name=IMG_7.JPG", headers=german)
        assert answer.json()["trouble"] == (
            "„IMG_7.JPG“ ist leer (0 Byte); kopieren Sie es noch einmal von der Karte."
        )

    landing(land)


def test_a_table_holds_so_many_frames(landing):
    async def land(client, sitting):
        for number in range(MOST_FRAMES + 1):
            # from another address each time, for the guard counts uploads by address
            answer = await client.post(
                f"/upload/{sitting}/0?name={number}.jpg", content=jpeg(64, 64)
            )
        assert answer.json()["trouble"] == (
            f"There are {MOST_FRAMES} frames on the table; take some away first."
        )

    landing(land)


@pytest.mark.parametrize(
    "path",
    [
        "/frame/{sitting}/..%2F..%2Fsecret",
        "/frame/{sitting}/0123abcd",
        "/frame/..%2F/0123abcd",
        "/drawn/{sitting}/..%2Fsitting.json",
        "/drawn/{sitting}/sitting.json",
        "/drawn/{sitting}/%2Fetc%2Fpasswd",
        "/drawn/{sitting}/outside.pdf",
        "/seen/{sitting}/0/balanced",
        "/seen/{sitting}/9/balanced",
        "/assets/..%2Fapp.py",
        "/assets/../app.py",
    ],
)
def test_nothing_else_is_served(landing, papers, tmp_path, path):
    async def look(client, sitting):
        secret = tmp_path / "secret.pdf"
        secret.write_text("secret")
        drawn = papers / sitting / "drawn"
        drawn.mkdir()
        (drawn / "outside.pdf").symlink_to(secret)
        answer = await client.get(path.format(sitting=sitting))
        assert answer.status_code in (400, 404)
        assert "secret" not in answer.text
        assert "consent_at" not in answer.text

    landing(look)


def test_a_sheet_that_was_drawn_is_served(landing, papers):
    async def look(client, sitting):
        drawn = papers / sitting / "drawn"
        drawn.mkdir()
        (drawn / "set-sheet-gentle.pdf").write_bytes(b"%PDF-")
        answer = await client.get(f"/drawn/{sitting}/set-sheet-gentle.pdf")
        assert (answer.status_code, answer.content) == (200, b"%PDF-")

    landing(look)
