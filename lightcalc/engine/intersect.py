"""What a ray meets first: a wall, an opening, a bar, an occluder, a lamp's face, or nothing."""

from __future__ import annotations

import numpy as np

from lightcalc.engine.direct import candela
from lightcalc.engine.geometry import hit_quad
from lightcalc.engine.kernels import inner
from lightcalc.engine.rows import face_of, figure_of, lamp_of, occluder_of, window_of
from lightcalc.engine.shadow import hit, near_ray
from lightcalc.engine.solid import FAR


@inner
def meet_wall(rig, ox, oy, oz, dx, dy, dz):
    """
    Where a ray from inside the box leaves it.

    Returns
    -------
    distance, surface : float, int
        Metres, and the index in SURFACE_ORDER; infinity and -1 outdoors for a ray that goes up.
    """
    if not rig.enclosed:
        if dz >= -1e-9:
            return np.inf, -1
        return max(oz, 0.0) / -dz, 4
    t, surface = np.inf, -1
    if dx < -1e-12:
        t, surface = ox / -dx, 0
    elif dx > 1e-12:
        t, surface = (rig.size[0] - ox) / dx, 1
    if dy < -1e-12:
        s = oy / -dy
        if s < t:
            t, surface = s, 2
    elif dy > 1e-12:
        s = (rig.size[1] - oy) / dy
        if s < t:
            t, surface = s, 3
    if dz < -1e-12:
        s = oz / -dz
        if s < t:
            t, surface = s, 4
    elif dz > 1e-12:
        s = (rig.size[2] - oz) / dz
        if s < t:
            t, surface = s, 5
    return max(t, 0.0), surface


@inner
def in_air_cells(rig, ox, oy, oz, dx, dy, dz):
    """The stretch of a ray that runs through the cells of the air; its end is not beyond its start where it misses them. [m]"""
    near, far = 0.0, np.inf
    for axis in range(3):
        o, d = (ox, dx) if axis == 0 else ((oy, dy) if axis == 1 else (oz, dz))
        a, b = rig.air_low[axis] - o, rig.air_low[axis] + rig.air_size[axis] - o
        if abs(d) < 1e-12:
            if a > 0.0 or b < 0.0:
                return 0.0, 0.0
            continue
        a, b = a / d, b / d
        near, far = max(near, min(a, b)), min(far, max(a, b))
    return near, far


@inner
def wall_normal(surface):
    """Unit normal of a box surface, into the room."""
    if surface == 0:
        return 1.0, 0.0, 0.0
    if surface == 1:
        return -1.0, 0.0, 0.0
    if surface == 2:
        return 0.0, 1.0, 0.0
    if surface == 3:
        return 0.0, -1.0, 0.0
    if surface == 4:
        return 0.0, 0.0, 1.0
    return 0.0, 0.0, -1.0


@inner
def window_at(rig, surface, x, y, z):
    """
    Which window a point on a wall lies in.

    Returns
    -------
    window, barred : int, bool
        -1 for plain wall; `barred` when the point is on one of its bars.
    """
    if surface > 3:
        return -1, False
    u = y if surface < 2 else x
    for index in range(rig.n_windows):
        window = window_of(rig, index)
        if window.wall != surface:
            continue
        a, b = u - window.box[0], z - window.box[2]
        width, height = window.box[1] - window.box[0], window.box[3] - window.box[2]
        if a < 0.0 or b < 0.0 or a > width or b > height:
            continue
        return index, _on_bar(a, width, window.bars[0], window.bar) or _on_bar(b, height, window.bars[1], window.bar)
    return -1, False


@inner
def _on_bar(along, side, bars, bar):
    if bars == 0:
        return False
    pitch = (side - bars * bar) / (bars + 1) + bar
    return along - int(along / pitch) * pitch > pitch - bar and along < bars * pitch


@inner
def meet_occluder(rig, ox, oy, oz, dx, dy, dz, nearer_than, skip, coarse):
    """
    The first occluder within a distance: distance, index, the face that is hit; or that distance, -1, 0.

    With `coarse` legs of tables and chairs are let by.
    """
    best, index, face = nearer_than, -1, 0
    for occluder in range(rig.flats):
        if occluder == skip:
            continue
        t, f = hit(rig, occluder, ox, oy, oz, dx, dy, dz)
        if t < min(best, FAR):
            best, index, face = t, occluder, f
    reach = min(best, 1e6)
    if rig.n_figures == 0 or not near_ray(rig.crowd_at, rig.crowd, ox, oy, oz, dx, dy, dz, reach):
        return best, index, face
    for k in range(rig.n_figures):
        figure = figure_of(rig, k)
        if not near_ray(figure.middle, figure.radius, ox, oy, oz, dx, dy, dz, reach):
            continue
        for occluder in range(figure.first, figure.first + (figure.bulky if coarse else figure.count)):
            row = occluder_of(rig, occluder)
            if occluder != skip and near_ray(row.middle, row.radius, ox, oy, oz, dx, dy, dz, reach):
                t, f = hit(rig, occluder, ox, oy, oz, dx, dy, dz)
                if t < min(best, FAR):
                    best, index, face = t, occluder, f
        reach = min(best, 1e6)
    return best, index, face


@inner
def meet_face(rig, ox, oy, oz, dx, dy, dz, nearer_than):
    """The first area lamp's face, from its lit side, within a distance: distance and index; or -1."""
    best, index = nearer_than, -1
    for face in range(rig.n_faces):
        t, s = hit_quad(face_of(rig, face).quad, ox, oy, oz, dx, dy, dz)
        if t < best and s > 0:
            best, index = t, face
    return best, index


@inner
def meet_bulb(rig, ox, oy, oz, dx, dy, dz, nearer_than):
    """
    The first lamp without a face, within a distance, that sends light back along the line: distance, index, luminance; or -1.

    It is drawn as a ball of radius `rig.bulb`; its luminance is what it sends this way over the ball's disc. [cd/m2]
    """
    best, index, luminance = nearer_than, -1, 0.0
    if rig.bulb <= 0.0:
        return best, index, luminance
    for k in range(rig.n_lamps):
        lamp = lamp_of(rig, k)
        if lamp.sun or lamp.face >= 0 or lamp.mirror >= 0:
            continue
        t = _ball(ox - lamp.at[0], oy - lamp.at[1], oz - lamp.at[2], dx, dy, dz, rig.bulb)
        if t < best:
            cd = candela(rig, k, -dx, -dy, -dz) * lamp.scale
            if cd > 0.0:
                best, index, luminance = t, k, cd / (np.pi * rig.bulb * rig.bulb)
    return best, index, luminance


@inner
def _ball(ox, oy, oz, dx, dy, dz, radius):
    b = ox * dx + oy * dy + oz * dz
    disc = b * b - (ox * ox + oy * oy + oz * oz - radius * radius)
    if disc <= 0.0:
        return np.inf
    t = -b - np.sqrt(disc)
    return t if t > 1e-6 else np.inf
