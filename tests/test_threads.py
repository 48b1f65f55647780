"""Work in threads: in order, whatever comes first; a few pieces ahead and no more; and what fails is told."""

from __future__ import annotations

import os
import threading
import time

import pytest

from replay.threads import AHEAD, side_by_side

PROCESSORS = (1, 2, 5)


@pytest.fixture(params=PROCESSORS)
def processors(request, monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: request.param)
    return request.param


def test_results_come_in_the_order_of_the_pieces(processors):
    def slow_at_first(number: int) -> int:
        time.sleep(0.01 / (number + 1))
        return -number

    assert list(side_by_side(slow_at_first, range(20))) == [-number for number in range(20)]


def test_only_a_few_pieces_are_read_ahead(processors):
    read: list[int] = []

    def pieces():
        for number in range(1000):
            read.append(number)
            yield number

    results = side_by_side(lambda number: number, pieces())
    assert next(results) == 0
    assert len(read) <= AHEAD * processors + 1
    results.close()
    assert len(read) <= AHEAD * processors + 1


def test_pieces_are_read_in_the_callers_thread(processors):
    here = set()

    def pieces():
        for number in range(10):
            here.add(threading.get_ident())
            yield number

    assert sum(side_by_side(int, pieces())) == 45
    assert here == {threading.get_ident()}


def test_more_than_one_thread_works_where_there_are_processors(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    # Neither gets beyond the barrier without the other.
    barrier = threading.Barrier(2, timeout=30)
    assert len(list(side_by_side(lambda _: barrier.wait(), range(2)))) == 2


def test_what_fails_is_raised_in_its_turn(processors):
    def odd(number: int) -> int:
        if number == 3:
            raise ValueError("three")
        return number

    results = side_by_side(odd, range(10))
    assert [next(results) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="three"):
        next(results)
