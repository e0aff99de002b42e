"""The outline of convex pieces together: against a grid of points, and Green's theorem."""

import numpy as np
import pytest

from lightcalc.drawing.outlines import hulls, outline
from lightcalc.scene.hull import hull

SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


def area(strokes):
    """Area inside closed strokes, each with the inside to its left: Green's theorem."""
    return sum(0.5 * (a[0] * b[1] - a[1] * b[0]) for a, b in strokes)


def test_what_is_seen_edge_on_covers_nothing():
    flat = np.column_stack([SQUARE, np.zeros(4)])
    assert len(hulls([flat], (0, 1))) == 1 and hulls([flat], (0, 2)) == []


@pytest.mark.parametrize("shift", [(1.0, 0.0), (0.0, 1.0), (1.0, 0.25)])
def test_neighbours_lose_the_edge_between_them(shift):
    # DERIVED: two unit squares side by side: the shared stretch goes from both, area 2, length 8 - 2 x shared.
    strokes = outline([SQUARE, SQUARE + shift])
    shared = 1.0 - min(abs(shift[0]), abs(shift[1]))
    assert area(strokes) == pytest.approx(2.0)
    assert sum(np.hypot(*(b - a)) for a, b in strokes) == pytest.approx(8 - 2 * shared)


def test_edges_that_lie_on_each_other_are_drawn_once():
    # DERIVED: the same square twice is one square; a half of it adds nothing.
    assert area(outline([SQUARE, SQUARE])) == pytest.approx(1.0)
    strokes = outline([SQUARE * (0.5, 1.0), SQUARE, SQUARE])
    assert area(strokes) == pytest.approx(1.0) and sum(np.hypot(*(b - a)) for a, b in strokes) == pytest.approx(4.0)


@pytest.mark.parametrize("seed", range(6))
def test_pieces_at_random_against_a_grid(seed):
    # INDEPENDENT: what share of a fine grid lies in any of the pieces; a grid of 0.005 is good to about its step times the edge.
    rng = np.random.default_rng(seed)
    pieces = [hull(rng.uniform(0, 0.6, (7, 2)) + rng.uniform(0, 0.4, 2)) for _ in range(7)]
    grid = np.stack(np.meshgrid(*[np.arange(0.0025, 1.0, 0.005)] * 2), axis=-1).reshape(-1, 2)
    covered = np.zeros(len(grid), dtype=bool)
    for piece in pieces:
        way = np.roll(piece, -1, axis=0) - piece
        off = grid[:, None] - piece
        covered |= (way[:, 0] * off[..., 1] - way[:, 1] * off[..., 0] > 0).all(axis=1)
    assert area(outline(pieces)) == pytest.approx(covered.mean(), abs=2e-3)
