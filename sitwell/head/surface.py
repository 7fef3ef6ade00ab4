"""From slider values to a head: vertices, regions and named points."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sitwell.base.errors import HeadError
from sitwell.base.words import tr
from sitwell.head.template import (
    Floats,
    Ints,
    Template,
    load_template,
    regions_with_hairline,
)

LID_CLEARANCE_MM = 0.3  # the lids ride on the tear film and lashes' roots, not on the bare ball
SIDES = ("own_left", "own_right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """One sitter's head in the head frame (see Template), neutral pose.

    ``shape`` (K,) and ``expression`` (E,) are the slider values it was built from, in the order
    of the template's names; ``hairline_mm`` is how far the hairline lies above the mean one.
    """

    vertices_mm: Floats
    triangles: Ints
    region_of_triangle: NDArray[np.uint8]
    shape: Floats
    expression: Floats
    hairline_mm: float
    neck_pivot_mm: Floats
    eye_centre_mm: Mapping[str, Floats]
    eye_radius_mm: float
    point_anchors: Mapping[str, tuple[int, Floats]]

    def point(self, name: str) -> Floats:
        """Position (3,) in mm of a named point on the surface; HeadError if there is none."""
        anchor = self.point_anchors.get(name)
        if anchor is None:
            known = ", ".join(sorted(self.point_anchors))
            raise HeadError(
                tr(
                    "The head has no point named '{name}'; it has {known}.",
                    name=name,
                    known=known,
                )
            )
        triangle, weights = anchor
        return weights @ self.vertices_mm[self.triangles[triangle]]


def build_head(
    shape: Mapping[str, float] | None = None,
    expression: Mapping[str, float] | None = None,
    *,
    hairline_mm: float = 0.0,
) -> Head:
    """The head with these slider values; sliders not named stay at 0.

    ``shape`` is in slider units (about +-1 is the source's full range; the population's spread is
    ``shape_sigma``). A two-sided slider such as ``ear_wing`` moves both sides alike and
    ``ear_wing_uneven`` moves own left out and own right in; ``ear_wing_own_left`` alone is taken
    as half of each. ``expression`` runs 0..1. ``hairline_mm`` > 0 raises the hairline along the
    scalp. Raises HeadError for an unknown name or a value that is no number.
    """
    template = load_template()
    return head_from_values(
        template,
        slider_values(template, shape or {}),
        _named_values(template.expression_names, expression or {}, "expression"),
        hairline_mm,
    )


def with_expression(head: Head, expression: Mapping[str, float]) -> Head | None:
    """The head with expression sliders by name; None where its surface isn't its sliders' own."""
    template = load_template()
    if head.shape.size != len(template.shape_names):
        return None
    at_rest = head_from_values(template, head.shape, head.expression, head.hairline_mm)
    same = at_rest.vertices_mm.shape == head.vertices_mm.shape
    if not (same and np.allclose(at_rest.vertices_mm, head.vertices_mm, atol=0.1)):
        return None
    moved = _named_values(template.expression_names, expression, "expression")
    return head_from_values(template, head.shape, head.expression + moved, head.hairline_mm)


def head_from_values(
    template: Template, shape: Floats, expression: Floats, hairline_mm: float = 0.0
) -> Head:
    """The head for slider vectors ``shape`` (K,) and ``expression`` (E,), template order."""
    vertices = _blend(template, shape, expression)
    centres = _eye_centres(template, shape)
    for side in SIDES:
        _round_eyeball(template, vertices, side, centres[side])
        _lift_lids(template, vertices, side, centres[side])
    regions, anchors = _place_hairline(template, hairline_mm)
    return Head(
        vertices_mm=vertices,
        triangles=template.triangles,
        region_of_triangle=regions,
        shape=shape,
        expression=expression,
        hairline_mm=hairline_mm,
        neck_pivot_mm=template.neck_pivot_mm,
        eye_centre_mm=centres,
        eye_radius_mm=template.eye_radius_mm,
        point_anchors=anchors,
    )


def slider_values(template: Template, shape: Mapping[str, float]) -> Floats:
    """Slider vector (K,) from names; a one-sided name counts half for both, half for uneven."""
    known = frozenset(template.shape_names)
    values: dict[str, float] = {}
    for name, value in shape.items():
        stem, _, side = name.partition("_own_")
        if name not in known and f"{stem}_uneven" in known and side in ("left", "right"):
            sign = 1.0 if side == "left" else -1.0
            values[stem] = values.get(stem, 0.0) + 0.5 * value
            values[f"{stem}_uneven"] = values.get(f"{stem}_uneven", 0.0) + 0.5 * sign * value
        else:
            values[name] = values.get(name, 0.0) + value
    return _named_values(template.shape_names, values, "shape")


def _named_values(names: tuple[str, ...], values: Mapping[str, float], kind: str) -> Floats:
    vector = np.zeros(len(names), dtype=np.float32)
    index = {name: k for k, name in enumerate(names)}
    for name, value in values.items():
        if name not in index:
            raise HeadError(
                tr(
                    "There is no {kind} slider '{name}'; there are {known}.",
                    kind=kind,
                    name=name,
                    known=", ".join(names),
                )
            )
        if not np.isfinite(value):
            raise HeadError(
                tr(
                    "The {kind} slider '{name}' is {value}; give it a finite number.",
                    kind=kind,
                    name=name,
                    value=value,
                )
            )
        vector[index[name]] = value
    return vector


def _blend(template: Template, shape: Floats, expression: Floats) -> Floats:
    vertices = template.vertices_mm.copy()
    flat = vertices.reshape(-1)
    for weights, directions in (
        (shape, template.shape_mm),
        (np.abs(shape[template.even_index]), template.even_mm),
        (expression, template.expression_mm),
    ):
        rows = directions.reshape(len(directions), -1)
        if np.count_nonzero(weights) > len(weights) // 4:
            flat += weights @ rows
        else:
            for index in np.flatnonzero(weights):
                flat += weights[index] * rows[index]
    return vertices


def _eye_centres(template: Template, shape: Floats) -> dict[str, Floats]:
    # shape sliders carry a whole eyeball along unchanged, so any of its vertices tells the shift
    shifts = {side: template.shape_mm[:, template.eyeball_vertices[side][0]] for side in SIDES}
    return {side: template.eye_centre_mm[side] + shape @ shifts[side] for side in SIDES}


def _round_eyeball(template: Template, vertices: Floats, side: str, centre: Floats) -> None:
    # a gaze unit moves the eyeball's vertices along tangents; this brings them back to the sphere
    ball = template.eyeball_vertices[side]
    outward = vertices[ball] - centre
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    vertices[ball] = centre + template.eye_radius_mm * outward


def _lift_lids(template: Template, vertices: Floats, side: str, centre: Floats) -> None:
    lids = template.lid_vertices[side]
    outward = vertices[lids] - centre
    distance = np.linalg.norm(outward, axis=1, keepdims=True)
    wanted = np.maximum(distance, template.eye_radius_mm + LID_CLEARANCE_MM)
    vertices[lids] = centre + outward * (wanted / distance)


def _place_hairline(
    template: Template, hairline_mm: float
) -> tuple[NDArray[np.uint8], Mapping[str, tuple[int, Floats]]]:
    if hairline_mm == 0.0:
        return template.region_of_triangle, template.points
    walk = template.hairline_walk
    if not min(walk) <= hairline_mm <= max(walk):
        raise HeadError(
            tr(
                "A hairline {hairline_mm} mm from the mean one is off the skull; give a value "
                "from {least} to {most}.",
                hairline_mm=hairline_mm,
                least=min(walk),
                most=max(walk),
            )
        )
    regions = regions_with_hairline(template.bare_region, template.hairline_height_mm, hairline_mm)
    return regions, {**template.points, "hairline": walk[round(hairline_mm)]}
