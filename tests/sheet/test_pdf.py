"""The sheet as a file: one page whatever the plan, readable text, safe for any label, whole."""

import dataclasses
import re
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from sitwell.base.errors import SheetError
from sitwell.scene.setup import Setup
from sitwell.sheet import pdf
from sitwell.sheet.pdf import write_sheet
from sitwell.sheet.words import sitter_words

from .samples import CONFLICTS, GAINS, GUARDS, LEEWAY, REASONS, TYPICAL, picture, plan, planned

SEEN = picture(120, 150, 0.4)
MM_PER_POINT = 25.4 / 72
HARD = Setup(
    turn_deg=-50.0,
    chin_deg=18.0,
    tilt_deg=12.0,
    chin_forward_mm=35.0,
    camera_height_mm=450.0,
    distance_mm=900.0,
    key_azimuth_deg=90.0,
    key_elevation_deg=60.0,
    key_distance_mm=3500.0,
    background_distance_mm=6000.0,
    crop="into-forehead",
    framing="three-quarter-length",
)
LONG = (
    "A sentence as long as a planner may write about a move and a wish, with numbers such as 0.42 "
    "and 0.39 in it, and a half sentence more for good measure, until the reader turns away. "
)


def crowded():
    leeway = tuple(
        dataclasses.replace(row, low_why=f"{n} {LONG}", high_why=f"{n} more {LONG}")
        for n, row in enumerate(LEEWAY + LEEWAY[:4])
    )
    return planned(
        HARD,
        name="W" * 300,
        gains=GAINS * 5,
        guards=GUARDS * 7,
        leeway=leeway,
        reasons=tuple(dataclasses.replace(r, sentence=LONG) for r in REASONS * 5),
        notes=(LONG,) * 6,
    )


def write(path, one=None, **options):
    one = one or planned()
    return write_sheet(one, plan(one), SEEN, path, **options)


def pages_of(path):
    document = pypdfium2.PdfDocument(path)
    try:
        texts = [
            re.sub(r"\s+", " ", page.get_textpage().get_text_bounded()).strip() for page in document
        ]
        size = document[0].get_size()
        return texts, size, document.get_metadata_dict()
    finally:
        document.close()


def text_of(path):
    (text,), _, _ = pages_of(path)
    return text.replace("\ufffe", "").replace("\u00ad", "")


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"),
    # ISO 216 A4; ANSI/ASME Y14.1 size A (Letter), 8.5 x 11 in.
    [("a4", 210.0, 297.0), ("us-letter", 215.9, 279.4)],
)
@pytest.mark.parametrize("discreet", [False, True])
def test_the_longest_content_stays_on_one_page_of_the_paper(
    tmp_path, paper, width_mm, height_mm, discreet
):
    one = crowded()
    whole = plan(one, conflicts=CONFLICTS * 8, notes=(LONG,) * 5)
    path = tmp_path / "sheet.pdf"
    write_sheet(one, whole, SEEN, path, paper=paper, discreet=discreet, sitter="W" * 300)
    texts, size, _ = pages_of(path)
    assert len(texts) == 1
    np.testing.assert_allclose(np.array(size) * MM_PER_POINT, [width_mm, height_mm], atol=0.1)
    for word in sitter_words(HARD):
        assert word.sentence in texts[0]
    assert "Makers’ manuals" in texts[0]
    assert "trust the frame" in texts[0]


def test_nothing_of_a_crowded_page_lies_outside_the_paper(tmp_path):
    path = tmp_path / "sheet.pdf"
    one = crowded()
    write_sheet(one, plan(one, conflicts=CONFLICTS * 8), SEEN, path, paper="us-letter")
    document = pypdfium2.PdfDocument(path)
    page = document[0]
    width, height = page.get_size()
    textpage = page.get_textpage()
    for index in range(textpage.count_rects()):
        left, bottom, right, top = textpage.get_rect(index)
        assert left >= 0
        assert right <= width
        assert bottom >= 0
        assert top <= height
    document.close()


def test_a_full_sheet_says_all_of_it(tmp_path):
    text = text_of(write(tmp_path / "sheet.pdf", sitter="Invented sitter 7"))
    for words in (
        "Balanced set-up", "Invented sitter 7", "Point your nose at the mark on your left.",
        "85 mm at f/2.8", "3:1, fill 1 stop below the key", "camera left, 40° round",
        "head and shoulders, 4:5", "What the wishes gain", "47 % becomes 43 %", "not held",
        "under 18° own left: the far ear would show as a sliver",
        "neck pain and dizziness", "photosensitive epilepsy",
        "as the camera will see it", "biometric", "Turn to own left, 22°, chin up",
    ):  # fmt: skip
        assert words in text, words


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_a_discreet_sheet_shows_moves_only(tmp_path, paper):
    path = write(tmp_path / "sheet.pdf", discreet=True, paper=paper)
    (text,), _, metadata = pages_of(path)
    assert "Point your nose at the mark on your left." in text
    assert "18° to 26° own left" in text
    assert metadata["Title"] == "Set-up 1"
    one = planned()
    told = [guard.name for guard in one.guards] + [r.sentence for r in one.reasons]
    told += ["becomes", "Balanced", "straight on", "wishes get", "held", "sliver", "of the gain"]
    for words in told:
        assert words not in text, words


def test_the_file_has_a_title_and_tells_nothing_of_the_machine(tmp_path):
    path = write(tmp_path / "sheet.pdf")
    _, _, metadata = pages_of(path)
    assert metadata["Title"] == "Balanced set-up"
    assert metadata["Author"] == ""
    raw = path.read_bytes()
    for place in (b"/tmp", b"/home", str(Path.home()).encode(), str(tmp_path).encode(), b".svg"):
        assert place not in raw


@pytest.mark.parametrize(
    "label",
    ["#panic() $x$ *b* \\ [c] <d> @e `f` //g", "Zoë Ångström", "Άννα Юлия", '"quoted" {} _i_'],
)
def test_any_label_is_printed_as_it_was_typed(tmp_path, label):
    assert label in text_of(write(tmp_path / "sheet.pdf", sitter=label))


def test_a_label_in_another_script_leaves_one_page(tmp_path):
    # Which glyphs it gets depends on the machine's fonts, so only the page is counted.
    assert len(pages_of(write(tmp_path / "sheet.pdf", sitter="山田花子 عربي"))[0]) == 1


def test_planners_sentences_are_text_and_not_commands(tmp_path):
    one = planned(notes=('#read("/etc/hostname") $1/0$',))
    assert '#read("/etc/hostname") $1/0$' in text_of(write(tmp_path / "sheet.pdf", one))


def test_a_png_is_the_same_page(tmp_path):
    path = write(tmp_path / "sheet.png")
    with Image.open(path) as image:
        assert image.format == "PNG"
        # A4 at 200 pixels an inch.
        np.testing.assert_allclose(image.size, [210 / 25.4 * 200, 297 / 25.4 * 200], atol=1.0)


@pytest.mark.parametrize("shape", [(40, 400), (400, 40), (1, 1)])
def test_pictures_of_any_shape_leave_one_page(tmp_path, shape):
    odd = np.full((*shape, 3), 90, dtype=np.uint8)
    one = planned()
    path = write_sheet(one, plan(one), odd, tmp_path / "sheet.pdf")
    assert len(pages_of(path)[0]) == 1


def test_a_bare_plan_makes_a_sheet(tmp_path):
    bare = planned(Setup(), gains=(), guards=(), reasons=(), leeway=(), notes=())
    text = text_of(write(tmp_path / "sheet.pdf", bare))
    assert "Settle in, tall and easy." in text
    assert "How far it may drift" not in text


def test_the_same_plan_prints_the_same_drawing(tmp_path):
    first, second = (write(tmp_path / f"{n}.png").read_bytes() for n in "ab")
    assert first == second


def test_a_folder_that_cant_be_written_is_named(tmp_path):
    (tmp_path / "file").write_text("not a folder")
    target = tmp_path / "file" / "sheet.pdf"
    with pytest.raises(SheetError, match=r"can't be written to .*file .*choose a folder where you"):
        write(target)


def test_a_full_disk_leaves_the_old_sheet_and_says_so(tmp_path, monkeypatch):
    path = write(tmp_path / "sheet.pdf")
    before = path.read_bytes()

    def full(desk, part, content):
        part.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pdf, "_typeset", full)
    with pytest.raises(SheetError, match=r"No space left on device.*that has room"):
        write(path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.pdf"]


def test_a_page_that_would_not_fit_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(pdf.typst, "compile", lambda *_, **__: [b"1", b"2"])
    with pytest.raises(SheetError, match="'Balanced set-up' doesn't fit on one page; shorten it"):
        write(tmp_path / "sheet.png")


def test_papers_kinds_and_pictures_are_checked(tmp_path):
    with pytest.raises(SheetError, match="paper 'a3' is not known; choose one of a4, us-letter"):
        write(tmp_path / "sheet.pdf", paper="a3")
    with pytest.raises(SheetError, match=r"can't be a '.docx' file; give a name in .pdf or .png"):
        write(tmp_path / "sheet.docx")
    one = planned()
    for wrong in (SEEN[..., 0], SEEN.astype(float), np.zeros((0, 5, 3), np.uint8)):
        with pytest.raises(SheetError, match=re.escape(f"{wrong.shape} and type {wrong.dtype}")):
            write_sheet(one, plan(one), wrong, tmp_path / "sheet.pdf")


def test_typical_is_typical():
    assert planned().setup == TYPICAL
