"""Near pairs against scipy's tree and against comparing all; linked sets against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from panelshift.outline.nearness import linked, near_pairs

ALL = 10**9


def scattered(count: int, dimensions: int, size: float) -> np.ndarray:
    """Points none of whose distances is a reach of 0.5 but for rounding."""
    rng = np.random.default_rng(count * dimensions)
    return np.round(rng.uniform(0.0, size, (count, dimensions)), 1) * 1.0001


def fan(count: int) -> np.ndarray:
    angles = np.linspace(0.0, np.pi, count)
    return np.column_stack([0.0 * angles, 0.0 * angles, np.cos(angles), np.sin(angles)]) * 60.0


def squared_paper(count: int) -> np.ndarray:
    """Boxes of lines across and along: half of them share each coordinate."""
    at, zero = 0.6 * np.arange(count), np.zeros(count)
    lines = [[at, zero, at, zero + 9.0], [zero, at, zero + 9.0, at]]
    return np.concatenate([np.column_stack(columns) for columns in lines])


@pytest.mark.parametrize(
    "points",
    [
        *(scattered(n, d, size) for n in (0, 1, 2, 40) for d in (2, 4) for size in (2.0, 30.0)),
        *(scattered(n, d, 60.0) for n in (101, 600) for d in (1, 2, 4)),
        scattered(400, 2, 6.0),
        np.zeros((130, 2)),
        fan(500),
        squared_paper(150),
        np.repeat(squared_paper(60), 2, axis=0),
    ],
    ids=len,
)
def test_near_pairs_are_those_of_a_tree(points: np.ndarray) -> None:
    found = near_pairs(points, 0.5, ALL)
    assert (found[:, 0] < found[:, 1]).all()
    pairs = set(map(tuple, found.tolist()))
    assert len(pairs) == len(found)
    tree = cKDTree(points.reshape(len(points), -1)) if len(points) else None
    expected = tree.query_pairs(0.5, p=np.inf) if tree else set()
    assert pairs == set(map(tuple, map(sorted, expected)))


@pytest.mark.parametrize("count", [5, 500])
def test_what_is_just_within_reach_is_near(count: int) -> None:
    row = 0.25 * np.arange(count)[:, None]
    assert len(near_pairs(row, 0.25, ALL)) == count - 1
    assert len(near_pairs(row, 0.2499999, ALL)) == 0
    assert len(near_pairs(row[::-1] * [[1.0, 0.0]], 0.25, ALL)) == count - 1


@pytest.mark.slow
def test_no_more_is_looked_for_than_is_wanted() -> None:
    points = np.zeros((3000, 2))
    assert len(near_pairs(points, 1.0, ALL)) == 3000 * 2999 // 2
    few = len(near_pairs(points, 1.0, 1000))
    assert 1000 < few < 1_100_000


@given(st.integers(1, 60), st.integers(0, 80), st.integers(0, 2**32 - 1))
def test_linked_sets_are_those_of_a_graph(count: int, links: int, seed: int) -> None:
    pairs = np.random.default_rng(seed).integers(0, count, (links, 2))
    graph = coo_array((np.ones(links), pairs.T), shape=(count, count))
    assert linked(count, pairs).tolist() == connected_components(graph, directed=False)[1].tolist()


def test_a_long_chain_in_any_order_is_one_set() -> None:
    order = np.random.default_rng(5).permutation(5000)
    chain = np.column_stack([order[:-1], order[1:]])
    assert not linked(5000, chain).any()
    assert len(set(linked(5000, np.delete(chain, 2500, axis=0)).tolist())) == 2
