"""Freed memory goes back to the system where the C library can; elsewhere nothing breaks."""

import ctypes
import sys
from pathlib import Path

import numpy as np
import pytest

from sitwell.base import memory
from sitwell.base.memory import give_back

STATM = Path("/proc/self/statm")
GLIBC = sys.platform.startswith("linux") and hasattr(ctypes.CDLL(None), "malloc_trim")


def resident_pages():
    return int(STATM.read_text(encoding="ascii").split()[1])


@pytest.mark.skipif(not GLIBC, reason="another C library")
def test_what_is_free_goes_back():
    kept, freed = [], []
    for _ in range(400):  # small blocks lie in the heap, each behind one that stays
        freed.append(np.ones(12_000))
        kept.append(np.ones(12))
    full = resident_pages()
    freed.clear()
    give_back()
    assert full - resident_pages() > 0.8 * 400 * 12_000 * 8 / 4096
    assert len(kept) == 400


def test_elsewhere_nothing_is_done(monkeypatch):
    monkeypatch.setattr(sys, "platform", "darwin")
    assert not give_back()
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(memory.ctypes, "CDLL", lambda name: object())
    assert not give_back()
