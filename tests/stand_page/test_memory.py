"""The page keeps nothing of moments that are gone."""

import pytest

from tests.stand_page.scripted import Stand


def test_it_grows_no_larger_with_each_moment(stand: Stand) -> None:
    pytest.importorskip("playwright.sync_api")
    from tests.bench.bench_stand_page import memory

    figures, _ = memory(stand, 2000)
    heaps = [heap for _, heap, _, _ in figures[1:]]
    nodes = [count for _, _, count, _ in figures[1:]]
    assert max(heaps) - heaps[0] < 0.3  # MB; 1,600 moments of some 2 kB are 3 MB
    assert max(nodes) - min(nodes) < 400
    assert len({listeners for _, _, _, listeners in figures[1:]}) == 1
    assert stand.faults == []
