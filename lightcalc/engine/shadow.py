"""
What stands in the way, whatever its shape: shadows from lamps, outlines as a receptor sees them, and what a ray meets.

A rectangle is one of `geometry`'s, an ellipsoid or a box one of `solid`'s; here alone the three are told apart.
"""

from __future__ import annotations

import numpy as np

from lightcalc.engine.geometry import clip_line, cut_by_planes, hit_quad, inside, plane_cone, view_planes
from lightcalc.engine.kernels import inner, kernel, plain, rows
from lightcalc.engine.rows import BALL, BOX, FLAT, LAMP, OCCLUDER, SHADE, facet_of, figure_of, occluder_of, shade_of, wide
from lightcalc.engine.solid import (
    BALL_SIDES,
    ball_between,
    ball_planes,
    ball_rim,
    ball_span,
    box_between,
    box_planes,
    from_frame,
    hit_ball,
    hit_box,
    to_frame,
)

FAR_OFF, ROUGHLY_FAR = 6.0**2, 2.5**2  # its distance over its radius, squared, where an occluder is its area and no outline

# -- shadows from lamps --------------------------------------------------------------------------------


@kernel(rows(LAMP), rows(OCCLUDER), rows(OCCLUDER), rows(SHADE))
def cast(lamps, occluders, images, shades):
    """
    Fill in what each occluder hides from each lamp sample; then, where there are mirrors, what its image hides.

    `images` holds every occluder as each of them mirrors it, the mirror counting slowest; it is empty where nothing mirrors.
    """
    n, width = occluders.shape[0], shades.shape[0] // max(lamps.shape[0], 1)
    for k in range(lamps.shape[0]):
        lamp = lamps[k]
        for j in range(width):
            row = occluders[j] if j < n else images[max(lamp.mirror, 0) * n + j - n]
            shade = shades[k * width + j]
            shade.shape, shade.far = row.shape, lamp.sun
            if row.shape == FLAT:
                shade.count = 5
                plane_cone(wide(lamp.at), lamp.sun, wide(row.quad), wide(shade.planes))
                continue
            from_middle = 0.0 if lamp.sun else 1.0
            px, py, pz = to_frame(
                wide(row.into),
                lamp.at[0] - from_middle * row.middle[0],
                lamp.at[1] - from_middle * row.middle[1],
                lamp.at[2] - from_middle * row.middle[2],
            )
            if row.shape == BOX:
                shade.count = box_planes(wide(row.into), wide(row.middle), px, py, pz, lamp.sun, wide(shade.planes))[1]
                continue
            size = np.sqrt(px * px + py * py + pz * pz) if lamp.sun else 1.0
            shade.lamp[0], shade.lamp[1], shade.lamp[2] = px / size, py / size, pz / size
            for axis in range(3):
                shade.middle[axis] = row.middle[axis]
                for other in range(3):
                    shade.into[axis, other] = row.into[axis, other]


@inner
def in_shade(rig, shade, x, y, z):
    """Whether a point lies in a shadow; `shade` counts lamps, then what they fall on."""
    row = shade_of(rig, shade)
    if row.shape != BALL:
        return row.count > 0 and inside(row.planes, row.count, x, y, z)
    ux, uy, uz = to_frame(wide(row.into), x - row.middle[0], y - row.middle[1], z - row.middle[2])
    return ball_between(row.lamp[0], row.lamp[1], row.lamp[2], row.far, ux, uy, uz)


@inner
def shade_span(rig, shade, ox, oy, oz, dx, dy, dz, low, high):
    """The stretch of a line in a shadow, within [low, high]; the first is not under the second where there is none. [m]"""
    row = shade_of(rig, shade)
    if row.shape != BALL:
        if row.count == 0:
            return 1.0, 0.0
        return clip_line(row.planes, row.count, ox, oy, oz, dx, dy, dz, low, high)
    into = wide(row.into)
    ux, uy, uz = to_frame(into, ox - row.middle[0], oy - row.middle[1], oz - row.middle[2])
    vx, vy, vz = to_frame(into, dx, dy, dz)
    return ball_span(row.lamp[0], row.lamp[1], row.lamp[2], row.far, ux, uy, uz, vx, vy, vz, low, high)


# -- outlines as a receptor sees them ------------------------------------------------------------------


@inner
def view(rig, occluder, x, y, z, planes, rim):
    """
    The half-spaces that bound what an occluder hides from a point, into `planes`; `rim` is scratch.

    Returns
    -------
    sides, count : int
        The first `sides` go through the point, the others are the occluder's near side; none where it hides nothing.
    """
    row = occluder_of(rig, occluder)
    if row.shape == FLAT:
        return (4, 5) if view_planes(wide(row.quad), x, y, z, planes) else (0, 0)
    into, middle = wide(row.into), wide(row.middle)
    px, py, pz = to_frame(into, x - middle[0], y - middle[1], z - middle[2])
    if row.shape == BOX:
        return box_planes(into, middle, px, py, pz, False, planes)
    return ball_planes(into, middle, px, py, pz, planes, rim)


@inner
def cut_to(poly, count, planes, many, out, spare):
    """Keep what lies inside so many half-spaces of a polygon, in `out`; its corner count, 0 for none of it."""
    for k in range(many):
        outside = True
        for j in range(count):
            if planes[k, 0] * poly[j, 0] + planes[k, 1] * poly[j, 1] + planes[k, 2] * poly[j, 2] + planes[k, 3] > 1e-9:
                outside = False
                break
        if outside:
            return 0
    return cut_by_planes(poly, count, planes, many, out, spare)


@inner
def seen_far(rig, occluder, x, y, z):
    """
    Whether an occluder is small as seen from a point, and how it is seen: solid angle, and the unit way to its middle. [sr]

    What one shows of itself is its area as it projects: of an ellipsoid pi times the root of the sum of (b c n_a)^2, of a box 4
    times the sum of b c |n_a|, over its half axes a, b and c; small is a sixth of the way or less, where that is within a per cent or two,
    in a crowded draft two fifths.
    """
    row = occluder_of(rig, occluder)
    ax, ay, az = row.middle[0] - x, row.middle[1] - y, row.middle[2] - z
    d2 = ax * ax + ay * ay + az * az
    if d2 < (ROUGHLY_FAR if rig.rough else FAR_OFF) * row.radius * row.radius:
        return False, 0.0, 0.0, 0.0, 1.0
    d = np.sqrt(d2)
    ax, ay, az = ax / d, ay / d, az / d
    if row.shape == FLAT:
        sx, sy, sz = row.quad[1, 0] - row.quad[0, 0], row.quad[1, 1] - row.quad[0, 1], row.quad[1, 2] - row.quad[0, 2]
        tx, ty, tz = row.quad[3, 0] - row.quad[0, 0], row.quad[3, 1] - row.quad[0, 1], row.quad[3, 2] - row.quad[0, 2]
        area = abs(ax * (sy * tz - sz * ty) + ay * (sz * tx - sx * tz) + az * (sx * ty - sy * tx))
        return True, area / d2, ax, ay, az
    u, v, w = to_frame(wide(row.into), ax, ay, az)
    volume = 1.0
    for axis in range(3):
        into = row.into
        volume /= np.sqrt(into[axis, 0] ** 2 + into[axis, 1] ** 2 + into[axis, 2] ** 2)
    if row.shape == BALL:
        return True, np.pi * volume * np.sqrt(u * u + v * v + w * w) / d2, ax, ay, az
    return True, 4.0 * volume * (abs(u) + abs(v) + abs(w)) / d2, ax, ay, az


@inner
def outlines(rig, occluder, x, y, z):
    """How many polygons show an occluder to a point: a rectangle and an ellipsoid are one, a box its faces that face the point."""
    row = occluder_of(rig, occluder)
    if row.shape == FLAT:
        return 1
    px, py, pz = to_frame(wide(row.into), x - row.middle[0], y - row.middle[1], z - row.middle[2])
    if row.shape == BALL:
        return 1 if px * px + py * py + pz * pz > 1.0 else 0
    return int(abs(px) > 1.0) + int(abs(py) > 1.0) + int(abs(pz) > 1.0)


@inner
def outline(rig, occluder, which, x, y, z, poly, rim):
    """One of these polygons, into `poly`; its corner count."""
    row = occluder_of(rig, occluder)
    if row.shape == FLAT:
        for k in range(4):
            poly[k, 0], poly[k, 1], poly[k, 2] = row.quad[k, 0], row.quad[k, 1], row.quad[k, 2]
        return 4
    into = wide(row.into)
    px, py, pz = to_frame(into, x - row.middle[0], y - row.middle[1], z - row.middle[2])
    if row.shape == BALL:
        ball_rim(px, py, pz, rim)
        for k in range(BALL_SIDES):
            vx, vy, vz = from_frame(into, rim[k, 0], rim[k, 1], rim[k, 2])
            poly[k, 0], poly[k, 1], poly[k, 2] = x + vx, y + vy, z + vz
        return BALL_SIDES
    seen = -1
    for axis in range(3):
        p = px if axis == 0 else (py if axis == 1 else pz)
        if abs(p) > 1.0:
            seen += 1
            if seen == which:
                _face_corners(row, into, axis, 1.0 if p > 0.0 else -1.0, poly)
                return 4
    return 0


@inner
def _face_corners(row, into, axis, side, poly):
    """The corners of a box's face, anticlockwise as seen from outside."""
    for k in range(4):
        s = 1.0 if k == 1 or k == 2 else -1.0
        t = (1.0 if k >= 2 else -1.0) * side
        u = side if axis == 0 else (s if axis == 2 else t)
        v = side if axis == 1 else (s if axis == 0 else t)
        w = side if axis == 2 else (s if axis == 1 else t)
        vx, vy, vz = from_frame(into, u, v, w)
        poly[k, 0], poly[k, 1], poly[k, 2] = row.middle[0] + vx, row.middle[1] + vy, row.middle[2] + vz


# -- what a ray meets ----------------------------------------------------------------------------------


@inner
def near_way(middle, radius, x, y, z, ex, ey, ez):
    """Whether the way e from a point comes into a ball."""
    ax, ay, az = middle[0] - x, middle[1] - y, middle[2] - z
    ae, ee, aa = ax * ex + ay * ey + az * ez, ex * ex + ey * ey + ez * ez, ax * ax + ay * ay + az * az
    if ae <= 0.0:
        return aa < radius * radius
    if ae >= ee:
        return aa - 2.0 * ae + ee < radius * radius
    return aa * ee - ae * ae < radius * radius * ee


@inner
def near_ray(middle, radius, x, y, z, dx, dy, dz, reach):
    """`near_way` along a unit direction, so many metres far."""
    ax, ay, az = middle[0] - x, middle[1] - y, middle[2] - z
    ad = ax * dx + ay * dy + az * dz
    along = min(max(ad, 0.0), reach)
    return ax * ax + ay * ay + az * az - along * (2.0 * ad - along) < radius * radius


@inner
def crosses(rig, occluder, x, y, z, tx, ty, tz):
    """Whether an occluder stands between two points."""
    row = occluder_of(rig, occluder)
    middle = row.middle
    ax, ay, az = x - middle[0], y - middle[1], z - middle[2]
    bx, by, bz = tx - middle[0], ty - middle[1], tz - middle[2]
    if row.shape == FLAT:
        normal = row.normal
        here = normal[0] * ax + normal[1] * ay + normal[2] * az
        there = normal[0] * bx + normal[1] * by + normal[2] * bz
        if here * there >= 0.0:  # both on one side
            return False
        t = here / (here - there)
        cx, cy, cz = ax + t * (bx - ax), ay + t * (by - ay), az + t * (bz - az)
        if cx * cx + cy * cy + cz * cz > row.radius * row.radius:
            return False
        right, up, width, height = 0.0, 0.0, 0.0, 0.0
        for axis in range(3):
            c = cx if axis == 0 else (cy if axis == 1 else cz)
            p, q = row.quad[1, axis] - row.quad[0, axis], row.quad[3, axis] - row.quad[0, axis]
            right, up, width, height = right + c * p, up + c * q, width + p * p, height + q * q
        return 2.0 * abs(right) <= width and 2.0 * abs(up) <= height
    if not near_way(middle, row.radius, x, y, z, tx - x, ty - y, tz - z):
        return False
    into = wide(row.into)
    ux, uy, uz = to_frame(into, ax, ay, az)
    px, py, pz = to_frame(into, bx, by, bz)
    if row.shape == BALL:
        return ball_between(px, py, pz, False, ux, uy, uz)
    return box_between(px, py, pz, False, ux, uy, uz)


@inner
def clear_to(rig, x, y, z, tx, ty, tz, skip):
    """Share of light that occluders let through between two points; legs of tables and chairs are too thin to count. [1]"""
    share = 1.0
    for occluder in range(rig.flats):
        if occluder != skip and crosses(rig, occluder, x, y, z, tx, ty, tz):
            share *= occluder_of(rig, occluder).passes
            if share == 0.0:
                return 0.0
    return share if past_figures(rig, x, y, z, tx, ty, tz, skip) else 0.0


@inner
def past_figures(rig, x, y, z, tx, ty, tz, skip):
    """Whether no person or piece of furniture stands between two points, as `clear_to` has it."""
    if rig.n_figures == 0 or not near_way(rig.crowd_at, rig.crowd, x, y, z, tx - x, ty - y, tz - z):
        return True
    for k in range(rig.n_figures):
        figure = figure_of(rig, k)
        if not near_way(figure.middle, figure.radius, x, y, z, tx - x, ty - y, tz - z):
            continue
        for occluder in range(figure.first, figure.first + figure.bulky):
            if occluder != skip and crosses(rig, occluder, x, y, z, tx, ty, tz):
                return False
    return True


@inner
def past_flats(rig, x, y, z, places, light):
    """
    What rectangles let through of the light that comes to a point from many places, (3 or more, n), taken off `light`, (n,).

    As `clear_to` has it of one place, many at a time.
    """
    for occluder in range(rig.flats):
        row = occluder_of(rig, occluder)
        _past_flat(wide(row.quad), wide(row.normal), wide(row.middle), row.passes, x, y, z, places, light)


@inner
def near_crowd(rig, x, y, z, places, near):
    """Which of many ways to a point come near the people and furniture, into `near`, (n,): 1, the others 0."""
    near[:] = 0.0
    if rig.n_figures > 0:
        _near_ball(wide(rig.crowd_at), rig.crowd, x, y, z, places, near)


@plain
def _near_ball(middle, radius, x, y, z, places, near):
    """`near_way` of one ball and many ways that end at one point."""
    ax, ay, az = middle[0] - x, middle[1] - y, middle[2] - z
    for k in range(near.shape[0]):
        ex, ey, ez = places[0, k] - x, places[1, k] - y, places[2, k] - z
        ee = max(ex * ex + ey * ey + ez * ez, 1e-18)
        along = min(max((ax * ex + ay * ey + az * ez) / ee, 0.0), 1.0)
        dx, dy, dz = ax - along * ex, ay - along * ey, az - along * ez
        near[k] = 1.0 if dx * dx + dy * dy + dz * dz < radius * radius else 0.0


@plain
def _past_flat(quad, normal, middle, passes, x, y, z, places, light):
    """`past_flats` of one."""
    px, py, pz = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    qx, qy, qz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    width, height = px * px + py * py + pz * pz, qx * qx + qy * qy + qz * qz
    nx, ny, nz, mx, my, mz = normal[0], normal[1], normal[2], middle[0], middle[1], middle[2]
    ax, ay, az = x - mx, y - my, z - mz
    here = nx * ax + ny * ay + nz * az
    for k in range(light.shape[0]):
        bx, by, bz = places[0, k] - mx, places[1, k] - my, places[2, k] - mz
        there = nx * bx + ny * by + nz * bz
        t = here / max(abs(here - there), 1e-12) * (1.0 if here > there else -1.0)
        cx, cy, cz = ax + t * (bx - ax), ay + t * (by - ay), az + t * (bz - az)
        across, along = abs(cx * px + cy * py + cz * pz), abs(cx * qx + cy * qy + cz * qz)
        met = here * there < 0.0 and 2.0 * across <= width and 2.0 * along <= height
        light[k] *= passes if met else 1.0


@inner
def hit(rig, occluder, ox, oy, oz, dx, dy, dz):
    """Distance along a ray to an occluder, and which of its faces it meets; `solid.FAR` or more for a miss."""
    row = occluder_of(rig, occluder)
    if row.shape == FLAT:
        t, side = hit_quad(wide(row.quad), ox, oy, oz, dx, dy, dz)
        return t, 0 if side > 0 else 1
    into = wide(row.into)
    ux, uy, uz = to_frame(into, ox - row.middle[0], oy - row.middle[1], oz - row.middle[2])
    vx, vy, vz = to_frame(into, dx, dy, dz)
    if row.shape == BALL:
        return hit_ball(ux, uy, uz, vx, vy, vz), 0
    return hit_box(ux, uy, uz, vx, vy, vz)


@inner
def face_normal(rig, occluder, face, x, y, z):
    """Unit normal of an occluder, out of the face that a point of it is on."""
    row = occluder_of(rig, occluder)
    if row.shape == FLAT:
        side = 1.0 if face == 0 else -1.0
        return side * row.normal[0], side * row.normal[1], side * row.normal[2]
    into = wide(row.into)
    u, v, w = 0.0, 0.0, 0.0
    if row.shape == BALL:
        u, v, w = to_frame(into, x - row.middle[0], y - row.middle[1], z - row.middle[2])
    else:
        side = 1.0 if face % 2 == 0 else -1.0
        u, v, w = side * (face // 2 == 0), side * (face // 2 == 1), side * (face // 2 == 2)
    nx = into[0, 0] * u + into[1, 0] * v + into[2, 0] * w
    ny = into[0, 1] * u + into[1, 1] * v + into[2, 1] * w
    nz = into[0, 2] * u + into[1, 2] * v + into[2, 2] * w
    size = np.sqrt(nx * nx + ny * ny + nz * nz)
    return nx / size, ny / size, nz / size


@inner
def reflects(rig, occluder, face):
    """Share of light that a face sends back evenly or as an image. [1]"""
    row = occluder_of(rig, occluder)
    return row.back if row.shape == FLAT and face == 1 else row.front


@inner
def place_on(rig, occluder, face, x, y, z):
    """Where a point lies on a face that sends light on: shares of its first and last side."""
    row = occluder_of(rig, occluder)
    quad = wide(row.quad) if row.shape == FLAT else wide(facet_of(rig, row.facet[face]).quad)
    u, v, uu, vv = 0.0, 0.0, 0.0, 0.0
    for axis in range(3):
        d = (x if axis == 0 else (y if axis == 1 else z)) - quad[0, axis]
        a, b = quad[1, axis] - quad[0, axis], quad[3, axis] - quad[0, axis]
        u, v, uu, vv = u + d * a, v + d * b, uu + a * a, vv + b * b
    return u / uu, v / vv
