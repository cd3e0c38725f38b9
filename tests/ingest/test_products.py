"""One thread for each product, in however many threads it is asked for."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Event

import numpy as np
from threadpoolctl import threadpool_info

from ingest.products import one_thread_a_product


def _threads_of_products() -> set[int]:
    assert np.dot(np.ones(2), np.ones(2)) == 2
    return {each["num_threads"] for each in threadpool_info() if each["user_api"] == "blas"}


def test_a_thread_that_has_done_does_not_lift_the_limit_of_another() -> None:
    entered, left = Event(), Event()

    def later() -> set[int]:
        with one_thread_a_product():
            entered.set()
            assert left.wait(30)
            return _threads_of_products()

    with ThreadPoolExecutor(1) as other:
        with one_thread_a_product():
            found = other.submit(later)
            assert entered.wait(30)
            assert _threads_of_products() == {1}
        left.set()
        assert found.result(30) == {1}
