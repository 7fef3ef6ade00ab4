"""Guide numbers against photo dictionaries and makers' tables."""

from numpy.testing import assert_allclose

from sitwell.scene.light import exposure_value, flash_f_number


def test_guide_number_45_at_5_m_is_f9():
    # idigitalphoto.com/dictionary/guide_number
    assert_allclose(flash_f_number(45, 5), 9.0, rtol=1e-9)


def test_guide_number_51_at_9_m():
    # a maker's handbook prints f/5.67
    assert_allclose(flash_f_number(51, 9), 5.67, atol=0.01)


def test_guide_number_40_at_iso_400_and_f5_6():
    # photozone.de/the-guide-number-gn prints 14.2 m, the formula gives 14.29
    assert_allclose(flash_f_number(40, 14.2, iso=400), 5.6, atol=0.05)


def test_exposure_value_of_bright_sun():
    # EV = log2(N^2/t), f/16 at 1/125 s: pdfslide.us/documents/apexpdf.html (Kerr)
    assert_allclose(exposure_value(16, 1 / 125), 14.966, atol=5e-4)
