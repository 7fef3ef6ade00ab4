"""A page on a phone: a code to scan that opens one page there, and what the phone needs for it."""

import cv2
import numpy as np
from nicegui import ui

from sitwell.ui.web.frame import Desk, address
from sitwell.ui.web.parts import box, button, link, words
from sitwell.ui.web.passes import OnePage
from sitwell.ui.web.security import DOOR
from sitwell.ui.web.wording import t

# What the framework itself loads, and our own styles; nothing of any sitter.
FRAMEWORK = ("/_nicegui/", "/_nicegui_ws/", "/assets/", "/favicon.ico")
ENCRYPTED = "sitwell serve --lan --certificate"
OPEN = "sitwell serve --lan"


def phone_part(desk: Desk, page: str) -> None:
    """A fold that opens a page of this sitting on a phone, or tells how to make that possible."""
    passes = desk.server.passes
    camera = page == "practice"
    title = t("Practise before a phone’s camera") if camera else t("Open it on a phone")
    with box("details", "fold phone") as fold:
        words("summary", title)
        if passes is None:
            words("p", t("Start Sitwell with “{command}”; a code to scan then stands here.",
                         command=ENCRYPTED if camera else OPEN))  # fmt: skip
            _say_how(camera, encrypted=False)
            return
        with box("div", role="status") as shown:
            pass

    def show() -> None:
        code = passes.invite(_one_page(desk, page))
        target = f"{passes.network}{DOOR}?code={code}"
        shown.clear()
        with shown:
            ui.html(qr_svg(target, t("A code for the phone’s camera")), sanitize=False)
            words("p", t("Point the phone’s camera at it. It serves once, within two minutes, and "
                         "opens this one page for four hours."))  # fmt: skip
            with box("div", "onward"):
                button(t("Another code"), show, "quiet")
                link(t("The same as an address"), target, "hint")

    # the code is made when somebody looks, since its two minutes begin then
    fold.on("toggle", lambda event: show() if event.args else None, js_handler=_OPENED)
    with fold:
        _say_how(camera, encrypted=passes.network.startswith("https"))


def qr_svg(text: str, said: str) -> str:
    """A text as a QR code (ISO/IEC 18004), black on white with its quiet zone."""
    modules = np.pad(cv2.QRCodeEncoder.create().encode(text) == 0, 2)
    side = len(modules)
    marks = "".join(f"M{x} {y}h1v1h-1z" for y, x in np.argwhere(modules).tolist())
    return (
        f'<svg class="qr" viewBox="0 0 {side} {side}" role="img" aria-label="{said}" '
        f'shape-rendering="crispEdges"><path fill="#fff" d="M0 0h{side}v{side}h-{side}z"/>'
        f'<path fill="#000" d="{marks}"/></svg>'
    )


def _say_how(camera: bool, *, encrypted: bool) -> None:
    if not camera:
        words("p", t("The phone must be in the same network."), "hint")
    elif encrypted:
        words("p", t("The phone will warn once that nobody vouches for this certificate: it was "
                     "made on this computer. Compare its fingerprint with the one on the terminal, "
                     "then go on."), "hint")  # fmt: skip
    else:
        words("p", t("A phone gives its camera to encrypted pages only: the certificate sees to "
                     "that. Over a cable, a phone that reaches this computer as “localhost” needs "
                     "neither."), "hint")  # fmt: skip


def _one_page(desk: Desk, page: str) -> OnePage:
    sitting_id = desk.sitting.id
    parts = [*FRAMEWORK, f"/seen/{sitting_id}/"]
    if page == "practice":
        parts.append(f"/practice/{sitting_id}/")
    return OnePage(address=address(desk, page), parts=tuple(parts))


_OPENED = "(e) => emit(e.target.open)"
