"""Planes, polygons and tables for the light engine: small compiled kernels, and the closed forms they use."""

from __future__ import annotations

import numpy as np

from lightcalc.engine.kernels import NUMBERS, TABLE, TRUTH, inner, kernel

MOST_CORNERS = 96  # a quadrilateral gains at most one corner for each plane that cuts it: six ellipsoids have 78


def cone_planes(apex, is_direction, quad):
    """
    Five planes that bound what lies behind a quadrilateral as seen from a point, or along parallel rays.

    Parameters
    ----------
    apex : array (3,)
        The point [m]; with `is_direction`, the unit vector towards a source at infinity.
    is_direction : bool
        Whether `apex` is a direction.
    quad : array (4, 3)
        Corners in order. [m]

    Returns
    -------
    array (5, 4)
        Rows (n, c): a point x is behind the quadrilateral when n . x + c >= 0 in every row. The last
        row is the quadrilateral's own plane.
    """
    planes = np.empty((5, 4))
    _cone_planes_of(np.ascontiguousarray(apex, dtype=float), bool(is_direction), np.ascontiguousarray(quad, dtype=float), planes)
    return planes


@kernel(NUMBERS, TRUTH, TABLE, TABLE)
def _cone_planes_of(apex, is_direction, quad, planes):
    plane_cone(apex, is_direction, quad, planes)


@inner
def plane_cone(apex, is_direction, quad, planes):
    """Fill in `cone_planes`: compiled, for a hand that moves a lamp asks for dozens."""
    cx = 0.25 * (quad[0, 0] + quad[1, 0] + quad[2, 0] + quad[3, 0])
    cy = 0.25 * (quad[0, 1] + quad[1, 1] + quad[2, 1] + quad[3, 1])
    cz = 0.25 * (quad[0, 2] + quad[1, 2] + quad[2, 2] + quad[3, 2])
    ax, ay, az = cx - apex[0], cy - apex[1], cz - apex[2]  # the way the light goes
    if is_direction:
        ax, ay, az = -apex[0], -apex[1], -apex[2]
    for k in range(5):
        a, b = quad[k % 4], quad[(k + 1) % 4]
        ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
        if k == 4:  # its own plane
            vx, vy, vz = quad[2, 0] - a[0], quad[2, 1] - a[1], quad[2, 2] - a[2]
        elif is_direction:
            vx, vy, vz = ax, ay, az
        else:
            vx, vy, vz = a[0] - apex[0], a[1] - apex[1], a[2] - apex[2]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = max(np.sqrt(nx * nx + ny * ny + nz * nz), 1e-300)
        nx, ny, nz = nx / size, ny / size, nz / size
        offset = -(nx * a[0] + ny * a[1] + nz * a[2])
        inward = nx * ax + ny * ay + nz * az if k == 4 else nx * cx + ny * cy + nz * cz + offset
        sign = -1.0 if inward < 0.0 else 1.0
        planes[k, 0], planes[k, 1], planes[k, 2], planes[k, 3] = sign * nx, sign * ny, sign * nz, sign * offset


def half_sine_table(function, n=2048):
    """
    A function of an angle in [0, pi], tabulated evenly in sin(angle / 2): fine near 0, no arc cosine to look up.

    Parameters
    ----------
    function : callable
        Of an array of angles. [rad]
    n : int, default 2048
        Entries.

    Returns
    -------
    array (n,)
        `function(theta_rad)` at sin(theta / 2) = 0 .. 1.
    """
    return np.ascontiguousarray(function(2.0 * np.arcsin(np.linspace(0.0, 1.0, n))), dtype=float)


def phase_moments(phase, most):
    """
    Legendre moments of a phase function. [1]

    Parameters
    ----------
    phase : array (n,)
        Half-sine table. [1/sr]
    most : int
        The highest order.

    Returns
    -------
    array (most + 1,)
        Orders 0 to `most`; the zeroth is 1 by definition, for Henyey-Greenstein order l is g^l.
    """
    half = np.linspace(0.0, 1.0, len(phase))
    cosine = 1.0 - 2.0 * half**2
    weight = phase * 8.0 * np.pi * half  # d omega = 2 pi sin d theta = 8 pi s ds
    moments = np.trapezoid(weight * np.polynomial.legendre.legvander(cosine, most).T, half)
    return moments / moments[0]


@inner
def total(values):
    """The sum of a row of numbers; numpy's own would bring scipy.linalg along whenever a kernel is read."""
    found = 0.0
    for k in range(values.shape[0]):
        found += values[k]
    return found


@inner
def lookup(table, cosine):
    """Read a half-sine table at the cosine of its angle, linearly."""
    return at_step(table, np.sqrt(max(0.5 * (1.0 - cosine), 0.0)) * (table.shape[0] - 1))


@inner
def at_step(table, place):
    """Read a table between two of its steps, linearly."""
    k = min(int(place), table.shape[0] - 2)
    f = place - k
    return table[k] * (1.0 - f) + table[k + 1] * f


@inner
def fading(depth):
    """
    exp(-depth), of a depth that is not negative, by sums and products alone, so that several are worked out at once.

    As the 64th power of the sixth-order series for a 64th of the depth: to 1e-9 at a depth of 3, to 1e-6 at 10.
    """
    part = min(depth, 64.0) / 64.0
    part = 1.0 - part * (1.0 - part * (1.0 / 2.0 - part * (1.0 / 6.0 - part * (1.0 / 24.0 - part * (1.0 / 120.0 - part / 720.0)))))
    part = part * part * part * part
    part = part * part * part * part
    return part * part * part * part


@inner
def clip_line(planes, count, ox, oy, oz, dx, dy, dz, low, high):
    """The stretch of a line inside `count` planes, within [low, high]; empty when the first exceeds the second."""
    for k in range(count):
        rate = planes[k, 0] * dx + planes[k, 1] * dy + planes[k, 2] * dz
        value = planes[k, 0] * ox + planes[k, 1] * oy + planes[k, 2] * oz + planes[k, 3]
        if rate > 1e-14:
            low = max(low, -value / rate)
        elif rate < -1e-14:
            high = min(high, -value / rate)
        elif value < 0.0:
            return 1.0, 0.0
        if low >= high:
            return 1.0, 0.0
    return low, high


@inner
def inside(planes, count, x, y, z):
    """Whether a point lies inside `count` planes."""
    for k in range(count):
        if planes[k, 0] * x + planes[k, 1] * y + planes[k, 2] * z + planes[k, 3] < 0.0:
            return False
    return True


@inner
def clip_cone(cos_cut, ax, ay, az, fx, fy, fz, ox, oy, oz, dx, dy, dz, low, high):
    """
    The stretch of a line inside a cone about a lamp's axis, within [low, high].

    The cone has its apex at a, axis f and half angle acos(cos_cut) < 90 degrees: on the line,
    (f . (x - a))^2 >= cos_cut^2 |x - a|^2 with f . (x - a) > 0.
    """
    wx, wy, wz = ox - ax, oy - ay, oz - az
    fd = fx * dx + fy * dy + fz * dz
    fw = fx * wx + fy * wy + fz * wz
    dw = dx * wx + dy * wy + dz * wz
    ww = wx * wx + wy * wy + wz * wz
    k2 = cos_cut * cos_cut
    a = fd * fd - k2
    b = fd * fw - k2 * dw
    c = fw * fw - k2 * ww
    # first the forward half-space f . (x - a) > 0
    if fd > 1e-12:
        low = max(low, -fw / fd)
    elif fd < -1e-12:
        high = min(high, -fw / fd)
    elif fw <= 0.0:
        return 1.0, 0.0
    if low >= high:
        return 1.0, 0.0
    disc = b * b - a * c
    if disc <= 0.0:
        if a < 0.0:  # the line never enters
            return 1.0, 0.0
        return low, high
    root = np.sqrt(disc)
    if a < 0.0:  # inside between the roots
        r1, r2 = (-b + root) / a, (-b - root) / a
        return max(low, min(r1, r2)), min(high, max(r1, r2))
    if a > 1e-14:  # inside beyond the outer root that lies in front
        r1, r2 = (-b - root) / a, (-b + root) / a
        if fd > 0.0:
            return max(low, r2), high
        return low, min(high, r1)
    return low, high


@inner
def clip_polygon(poly, count, a, b, c, d, out):
    """Cut a polygon by the plane (a, b, c, d), keep the inside in `out`, give its corner count."""
    kept = 0
    px, py, pz = poly[count - 1, 0], poly[count - 1, 1], poly[count - 1, 2]
    pv = a * px + b * py + c * pz + d
    for k in range(count):
        x, y, z = poly[k, 0], poly[k, 1], poly[k, 2]
        v = a * x + b * y + c * z + d
        if (v >= 0.0) != (pv >= 0.0):
            f = pv / (pv - v)
            out[kept, 0], out[kept, 1], out[kept, 2] = px + f * (x - px), py + f * (y - py), pz + f * (z - pz)
            kept += 1
        if v >= 0.0:
            out[kept, 0], out[kept, 1], out[kept, 2] = x, y, z
            kept += 1
        px, py, pz, pv = x, y, z, v
    return kept


@inner
def edge_sum(poly, count, x, y, z, nx, ny, nz):
    """
    Lambert's formula: the signed configuration factor of a polygon as seen from a point. [1]

    F = (1 / 2 pi) sum over edges of (edge angle) x (n . unit normal of the edge's plane). The sign
    follows the corner order; parts behind the receiver's plane count as negative, so cut them first.

    References: J. H. Lambert, Photometria (1760); the contour form is in any radiation heat
    transfer text (Sparrow 1963).
    """
    total = 0.0
    ax, ay, az = poly[count - 1, 0] - x, poly[count - 1, 1] - y, poly[count - 1, 2] - z
    la = ax * ax + ay * ay + az * az
    for k in range(count):
        bx, by, bz = poly[k, 0] - x, poly[k, 1] - y, poly[k, 2] - z
        lb = bx * bx + by * by + bz * bz
        cx, cy, cz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
        lc = np.sqrt(cx * cx + cy * cy + cz * cz)
        dot = ax * bx + ay * by + az * bz
        if lc > 1e-12 * np.sqrt(la * lb) and lc > 0.0:
            total += np.arctan2(lc, dot) / lc * (nx * cx + ny * cy + nz * cz)
        ax, ay, az, la = bx, by, bz, lb
    return total / (2.0 * np.pi)


@inner
def flat_factor(poly, count, x, y, z, nx, ny, nz, spare):
    """Configuration factor of a polygon for a flat receiver at x with normal n, cut at its horizon. [1]"""
    above = 0
    for k in range(count):
        if (poly[k, 0] - x) * nx + (poly[k, 1] - y) * ny + (poly[k, 2] - z) * nz > 0.0:
            above += 1
    if above == 0:
        return 0.0
    if above == count:
        return abs(edge_sum(poly, count, x, y, z, nx, ny, nz))
    kept = clip_polygon(poly, count, nx, ny, nz, -(nx * x + ny * y + nz * z), spare)
    if kept < 3:
        return 0.0
    return abs(edge_sum(spare, kept, x, y, z, nx, ny, nz))


@inner
def solid_angle(poly, count, x, y, z):
    """
    Solid angle of a convex polygon seen from a point, by a fan of triangles. [sr]

    References: A. Van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    total = 0.0
    ax, ay, az = poly[0, 0] - x, poly[0, 1] - y, poly[0, 2] - z
    la = np.sqrt(ax * ax + ay * ay + az * az)
    for k in range(1, count - 1):
        bx, by, bz = poly[k, 0] - x, poly[k, 1] - y, poly[k, 2] - z
        cx, cy, cz = poly[k + 1, 0] - x, poly[k + 1, 1] - y, poly[k + 1, 2] - z
        lb = np.sqrt(bx * bx + by * by + bz * bz)
        lc = np.sqrt(cx * cx + cy * cy + cz * cz)
        triple = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
        ab, bc, ca = ax * bx + ay * by + az * bz, bx * cx + by * cy + bz * cz, cx * ax + cy * ay + cz * az
        total += 2.0 * np.arctan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb)
    return abs(total)


@inner
def receive(poly, count, x, y, z, nx, ny, nz, dome, spare):
    """
    How much of a polygon's light a receptor takes: E = pi L x this. [1]

    Flat: the configuration factor. Dome, weight (1 + cos) / 2: (solid angle / pi + signed factor) / 2.
    """
    if not dome:
        return flat_factor(poly, count, x, y, z, nx, ny, nz, spare)
    # the signed factor: take the corner order that makes the polygon face the point
    signed = edge_sum(poly, count, x, y, z, nx, ny, nz)
    mx, my, mz = 0.0, 0.0, 0.0
    for k in range(count):
        mx += poly[k, 0] - x
        my += poly[k, 1] - y
        mz += poly[k, 2] - z
    if edge_sum(poly, count, x, y, z, mx, my, mz) < 0.0:  # along its own middle it must be positive
        signed = -signed
    return max(0.5 * (solid_angle(poly, count, x, y, z) / np.pi + signed), 0.0)  # a sliver behind it rounds to either side of 0


@inner
def cut_by_planes(poly, count, planes, n_planes, a, b):
    """Keep what lies inside all planes. The result is in `a` (its corner count returned); `b` is scratch."""
    for k in range(count):
        a[k, 0], a[k, 1], a[k, 2] = poly[k, 0], poly[k, 1], poly[k, 2]
    for p in range(n_planes):
        kept = clip_polygon(a, count, planes[p, 0], planes[p, 1], planes[p, 2], planes[p, 3], b)
        if kept < 3:
            return 0
        for k in range(kept):
            a[k, 0], a[k, 1], a[k, 2] = b[k, 0], b[k, 1], b[k, 2]
        count = kept
    return count


@inner
def view_planes(quad, x, y, z, planes):
    """The five planes of `cone_planes` for a moving apex, written into `planes`; False if the apex is in its plane."""
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    nx, ny, nz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    size = np.sqrt(nx * nx + ny * ny + nz * nz)
    nx, ny, nz = nx / size, ny / size, nz / size
    gap = nx * (quad[0, 0] - x) + ny * (quad[0, 1] - y) + nz * (quad[0, 2] - z)
    if abs(gap) < 1e-7:
        return False
    side = 1.0 if gap > 0.0 else -1.0
    planes[4, 0], planes[4, 1], planes[4, 2] = side * nx, side * ny, side * nz
    planes[4, 3] = -side * (nx * quad[0, 0] + ny * quad[0, 1] + nz * quad[0, 2])
    for k in range(4):
        j = (k + 1) % 4
        px, py, pz = quad[k, 0] - x, quad[k, 1] - y, quad[k, 2] - z
        qx, qy, qz = quad[j, 0] - x, quad[j, 1] - y, quad[j, 2] - z
        # the edge plane; with corners anticlockwise about the normal, side turns it inwards
        cx, cy, cz = side * (py * qz - pz * qy), side * (pz * qx - px * qz), side * (px * qy - py * qx)
        planes[k, 0], planes[k, 1], planes[k, 2] = cx, cy, cz
        planes[k, 3] = -(cx * x + cy * y + cz * z)
    return True


@inner
def hit_quad(quad, ox, oy, oz, dx, dy, dz):
    """Distance along a ray to a rectangle, and which side was hit (+1 the side its normal leaves); inf for a miss."""
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    nx, ny, nz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    rate = nx * dx + ny * dy + nz * dz
    if rate == 0.0:
        return np.inf, 0
    t = (nx * (quad[0, 0] - ox) + ny * (quad[0, 1] - oy) + nz * (quad[0, 2] - oz)) / rate
    if t <= 1e-7:
        return np.inf, 0
    px, py, pz = ox + t * dx - quad[0, 0], oy + t * dy - quad[0, 1], oz + t * dz - quad[0, 2]
    u = (px * ax + py * ay + pz * az) / (ax * ax + ay * ay + az * az)
    v = (px * bx + py * by + pz * bz) / (bx * bx + by * by + bz * bz)
    if u < 0.0 or u > 1.0 or v < 0.0 or v > 1.0:
        return np.inf, 0
    return t, (1 if rate < 0.0 else -1)
