"""Keeping small linear algebra on one thread."""

from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from threadpoolctl import ThreadpoolController


def one_blas_thread() -> AbstractContextManager[Any]:
    """Within it, matrix products run on the calling thread alone.

    Matrices of a few hundred rows gain nothing from more threads, and on a machine that is busy
    otherwise the threads wait for each other: a fit then takes forty times as long.
    """
    return _controller().limit(limits=1, user_api="blas")


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()
