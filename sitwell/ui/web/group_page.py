"""The part of the plan page for several sitters: set-ups for everybody, and who stands where."""

from collections.abc import Callable

from sitwell.likeness.portrayal import SOME_DRAWN
from sitwell.search.group import GroupPlan, PlannedGroup
from sitwell.sheet.group_words import group_guard_words
from sitwell.ui.web import group_sitting, names
from sitwell.ui.web.frame import Desk, address
from sitwell.ui.web.page_likenesses import turned_to
from sitwell.ui.web.parts import Pair, attributed, box, button, link, notice, words
from sitwell.ui.web.wording import length, number, t


def labels_of(desk: Desk) -> list[str]:
    """What each sitter is called, or their number."""
    return [
        sitter.label or t("Sitter {number}", number=index + 1)
        for index, sitter in enumerate(desk.sitting.sitters)
    ]


def group_part(
    desk: Desk,
    plan: GroupPlan | None,
    search: Callable[[], None],
    on_open: Callable[[str], None],
) -> dict[str, Pair]:
    """Search for everybody, then the set-ups side by side; gives their pictures by name."""
    server, sitting = desk.server, desk.sitting
    labels = labels_of(desk)
    lacking = group_sitting.missing(server, sitting)
    frameless = [i for i in lacking if not sitting.sitters[i].frames]
    with box("section", "together", aria_label=t("Together")):
        words("h2", t("Together"))
        words("p", t("One camera and one key serve everybody; each has their own moves."), "hint")
        if frameless:
            who = ", ".join(labels[i] for i in frameless)
            notice(t("There are no test frames yet of {who}.", who=who), "trouble")
            link(t("To the test frames"), address(desk, "read"), "btn")
        elif plan is None or group_sitting.is_stale(server, sitting):
            if plan is not None:
                notice(t("Wishes, kit, room or frames have changed since this plan was made."))
            text = t("Search for everybody") if plan is None else t("Search again for everybody")
            made = button(text, search, "main")
            made.props["disabled"] = bool(lacking)
        if plan is None:
            return {}
        words("p", t(SOME_DRAWN), "hint")
        with box("div", "cards wide"):
            pairs = {p.name: _card(desk, plan, p, labels, on_open) for p in plan.setups}
        _collisions(plan)
    return pairs


def picture_address(desk: Desk, name: str) -> str:
    """Where the picture of everybody in a set-up is; "" while a head is being set up."""
    server, sitting = desk.server, desk.sitting
    views = [turned_to(sitting, i) for i in range(len(sitting.sitters))]
    if any(server.model(view) is None for view in views):
        return ""
    of = "".join(server.plan_mark(view)[:6] for view in views)
    return f"/seen-together/{sitting.id}/{name}?of={of}"


def _card(
    desk: Desk,
    plan: GroupPlan,
    planned: PlannedGroup,
    labels: list[str],
    on_open: Callable[[str], None],
) -> Pair:
    name = names.setup_name(planned.name)
    opened = all(sitter.chosen == planned.name for sitter in desk.sitting.sitters)
    with box("section", "card opened" if opened else "card"):
        words("h3", name)
        words("p", t(names.GIST.get(planned.name, "")), "gist")
        _, _, wide, high = planned.setup.picture_mm()
        pair = Pair(
            picture_address(desk, "baseline"),
            picture_address(desk, planned.name),
            t("{name}, as the camera will see it", name=name),
            f"{wide:.0f}:{high:.0f}",
        )
        with box("dl", "places"):
            for index in planned.setup.left_to_right():
                words("dt", f"{labels[index]}, {place_words(planned, index)}")
                with box("dd"):
                    words("span", names.pose_words(planned.planned[index].setup), "pose")
                    _gains(planned, index)
        words("p", names.camera_words(planned.setup.shared), "hint")
        words(
            "p",
            t(
                "Eyes {step} of a face apart in height; {was} in a plain row.",
                step=number(planned.height_step),
                was=number(plan.baseline_height_step),
            ),
            "hint",
        )
        _guards(planned, labels)
        text = t("Open below") if opened else t("Open")
        made = button(text, lambda: on_open(planned.name), "main" if opened else "")
        attributed(made, aria_pressed="true" if opened else "false")
    return pair


def place_in(plan: GroupPlan, name: str, index: int) -> str:
    """Where a sitter stands in a set-up by name; "" where the plan has none of that name."""
    planned = next((one for one in plan.setups if one.name == name), None)
    return "" if planned is None else f"{plan.labels[index]}, {place_words(planned, index)}"


def place_words(planned: PlannedGroup, index: int) -> str:
    """Where a sitter stands, with lengths in the reader's own units."""
    setup = planned.setup
    order, place = setup.left_to_right(), setup.places[index]
    at, last = order.index(index), len(order) - 1
    if at in (0, last):
        said = t("at camera left") if at == 0 else t("at camera right")
    else:
        said = t("number {number} from camera left", number=at + 1)
    if place.forward_mm > 0:
        said = t("{place}, {length} nearer", place=said, length=length(place.forward_mm))
    if place.box_mm > 0:
        said = t("{place}, on a box of {length}", place=said, length=length(place.box_mm))
    return said


def _gains(planned: PlannedGroup, index: int) -> None:
    for wish, gain in names.best_gains(planned.planned[index].gains).items():
        told = t("{wish}: {told}", wish=names.wish_words(wish), told=names.notice_words(gain))
        words("span", told, "hint")


def _guards(planned: PlannedGroup, labels: list[str]) -> None:
    """Every guard that does not hold, of one or of all; else one line that all do."""
    lost = [group_guard_words(guard.name) for guard in planned.guards if not guard.holds]
    for label, part in zip(labels, planned.planned, strict=True):
        lost += [f"{label}: {names.guard_words(g)}" for g in part.guards if not g.holds]
    with box("ul", "gains"):
        for text in lost:
            with box("li", "lost"):
                words("span", text)
                words("span", t("not held"))
        if not lost:
            with box("li"):
                words("span", t("What must hold for everybody"))
                words("span", t("holds"), "soft")


def _collisions(plan: GroupPlan) -> None:
    told = [*(conflict.sentence for conflict in plan.conflicts), *plan.notes]
    if told:
        with box("section", "collisions"):
            words("h3", t("Where their wishes pull apart"))
            with box("ul"):
                for text in told:
                    words("li", t(text))
