"""What every test stands on: random inputs are not timed, since machines differ and are shared."""

from hypothesis import HealthCheck, settings

settings.register_profile("sitwell", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("sitwell")
