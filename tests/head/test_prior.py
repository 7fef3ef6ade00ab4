"""The fit starts from heads as uneven as people may be, and else from the template's spread."""

import numpy as np
from numpy.testing import assert_allclose

from sitwell.head.prior import drawn_sigma, shape_sigma
from sitwell.head.sizes import head_sizes
from sitwell.head.surface import head_from_values
from sitwell.head.template import load_template


def test_only_unevenness_is_widened():
    template = load_template()
    wider = shape_sigma() > 1.001 * template.shape_sigma
    names = [name for name, more in zip(template.shape_names, wider, strict=True) if more]
    assert "nose_lean" in names
    assert "eye_opening_uneven" in names
    assert all(
        name.startswith(("nose_lean", "mouth_shift", "asym_")) or name.endswith("_uneven")
        for name in names
    )


def test_noses_lean_and_eyes_differ_by_what_the_module_says():
    leans, ratios = _drawn(shape_sigma())
    assert_allclose(np.std(leans), 0.9, atol=0.2)
    assert_allclose(np.std(ratios), 0.055, atol=0.02)
    leans, ratios = _drawn(drawn_sigma())
    assert_allclose(np.std(leans), 1.9, atol=0.4)
    assert_allclose(np.std(ratios), 0.12, atol=0.04)


def _drawn(sigma):
    rng, template = np.random.default_rng(1), load_template()
    still = np.zeros(len(template.expression_names), dtype=np.float32)
    leans, ratios = [], []
    for _ in range(60):
        shape = (rng.normal(size=len(sigma)) * sigma).astype(np.float32)
        sizes = head_sizes(head_from_values(template, shape, still))
        leans.append(sizes["nose_lean_mm"])
        ratios.append(np.log(sizes["eye_opening_ratio"]))
    return leans, ratios
