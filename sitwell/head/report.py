"""A reading as plain values for JSON: one row a photograph, the head's lengths, and notes."""

import dataclasses
from typing import Any

from sitwell.base.formats import named
from sitwell.base.words import mark, tr
from sitwell.head.obscured import EAR_COVERED, is_unknown
from sitwell.head.reading import FrameReading, Reading
from sitwell.head.seen_parts import HAIR_OVER_EARS
from sitwell.head.sizes import RESTS_ON, head_sizes, size_spreads

# A key that is weaker or less sure than this is not given a place.
LARGEST_KEY_SPREAD_DEG = 35.0
LEAST_KEY_SHARE = 0.15
EVEN_LIGHT = mark("The light on '{file}' is too even to tell where the key stands.")


def reading_as_dict(reading: Reading) -> dict[str, Any]:
    """``{"frames", "head", "head_spread", "next_frame", "notes"}``, numbers rounded for reading.

    A length whose end is hidden is None; ``head_spread`` has one sigma for each of the others.
    """
    frames = [frame_as_dict(frame) for frame in reading.frames]
    notes = list(dict.fromkeys([note for frame in frames for note in frame["notes"]]))
    head, spread = _head(reading)
    asked = reading.next_frame
    content = {
        "frames": frames,
        "head": head,
        "head_spread": spread,
        "next_frame": asked and dataclasses.asdict(asked),
        "notes": [*notes, *reading.notes],
    }
    return named("reading", content)


def _head(reading: Reading) -> tuple[dict[str, float | None] | None, ...]:
    """The head's lengths and their spreads, None where something hides them or nothing tells."""
    fit = reading.fit
    if fit is None:
        return None, None
    unknown = unknown_sizes(reading)
    spreads = size_spreads(
        fit.frames[0].shape,
        fit.shape_covariance,
        size_share=fit.size_share,
        hairline_spread_mm=fit.hairline_spread_mm,
        eye_ratio_spread=fit.eye_ratio_spread,
    )
    return tuple(
        {name: None if name in unknown else round(v, 2) for name, v in sizes.items()}
        for sizes in (head_sizes(fit.head), spreads)
    )


def unknown_sizes(reading: Reading) -> frozenset[str]:
    """The lengths of a fitted head that no frame tells: hidden, or on no mark that was seen."""
    if reading.fit is None:
        return frozenset()
    hidden: frozenset[str] = frozenset().union(*(frame.obscured for frame in reading.frames))
    return frozenset(
        name
        for name in head_sizes(reading.fit.head)
        if is_unknown(name, hidden) or not reading.marked.issuperset(RESTS_ON.get(name, ()))
    )


def frame_as_dict(frame: FrameReading) -> dict[str, Any]:
    """One photograph's row; every value is None where no face was read."""
    row: dict[str, Any] = {"file": frame.file, "faces": frame.faces}
    row |= _pose(frame) | _camera(frame) | _light(frame) | _eyes(frame)
    row |= {"in_the_way": _in_the_way(frame), "points_found": _points(frame)}
    row["notes"] = list(frame.notes)
    if frame.light is not None and row["key_azimuth_deg"] is None:
        row["notes"].append(tr(EVEN_LIGHT, file=frame.file))
    return row


def _pose(frame: FrameReading) -> dict[str, float | None]:
    pose, fitted = frame.pose, frame.fitted
    if pose is None or fitted is None:
        return dict.fromkeys(_POSE_KEYS)
    spread = fitted.spread
    values = (
        *pose.seen_deg,
        spread.turn_deg,
        spread.chin_deg,
        spread.tilt_deg,
        *pose.axis_deg,
        pose.distance_mm,
        spread.distance_mm,
    )
    return {
        key: round(value, 1 if key.endswith("_mm") else 2)
        for key, value in zip(_POSE_KEYS, values, strict=True)
    }


_POSE_KEYS = (
    "turn_deg",
    "chin_deg",
    "tilt_deg",
    "turn_spread_deg",
    "chin_spread_deg",
    "tilt_spread_deg",
    "turn_axis_deg",
    "chin_axis_deg",
    "tilt_axis_deg",
    "distance_mm",
    "distance_spread_mm",
)


def _in_the_way(frame: FrameReading) -> list[dict[str, Any]] | None:
    """What hides part of the face: how sure it is (0 to 1), on which own side, if on one alone,
    and whether the photographer told of it.
    """
    if frame.face is None:
        return None
    rows = [
        {"thing": each.thing, "side": each.side, "sure": round(each.sure, 2), "told": False}
        for each in frame.found.seen
        if (EAR_COVERED[each.side] if each.thing == HAIR_OVER_EARS and each.side else each.thing)
        in frame.obscured
    ]
    seen = {row["thing"] for row in rows} | set(EAR_COVERED.values())
    told = sorted(frame.obscured - seen)
    return rows + [{"thing": thing, "side": None, "sure": 1.0, "told": True} for thing in told]


def _points(frame: FrameReading) -> list[dict[str, Any]] | None:
    """The named points that the picture shows, in its own pixels, with one sigma each."""
    if frame.face is None:
        return None
    return [
        {
            "name": each.name,
            "x_px": round(each.x_px, 1),
            "y_px": round(each.y_px, 1),
            "spread_px": round(each.spread_px, 1),
        }
        for each in frame.found.points
    ]


def _camera(frame: FrameReading) -> dict[str, Any]:
    focal, facts = frame.focal, frame.facts
    return {
        "focal_mm": focal and round(focal.focal_mm, 2),
        "focal_35_mm": focal and round(focal.equivalent_mm, 2),
        "focal_source": focal and focal.source,
        "f_number": facts and facts.f_number,
        "taken": facts.taken.isoformat() if facts and facts.taken else None,
    }


def _light(frame: FrameReading) -> dict[str, float | None]:
    light = frame.light
    keys = ("key_azimuth_deg", "key_elevation_deg", "key_spread_deg", "fill_ratio")
    if (
        light is None
        or light.spread_deg > LARGEST_KEY_SPREAD_DEG
        or light.key_share < LEAST_KEY_SHARE
    ):
        return dict.fromkeys(keys)
    values = (
        light.key_azimuth_deg,
        light.key_elevation_deg,
        light.spread_deg,
        light.fill_ratio,
    )
    return {key: round(value, 1) for key, value in zip(keys, values, strict=True)}


def _eyes(frame: FrameReading) -> dict[str, float | None]:
    """Blink is the more closed eye's, squint and smile the mean of both sides; all 0..1."""
    if frame.face is None:
        return dict.fromkeys(_EYE_KEYS)
    shapes = frame.face.blendshapes
    blink = [shapes.get(f"eyeBlink{side}", 0.0) for side in ("Left", "Right")]
    squint = [shapes.get(f"eyeSquint{side}", 0.0) for side in ("Left", "Right")]
    smile = [shapes.get(f"mouthSmile{side}", 0.0) for side in ("Left", "Right")]
    values = (max(blink), sum(squint) / 2, *blink, *squint, sum(smile) / 2)
    return {key: round(value, 3) for key, value in zip(_EYE_KEYS, values, strict=True)}


_EYE_KEYS = (
    "blink",
    "squint",
    "blink_own_left",
    "blink_own_right",
    "squint_own_left",
    "squint_own_right",
    "smile",
)
