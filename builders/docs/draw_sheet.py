"""Draw the set sheets shown in the documentation: an invented sitter, planned and printed.

The sitter is the mean head with a few of its own sliders, nobody's. Run from the checkout:
``python -m builders.docs.draw_sheet``.
"""

from pathlib import Path

from PIL import Image

from sitwell.base.words import spoken, tr
from sitwell.brief.wishes import Wish
from sitwell.demo import LABEL
from sitwell.head.surface import build_head
from sitwell.likeness.portrayal import Portrayal
from sitwell.scene.measures import Evaluator
from sitwell.search.planner import make_plan
from sitwell.sheet.pdf import write_sheet

PICTURES = Path(__file__).resolve().parents[2] / "docs" / "pictures"
HEIGHT_PX = 1200
SHEETS = (
    ("sheet", "a4", False, "en"),
    ("sheet-discreet", "us-letter", True, "en"),
    ("sheet-german", "a4", False, "de"),
)
WISHES = (Wish(feature="ears", weight=3), Wish(feature="nose-length"), Wish(feature="forehead"))


def main() -> None:
    """Plan for the invented sitter and write the full sheet, the discreet and the German one."""
    head = build_head()
    plan = make_plan(Evaluator(head), WISHES)
    chosen = plan.stops[len(plan.stops) // 2]
    seen = Portrayal(head).portrait(chosen.setup, HEIGHT_PX)
    PICTURES.mkdir(parents=True, exist_ok=True)
    for name, paper, discreet, language in SHEETS:
        path = PICTURES / f"{name}.png"
        with spoken(language):
            write_sheet(
                chosen,
                plan,
                seen.image,
                path,
                caption=seen.caption,
                paper=paper,
                discreet=discreet,
                sitter=tr(LABEL),
                light="flash",
            )
        _lighten(path)
        print(path)


def _lighten(path: Path) -> None:
    """Make the picture small enough to keep beside the text that shows it."""
    with Image.open(path) as image:
        image.load()
    image.thumbnail((1240, 1760))
    image.convert("RGB").save(path, optimize=True)


if __name__ == "__main__":
    main()
