"""Memory that is free again, given back to the system."""

import ctypes
import sys


def give_back() -> bool:
    """Give freed memory back where the C library would keep it; says whether any was.

    Only glibc keeps much (after large arrays of many sizes, a hundred megabytes); elsewhere
    nothing is done.
    """
    if not sys.platform.startswith("linux"):
        return False
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    return bool(trim(0)) if trim is not None else False
