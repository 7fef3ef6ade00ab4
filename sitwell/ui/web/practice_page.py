"""Practice alone, for a phone's camera: what the camera sees, what to say, and what is meant."""

from sitwell.ui.web.frame import Desk, address, in_hand_picture, lacks_leave
from sitwell.ui.web.parts import link, notice, target_picture, words
from sitwell.ui.web.practice import PracticeCamera
from sitwell.ui.web.wording import t


def content(desk: Desk) -> None:
    """The set-up as it should look, and the camera."""
    sitting, setup = desk.sitting, desk.server.in_hand(desk.sitting)
    if lacks_leave(desk):
        return
    if setup is None:
        notice(t("There is no set-up to practise yet; search and open one first."), "trouble")
        link(t("To the plan"), address(desk, "plan"), "btn main")
        return
    words("p", t("Each picture is looked at once and forgotten; nothing is kept."), "lead")
    desk.server.begin_looking(sitting)
    PracticeCamera(f"/practice/{sitting.id}/{sitting.at}")
    target_picture(in_hand_picture(desk), setup.aspect)
