"""Waiting for a state. No clock ends it but the one in pyproject.toml, which ends what hangs."""

import asyncio
import time

PAUSE_S = 0.02


def until(holds):
    """Wait until ``holds()`` is true; gives what it gave."""
    while not (found := holds()):
        time.sleep(PAUSE_S)
    return found


async def soon(holds):
    """The same while an event loop goes on."""
    while not (found := holds()):
        await asyncio.sleep(PAUSE_S)
    return found
