"""Straight lines marched through people and furniture in small steps: a judge of shadows that shares no formula with the engine."""

import numba
import numpy as np


def depth_in(solid, points):
    """How far out points are in a solid: 0 in its middle, 1 on its surface, (...,)."""
    u = np.abs((points - solid.middle) @ solid.axes.T / solid.half)
    return np.linalg.norm(u, axis=-1) if solid.shape == "ball" else u.max(axis=-1)


def least_depth(found, starts, ends, steps=600):
    """The least `depth_in` of any solid along straight lines, (n,); and how exact that is for such steps, (n,)."""
    starts, ends = np.ascontiguousarray(starts), np.ascontiguousarray(np.broadcast_to(ends, np.shape(starts)))
    columns = [np.array([getattr(solid, name) for solid in found]) for name in ("middle", "axes", "half")]
    least = _march(starts, ends, *columns, np.array([solid.shape == "ball" for solid in found]), steps)
    return least, np.linalg.norm(ends - starts, axis=1) / steps / columns[2].min()


@numba.njit(cache=False)
def _march(starts, ends, middle, axes, half, ball, steps):
    least = np.full(len(starts), 1e9)
    for i in range(len(starts)):
        for solid in range(len(middle)):
            for k in range(steps):
                t, depth = (k + 0.5) / steps, 0.0
                for a in range(3):
                    u = 0.0
                    for b in range(3):
                        u += axes[solid, a, b] * (starts[i, b] + t * (ends[i, b] - starts[i, b]) - middle[solid, b])
                    u = abs(u) / half[solid, a]
                    depth = depth + u * u if ball[solid] else max(depth, u)
                if ball[solid]:
                    depth = np.sqrt(depth)
                least[i] = min(least[i], depth)
    return least
