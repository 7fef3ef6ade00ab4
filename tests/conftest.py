"""What every test stands on: random inputs, not timed, and in CI the same ones each time."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile(
    "sitwell",
    deadline=None,  # machines differ and are shared
    suppress_health_check=[HealthCheck.too_slow],
    # CI judges a change by the same inputs each time; people's runs go on exploring.
    derandomize="CI" in os.environ,
)
settings.load_profile("sitwell")
