"""
Ellipsoids and boxes in the light: what they hide, in closed form.

Each is told in a frame of its own, u = into (x - middle), where an ellipsoid is the ball |u| = 1 and a box the cube
max |u| = 1. Straight lines stay straight there and shares of a way stay what they are, so every question is one about a
ball or a cube. What a convex thing hides from a lamp is convex as well: a line is in its shadow in one stretch or none.

        lamp *--___                    ball: the cone that touches it, beyond the plane through the touching circle,
                   --(###)=========          and the ball itself
             *--___  (###)========     cube: the planes through the lamp and the edges between lit faces and dark ones,
                   --[###]=========          beyond the lit faces
"""

from __future__ import annotations

import numpy as np

from lightcalc.engine.kernels import inner

FAR = 1e30  # no distance: compiled code must not count with infinities
BALL_SIDES = 12  # of the outline that stands for an ellipsoid's before a soft source, as large in solid angle
AROUND = np.column_stack(
    [np.cos(2 * np.pi * np.arange(BALL_SIDES) / BALL_SIDES), np.sin(2 * np.pi * np.arange(BALL_SIDES) / BALL_SIDES)]
)


@inner
def to_frame(into, dx, dy, dz):
    """A way in a solid's own frame; of a place, from its middle."""
    return (
        into[0, 0] * dx + into[0, 1] * dy + into[0, 2] * dz,
        into[1, 0] * dx + into[1, 1] * dy + into[1, 2] * dz,
        into[2, 0] * dx + into[2, 1] * dy + into[2, 2] * dz,
    )


@inner
def from_frame(into, u, v, w):
    """The way in the room of one in the frame: `into` has rows axis / half, square to each other."""
    x, y, z = 0.0, 0.0, 0.0
    for axis in range(3):
        part = u if axis == 0 else (v if axis == 1 else w)
        part /= into[axis, 0] ** 2 + into[axis, 1] ** 2 + into[axis, 2] ** 2
        x, y, z = x + part * into[axis, 0], y + part * into[axis, 1], z + part * into[axis, 2]
    return x, y, z


@inner
def _plane(planes, row, into, middle, a, b, c, offset):
    """A half-space of the frame, a u + b v + c w + offset >= 0, as a row of the room's."""
    for axis in range(3):
        planes[row, axis] = a * into[0, axis] + b * into[1, axis] + c * into[2, axis]
    planes[row, 3] = offset - (planes[row, 0] * middle[0] + planes[row, 1] * middle[1] + planes[row, 2] * middle[2])


@inner
def box_planes(into, middle, px, py, pz, far, planes):
    """
    The half-spaces that bound what a box hides from a point p of its frame, or with `far` from the direction p.

    Returns
    -------
    sides, count : int
        The first `sides` rows of `planes`, at most 6, go through the point; the others, at most 3, are the lit faces' own. None
        from inside the box.
    """
    sides, limit = 0, 0.0 if far else 1.0
    for axis in range(3):  # the edges along it
        j, k = (axis + 1) % 3, (axis + 2) % 3
        pj = px if j == 0 else (py if j == 1 else pz)
        pk = px if k == 0 else (py if k == 1 else pz)
        for edge in range(4):
            s, t = 1.0 - 2.0 * (edge % 2), 1.0 - 2.0 * (edge // 2)
            if (s * pj > limit) == (t * pk > limit):  # both faces lit, or both dark
                continue
            a, b = (pk, -pj) if far else (pk - t, s - pj)
            value = -(a * s + b * t)
            if value < 0.0:
                a, b, value = -a, -b, -value
            n0 = a if j == 0 else (b if k == 0 else 0.0)
            n1 = a if j == 1 else (b if k == 1 else 0.0)
            n2 = a if j == 2 else (b if k == 2 else 0.0)
            _plane(planes, sides, into, middle, n0, n1, n2, value)
            sides += 1
    count = sides
    for axis in range(3):
        p = px if axis == 0 else (py if axis == 1 else pz)
        if abs(p) > limit:
            s = -1.0 if p > 0.0 else 1.0
            _plane(planes, count, into, middle, s if axis == 0 else 0.0, s if axis == 1 else 0.0, s if axis == 2 else 0.0, 1.0)
            count += 1
    return sides, count


@inner
def _rim(px, py, pz):
    """
    The outline of the unit ball from a point p outside it, as a cone of BALL_SIDES edges that is as large in solid angle.

    Returns
    -------
    cosine, sine : float
        Of the angle from the axis, which goes to the ball's middle, to each edge.
    """
    touch = 1.0 / np.sqrt(px * px + py * py + pz * pz)  # sine of the touching cone's half angle
    turn = np.pi / BALL_SIDES
    if touch < 0.05:
        wide = touch * np.sqrt(turn / (np.sin(turn) * np.cos(turn)))
        return np.sqrt(1.0 - wide * wide), wide
    whole = 2.0 * np.pi * (1.0 - np.sqrt(max(1.0 - touch * touch, 0.0)))
    corner = 0.5 * (whole + (BALL_SIDES - 2) * np.pi) / BALL_SIDES  # half the angle between two sides, on the sphere
    cosine = np.cos(corner) / (np.sin(corner) * np.tan(turn))
    return cosine, np.sqrt(max(1.0 - cosine * cosine, 0.0))


@inner
def _about(px, py, pz):
    """The unit way from p to the middle, and two square to it, right-handed: e1, e2, f."""
    size = np.sqrt(px * px + py * py + pz * pz)
    fx, fy, fz = -px / size, -py / size, -pz / size
    sign = 1.0 if fz >= 0.0 else -1.0
    a = -1.0 / (sign + fz)
    b = fx * fy * a
    return 1.0 + sign * fx * fx * a, sign * b, -sign * fx, b, sign + fy * fy * a, -fy, fx, fy, fz


@inner
def ball_rim(px, py, pz, rim):
    """The edges of `_rim`'s cone as unit ways in the frame from p, into (BALL_SIDES, 3) or more of `rim`."""
    cosine, sine = _rim(px, py, pz)
    ax, ay, az, bx, by, bz, fx, fy, fz = _about(px, py, pz)
    for k in range(BALL_SIDES):
        c, s = sine * AROUND[k, 0], sine * AROUND[k, 1]
        rim[k, 0] = cosine * fx + c * ax + s * bx
        rim[k, 1] = cosine * fy + c * ay + s * by
        rim[k, 2] = cosine * fz + c * az + s * bz


@inner
def ball_planes(into, middle, px, py, pz, planes, rim):
    """`box_planes` of an ellipsoid seen from a point p of its frame, by an outline of BALL_SIDES sides; `rim` is scratch."""
    if px * px + py * py + pz * pz <= 1.0:
        return 0, 0
    ball_rim(px, py, pz, rim)
    for k in range(BALL_SIDES):
        u, v = rim[k], rim[(k + 1) % BALL_SIDES]
        a, b, c = u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]
        _plane(planes, k, into, middle, a, b, c, -(a * px + b * py + c * pz))
    _plane(planes, BALL_SIDES, into, middle, -px, -py, -pz, 1.0)
    return BALL_SIDES, BALL_SIDES + 1


@inner
def ball_between(px, py, pz, far, ux, uy, uz):
    """Whether the unit ball stands between u and a point p, or with `far` a direction p."""
    ex, ey, ez = (px, py, pz) if far else (px - ux, py - uy, pz - uz)
    along = -(ux * ex + uy * ey + uz * ez) / max(ex * ex + ey * ey + ez * ez, 1e-300)
    along = max(along, 0.0) if far else min(max(along, 0.0), 1.0)
    cx, cy, cz = ux + along * ex, uy + along * ey, uz + along * ez
    return cx * cx + cy * cy + cz * cz < 1.0


@inner
def box_between(px, py, pz, far, ux, uy, uz):
    """Whether the cube stands between u and a point p, or with `far` a direction p."""
    ex, ey, ez = (px, py, pz) if far else (px - ux, py - uy, pz - uz)
    near, away = 0.0, FAR if far else 1.0
    for axis in range(3):
        o, d = (ux, ex) if axis == 0 else ((uy, ey) if axis == 1 else (uz, ez))
        if abs(d) < 1e-14:
            if abs(o) >= 1.0:
                return False
            continue
        a, b = (-1.0 - o) / d, (1.0 - o) / d
        near, away = max(near, min(a, b)), min(away, max(a, b))
    return near < away


@inner
def ball_span(px, py, pz, far, ox, oy, oz, dx, dy, dz, low, high):
    """
    The stretch of a line o + t d of the frame that the unit ball hides from a point p, or with `far` from the unit direction p.

    Returns
    -------
    low, high : float
        Within those given; the first is not under the second where there is none.
    """
    dd = dx * dx + dy * dy + dz * dz
    od = ox * dx + oy * dy + oz * dz
    oo = ox * ox + oy * oy + oz * oz
    op, dp = ox * px + oy * py + oz * pz, dx * px + dy * py + dz * pz
    near, away = FAR, -FAR  # the ball itself
    disc = od * od - dd * (oo - 1.0)
    if disc > 0.0:
        root = np.sqrt(disc)
        near, away = (-od - root) / dd, (-od + root) / dd
    if far:  # a tube along p, behind the plane square to it through the middle: a t^2 + 2 b t + c >= 0 in it
        a, b, c, behind = dp * dp - dd, op * dp - od, 1.0 + op * op - oo, 0.0
    else:  # a cone with its apex at p, behind the plane through the touching circle
        pp = px * px + py * py + pz * pz
        if pp <= 1.0:
            return 1.0, 0.0
        k2, fw, fd = (pp - 1.0) / pp, (pp - op) / np.sqrt(pp), -dp / np.sqrt(pp)
        a, b = fd * fd - k2 * dd, fd * fw - k2 * (od - dp)
        c, behind = fw * fw - k2 * (oo - 2.0 * op + pp), 1.0
    start, end = -FAR, FAR  # where (o + t d) . p <= behind
    if dp > 1e-14:
        end = (behind - op) / dp
    elif dp < -1e-14:
        start = (behind - op) / dp
    elif op > behind:
        start, end = 1.0, 0.0
    disc = b * b - a * c
    if abs(a) < 1e-12 * dd:
        if abs(b) > 1e-14:
            start, end = (max(start, -0.5 * c / b), end) if b > 0.0 else (start, min(end, -0.5 * c / b))
        elif c < 0.0:
            start, end = 1.0, 0.0
    elif a < 0.0:  # inside between the roots
        if disc <= 0.0:
            start, end = 1.0, 0.0
        else:
            root = np.sqrt(disc)
            start, end = max(start, (b - root) / -a), min(end, (b + root) / -a)
    elif disc > 0.0:  # inside beyond the root that lies on the near side of the other half of the cone
        root = np.sqrt(disc)
        if dp < 0.0:
            start = max(start, (-b + root) / a)
        else:
            end = min(end, (-b - root) / a)
    if start < end:
        near, away = min(near, start), max(away, end)
    return max(low, near), min(high, away)


@inner
def hit_ball(ox, oy, oz, dx, dy, dz):
    """How far along a ray of the frame the unit ball begins, from outside it; FAR for a miss."""
    dd, od = dx * dx + dy * dy + dz * dz, ox * dx + oy * dy + oz * dz
    disc = od * od - dd * (ox * ox + oy * oy + oz * oz - 1.0)
    if disc <= 0.0 or od >= 0.0:
        return FAR
    t = (-od - np.sqrt(disc)) / dd
    return t if t > 1e-7 else FAR


@inner
def hit_box(ox, oy, oz, dx, dy, dz):
    """
    How far along a ray of the frame the cube begins, from outside it.

    Returns
    -------
    distance, face : float, int
        FAR for a miss; 2 axis for a face on the positive side, 2 axis + 1 for one on the negative.
    """
    near, away, face = -FAR, FAR, 0
    for axis in range(3):
        o, d = (ox, dx) if axis == 0 else ((oy, dy) if axis == 1 else (oz, dz))
        if abs(d) < 1e-14:
            if abs(o) >= 1.0:
                return FAR, 0
            continue
        a, b = (-1.0 - o) / d, (1.0 - o) / d
        if min(a, b) > near:
            near, face = min(a, b), 2 * axis + (1 if d > 0.0 else 0)
        away = min(away, max(a, b))
    if near >= away or near <= 1e-7:
        return FAR, 0
    return near, face
