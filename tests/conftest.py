"""What every test stands on: random inputs, not timed, and in CI the same ones each time."""

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "sitwell",
    deadline=None,  # machines differ and are shared
    suppress_health_check=[HealthCheck.too_slow],
    # CI judges a change by the same inputs each time; people's runs go on exploring.
    derandomize="CI" in os.environ,
)
settings.load_profile("sitwell")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Where several processes share the tests, those that share what their file made stay together.

    A browser, a server or a fitted head is then made once; all other tests go where there is room.
    """
    for item in items:
        made = item._fixtureinfo.name2fixturedefs.values()
        if any(fixture.scope == "module" for fixtures in made for fixture in fixtures):
            item.add_marker(pytest.mark.xdist_group(str(item.path)))
