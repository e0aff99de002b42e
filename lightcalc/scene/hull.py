"""The convex outline of points in a plane."""

from __future__ import annotations

import numpy as np

from lightcalc.units import Numbers


def hull(points: Numbers) -> Numbers:
    """
    The convex outline of points (Andrew's monotone chain, 1979).

    Parameters
    ----------
    points : array (n, 2)
        [m]

    Returns
    -------
    array (k, 2)
        Corners anticlockwise; two where the points lie on a line. [m]

    Examples
    --------
    >>> hull([(0, 0), (2, 0), (1, 0.5), (2, 2), (1, 0)]).tolist()
    [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0]]
    """
    rows = np.round(np.asarray(points), 7) + 0.0  # what is level must sort as level
    ordered = sorted(set(map(tuple, rows.tolist())))
    return np.array(_chain(ordered)[:-1] + _chain(ordered[::-1])[:-1])


def _chain(ordered):
    kept = []
    for x, y in ordered:
        while len(kept) > 1:
            (a, b), (c, d) = kept[-2:]
            if (c - a) * (y - b) - (d - b) * (x - a) > 1e-12:
                break
            kept.pop()
        kept.append((x, y))
    return kept
