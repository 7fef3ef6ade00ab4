"""Linear algebra keeps to one thread inside, and is as it was outside."""

import numpy as np
from threadpoolctl import threadpool_info

from sitwell.base.threads import one_blas_thread


def threads():
    np.linalg.inv(np.eye(3))  # loads the library
    return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]


def test_one_thread_inside_and_as_before_outside():
    before = threads()
    with one_blas_thread():
        assert set(threads()) == {1}
    assert threads() == before
