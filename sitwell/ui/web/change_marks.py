"""Marks that change whenever what a reading or a plan is made from does."""

import hashlib
import json

from sitwell.ui.web import brief
from sitwell.ui.web.paper import SitterNote, Sitting


def frames_mark(sitter: SitterNote) -> str:
    """Of frames, marks and what was said of them: whether a reading is still of these."""
    frames = [[frame.id, frame.marks, frame.face] for frame in sitter.frames]
    level = sitter.level if sitter.level_said else ""
    said = sorted(sitter.in_the_way), sorted(sitter.without)
    return mark_of(frames, level, sitter.level_said, *said)


def brief_mark(sitting: Sitting) -> str:
    """Of all that the sitter in hand is planned by."""
    sitter = sitting.sitter
    return mark_of(
        frames_mark(sitter), sitter.wishes, sorted(sitter.limits), sitter.glasses, sitting.kit,
        sitting.own_kit, sitting.room, sitting.own_room, sitting.framing, sitting.aspect,
        *sorted(brief.lamps_of(sitting)),
    )  # fmt: skip


def mark_of(*parts: object) -> str:
    """A short mark of plain values."""
    text = json.dumps(parts, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
