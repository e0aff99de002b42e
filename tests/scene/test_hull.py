"""The convex outline of points: by hand, and where rounding decides."""

from lightcalc.scene.hull import hull


def test_a_hull_by_hand():
    # DERIVED: inner points and points on an edge go.
    points = [(0, 0), (2, 0), (1, 0), (2, 1), (0.5, 0.2), (0, 1), (1, 0.5)]
    assert hull(points).tolist() == [[0, 0], [2, 0], [2, 1], [0, 1]]
    assert len(hull([(0, 0), (1, 1), (2, 2)])) == 2


def test_rounding_does_not_cost_a_hull_its_corner():
    # DERIVED: points on one upright line but for rounding; the lowest is a corner whatever the last bit says.
    points = [(-1e-17, 0.5), (0.0, 0.0), (1e-17, 0.2), (0.0, 1.0), (2.0, 0.4)]
    assert sorted(hull(points).tolist()) == [[0.0, 0.0], [0.0, 1.0], [2.0, 0.4]]
