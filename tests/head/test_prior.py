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
    assert (shape_sigma() >= template.shape_sigma * 0.999).all()


def test_noses_lean_and_eyes_differ_by_what_the_module_says():
    rng, template = np.random.default_rng(1), load_template()
    still = np.zeros(len(template.expression_names), dtype=np.float32)
    leans, ratios = [], []
    for _ in range(60):
        shape = (rng.normal(size=len(drawn_sigma())) * drawn_sigma()).astype(np.float32)
        sizes = head_sizes(head_from_values(template, shape, still))
        leans.append(sizes["nose_lean_mm"])
        ratios.append(np.log(sizes["eye_opening_ratio"]))
    assert_allclose(np.std(leans), 2.0, atol=0.5)
    assert_allclose(np.std(ratios), 0.12, atol=0.04)


def test_a_fit_allows_noses_and_nothing_else_twice_as_much():
    wider = shape_sigma() / drawn_sigma()
    names = load_template().shape_names
    is_nose = np.array([name.startswith(("nose_lean", "asym_nose")) for name in names])
    assert is_nose.sum() > 1
    assert_allclose(wider[is_nose], 2.0)
    assert_allclose(wider[~is_nose], 1.0)
