"""The outline of convex pieces that lie over and beside each other, as one figure: a shaft of light as it projects."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lightcalc.scene.hull import hull

NEAR_M = 1e-4  # edges nearer than this lie on each other


def hulls(stretches: Sequence[np.ndarray], axes: Sequence[int]) -> list[np.ndarray]:
    """
    Convex pieces as they project, without those seen edge on.

    Parameters
    ----------
    stretches : sequence of array (k, 3)
        [m]
    axes : sequence of two ints
        Which two of x, y, z.

    Returns
    -------
    list of array (k, 2)
        Anticlockwise. [m]
    """
    found = [hull(np.asarray(points)[:, list(axes)]) for points in stretches]
    return [outline for outline in found if len(outline) > 2 and _thick(outline) > NEAR_M]


def _thick(outline):
    """A convex outline's area over its longest diagonal."""
    x, y = outline.T
    area = 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    return area / max(np.hypot(*np.ptp(outline, axis=0)), 1e-12)


def outline(pieces: Sequence[np.ndarray]) -> list[np.ndarray]:
    """
    The edges of what convex pieces cover together, without those that lie inside it.

    Parameters
    ----------
    pieces : sequence of array (k, 2)
        Anticlockwise. [m]

    Returns
    -------
    list of array (2, 2)
        Straight strokes, each from end to end. [m]
    """
    if not pieces:
        return []
    planes = [_planes(piece) for piece in pieces]
    low, high = (np.array([end(piece, axis=0) for piece in pieces]) for end in (np.min, np.max))
    strokes = []
    for k, piece in enumerate(pieces):
        for start, end in zip(piece, np.roll(piece, -1, axis=0)):
            first, last = np.minimum(start, end) - NEAR_M, np.maximum(start, end) + NEAR_M
            near = np.flatnonzero(((low <= last) & (high >= first)).all(axis=1))
            hidden = [_hidden(start, end, *planes[j], first=j < k) for j in near if j != k]
            strokes += [np.array([start + a * (end - start), start + b * (end - start)]) for a, b in _open(hidden)]
    return [stroke for stroke in strokes if np.hypot(*(stroke[1] - stroke[0])) > NEAR_M]


def _planes(piece):
    """Inward unit normals of a convex outline's edges, and n . x on each."""
    way = np.roll(piece, -1, axis=0) - piece
    size = np.linalg.norm(way, axis=1)
    keep = size > 1e-9
    normals = np.column_stack([-way[keep, 1], way[keep, 0]]) / size[keep, None]
    return normals, (normals * piece[keep]).sum(axis=1)


def _hidden(start, end, normals, offsets, *, first):
    """
    The stretch (0 to 1) of an edge that another piece hides; none is (1, 0).

    Where edges lie on each other: with the pieces on opposite sides both are hidden, on one side all but the first's.
    """
    low, high = 0.0, 1.0
    a, b = normals @ start - offsets, normals @ end - offsets
    for from_, to, normal in zip(a, b, normals):
        if abs(from_) < NEAR_M and abs(to) < NEAR_M:
            along = normal[1] * (end - start)[0] - normal[0] * (end - start)[1] > 0  # the same way round: on the same side
            if along and not first:
                return 1.0, 0.0
        elif to > from_:
            low = max(low, -from_ / (to - from_))
        elif to < from_:
            high = min(high, from_ / (from_ - to))
        elif from_ < 0:
            return 1.0, 0.0
    return low, high


def _open(hidden):
    """What is left of 0 to 1 between hidden stretches."""
    at = 0.0
    for low, high in sorted(hidden):
        if low < high:
            if low > at:
                yield at, low
            at = max(at, high)
    if at < 1.0:
        yield at, 1.0
