import os

import pytest
from PIL import Image
from skimage import data


@pytest.fixture(scope="session")
def photograph(tmp_path_factory):
    """A NASA portrait, public domain, carried by scikit-image."""
    path = tmp_path_factory.mktemp("photograph") / "portrait.png"
    Image.fromarray(data.astronaut()).save(path)
    return path


@pytest.fixture
def environment(tmp_path):
    """This process's environment with records of the test's own."""
    return os.environ | {"SITWELL_HOME": str(tmp_path / "home")}
