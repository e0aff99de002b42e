"""
Straight light: from each source, past windows, bars, flags and boards, to a mark, a surface or a sight line.

Everything here is closed form but for a few Gauss-Legendre nodes inside each lit stretch of a sight
line. The stretch is found exactly, by clipping the line against the shaft through each pane and the
shadow of each occluder, so nothing is marched and nothing bands.

        lamp *---___ pane
                    [====---___                     in a stretch, t = t0 + D tan(a):
                    [          ===---___            L = sigma p I / D  integral of T da, with D the
      camera >------+---a===========b--+-- wall     distance lamp to line (Kulla & Fajardo 2012)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss

from lightcalc.engine.geometry import MOST_CORNERS, clip_cone, clip_line, cut_by_planes, inside, lookup, receive, view_planes
from lightcalc.engine.kernels import COUNT, COUNTS, CUBE, JOBS, NUMBERS, TABLE, TRUTH, TRUTHS, inner, kernel, next_job
from lightcalc.engine.layout import facet_row, lay_out, split
from lightcalc.engine.rows import (
    BALL,
    CELL,
    FACET,
    FLAT,
    RIGS,
    TILTS,
    candela_of,
    cell_of,
    face_of,
    facet_of,
    figure_of,
    lamp_of,
    matter_of,
    occluder_of,
    pane_of,
    shaft_of,
    table_of_rows,
    wide,
)
from lightcalc.engine.shadow import clear_to, cut_to, in_shade, near_way, outline, outlines, seen_far, shade_span, view
from lightcalc.scene.openings import wall_outline, window_panes

TAU = 2.0 * np.pi
MOST_ROUNDS = 1000  # of light between facets: two of 0.98 that see nothing but each other have 1e-9 left
FACE_M = 0.4  # beyond this from a face the head hides what its features do
MANY_CELLS = 600  # of boards and frames, beyond which four points of each stand for what a lamp sends it
NOT, FAR, CLEAR, PARTLY = 0, 1, 2, 3  # how a receptor sees a facet
SHARP, SOFT, ALL = 0, 1, 2  # shafts with edges in the air; samples of an area lamp in the room; both
FAR_CELLS = 16.0  # a cell of a facet whose distance squared is so many times its area is a few points, to 1e-4
LIFT_M = 1e-4  # off a thing, for a line that starts on it
RIM, STATE, LEVELS = 6, 7, 8  # places in `new_work`
DEEPEST, SHALLOW, MANY_HIDE = 5, 2, 8  # overlaps of overlaps that are told apart, and where more than so many things hide
BITS = 62  # occluders that a whole number has a bit for
GAUSS = 0.5 / np.sqrt(3.0)  # where they lie, as a share of its sides from its middle
ROUGHLY = 0.5  # of its reach, where a facet is one even piece to a crowded draft's receptors
FEW = 3  # nodes: within 0.001 stop for light through panes, which is smooth along a line
_NODES: dict = {}


def gauss_nodes(n):
    """Gauss-Legendre nodes and weights on -1 to 1 for sight lines, two arrays: the FEW of light through panes, then so many."""
    if n not in _NODES:
        _NODES[n] = tuple(np.concatenate(both) for both in zip(leggauss(FEW), leggauss(n)))
    return _NODES[n]


# -- lamps ---------------------------------------------------------------------------------------------


@inner
def candela(rig, lamp, dx, dy, dz):
    """Intensity of a lamp sample towards a unit direction. [cd]"""
    axes = lamp_of(rig, lamp).axes
    cosine = axes[2, 0] * dx + axes[2, 1] * dy + axes[2, 2] * dz
    if cosine < lamp_of(rig, lamp).cut:
        return 0.0
    half = np.sqrt(max(0.5 * (1.0 - cosine), 0.0)) * (rig.candelas_shape[2] - 1)
    k = min(int(half), rig.candelas_shape[2] - 2)
    f = half - k
    row = lamp_of(rig, lamp).table * rig.candelas_shape[1] * rig.candelas_shape[2] + k
    if rig.candelas_shape[1] == 1:
        return candela_of(rig, row) * (1.0 - f) + candela_of(rig, row + 1) * f
    right = axes[0, 0] * dx + axes[0, 1] * dy + axes[0, 2] * dz
    up = axes[1, 0] * dx + axes[1, 1] * dy + axes[1, 2] * dz
    turn = np.arctan2(up, right)
    place = (turn if turn >= 0.0 else turn + TAU) / TAU * (rig.candelas_shape[1] - 1)
    j = min(int(place), rig.candelas_shape[1] - 2)
    g = place - j
    row += j * rig.candelas_shape[2]
    near = candela_of(rig, row) * (1.0 - f) + candela_of(rig, row + 1) * f
    row += rig.candelas_shape[2]
    far = candela_of(rig, row) * (1.0 - f) + candela_of(rig, row + 1) * f
    return near * (1.0 - g) + far * g


@inner
def passed(rig, shaft, lamp, x, y, z, skip):
    """Share of a shaft's light that gets past the occluders to a point; `skip` is the occluder the point lies on. [1]"""
    share, far = 1.0, lamp_of(rig, lamp).sun
    at = lamp_of(rig, lamp).at
    ex, ey, ez = (1e5 * at[0], 1e5 * at[1], 1e5 * at[2]) if far else (at[0] - x, at[1] - y, at[2] - z)
    near = rig.n_figures > 0 and (lamp_of(rig, lamp).mirror >= 0 or near_way(rig.crowd_at, rig.crowd, x, y, z, ex, ey, ez))
    for k in range(rig.n_figures if near else 0):
        figure = figure_of(rig, k)
        if lamp_of(rig, lamp).mirror < 0 and not near_way(figure.middle, figure.radius, x, y, z, ex, ey, ez):
            continue
        for shade in range(figure.first, figure.first + figure.count):
            there = shade != skip and matter_of(rig, shaft * rig.shades_shape[1] + shade)
            if there and in_shade(rig, lamp * rig.shades_shape[1] + shade, x, y, z):
                return 0.0
    for shade in range(rig.shades_shape[1]):
        if rig.flats <= shade < rig.n_occluders:
            continue
        if (
            shade != skip
            and matter_of(rig, shaft * rig.shades_shape[1] + shade)
            and in_shade(rig, lamp * rig.shades_shape[1] + shade, x, y, z)
        ):
            share *= occluder_of(rig, shade % rig.n_occluders).passes
            if share == 0.0:
                return 0.0
    return share


@inner
def hazed_share(rig, shaft, lamp, x, y, z):
    """For light that enters through a pane: the share of its path that lies in the haze. [1]"""
    if not shaft_of(rig, shaft).enters:
        return 1.0
    p = shaft_of(rig, shaft).enter
    here = p[0] * x + p[1] * y + p[2] * z + p[3]
    lamp_at = lamp_of(rig, lamp).at
    there = p[0] * lamp_at[0] + p[1] * lamp_at[1] + p[2] * lamp_at[2] + p[3]
    return here / max(here - there, 1e-12)


@inner
def arrive(rig, shaft, x, y, z, skip):
    """
    Light from one shaft at a point: unit direction towards the lamp, and illuminance square to it. [lx]
    """
    lamp = shaft_of(rig, shaft).lamp
    if shaft_of(rig, shaft).count > 0 and not inside(shaft_of(rig, shaft).planes, shaft_of(rig, shaft).count, x, y, z):
        return 0.0, 0.0, 0.0, 0.0
    at = lamp_of(rig, lamp).at
    if lamp_of(rig, lamp).sun:
        normal_lx, path = lamp_of(rig, lamp).scale, 0.0
        dx, dy, dz = at[0], at[1], at[2]
        if shaft_of(rig, shaft).enters:
            p = shaft_of(rig, shaft).enter
            rate = p[0] * dx + p[1] * dy + p[2] * dz
            path = -(p[0] * x + p[1] * y + p[2] * z + p[3]) / min(rate, -1e-12)
    else:
        dx, dy, dz = at[0] - x, at[1] - y, at[2] - z
        d2 = max(dx * dx + dy * dy + dz * dz, 1e-12)
        distance = np.sqrt(d2)
        dx, dy, dz = dx / distance, dy / distance, dz / distance
        normal_lx = candela(rig, lamp, -dx, -dy, -dz) * lamp_of(rig, lamp).scale / d2
        path = distance * hazed_share(rig, shaft, lamp, x, y, z)
    if normal_lx <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    normal_lx *= shaft_of(rig, shaft).weight * passed(rig, shaft, lamp, x, y, z, skip)
    return dx, dy, dz, normal_lx * np.exp(-rig.extinction * path)


@inner
def _keeps_clear(middle, radius, x, y, z, mx, my, mz, wide):
    """Whether a ball keeps clear of the cone about the way m from a receptor that ends so wide: what is in it hides nothing there."""
    sx, sy, sz = middle[0] - x, middle[1] - y, middle[2] - z
    mm = max(mx * mx + my * my + mz * mz, 1e-12)
    along = min(max((sx * mx + sy * my + sz * mz) / mm, 0.0), 1.0)
    radius = radius * np.sqrt(1.0 + wide * wide / mm) + wide * along
    return (sx - along * mx) ** 2 + (sy - along * my) ** 2 + (sz - along * mz) ** 2 > radius * radius


@inner
def _apart(at, x, y, z):
    """How far a point is from a place. [m]"""
    return np.sqrt((at[0] - x) ** 2 + (at[1] - y) ** 2 + (at[2] - z) ** 2)


@inner
def _next_near(rig, occluder, coarse, x, y, z, mx, my, mz, wide):
    """
    The first occluder from a given one on that does not keep clear of a cone, whole figures being passed by; their number if none.

    In a draft the legs of tables and chairs stop no light of soft sources; nor, of what is `coarse` or far from it, does a nose.
    """
    figure = 0
    while occluder < rig.n_occluders:
        if coarse and occluder >= rig.features:
            return rig.n_occluders
        if occluder == rig.flats and _keeps_clear(rig.crowd_at, rig.crowd, x, y, z, mx, my, mz, wide):
            return rig.n_occluders
        if occluder >= rig.flats:
            while figure_of(rig, figure).first + figure_of(rig, figure).count <= occluder:
                figure += 1
            row = figure_of(rig, figure)
            far = occluder >= rig.features and _apart(row.middle, x, y, z) > FACE_M
            if far or (occluder == row.first and _keeps_clear(row.middle, row.radius, x, y, z, mx, my, mz, wide)):
                occluder = row.first + row.count
                continue
            if rig.rough and occluder >= row.first + row.bulky:
                occluder = row.first + row.count
                continue
        thing = occluder_of(rig, occluder)
        if not _keeps_clear(thing.middle, thing.radius, x, y, z, mx, my, mz, wide):
            return occluder
        occluder += 1
    return occluder


@inner
def _under(rig, occluder, x, y, z, nx, ny, nz):
    """Whether an ellipsoid lies wholly under the horizon of a flat receptor."""
    row, reach2 = occluder_of(rig, occluder), 0.0
    for axis in range(3):
        a, b, c = row.into[axis, 0], row.into[axis, 1], row.into[axis, 2]
        reach2 += ((a * nx + b * ny + c * nz) / (a * a + b * b + c * c)) ** 2
    over = (row.middle[0] - x) * nx + (row.middle[1] - y) * ny + (row.middle[2] - z) * nz
    return over < 0.0 and over * over > reach2


@inner
def _hidden(rig, x, y, z, nx, ny, nz, dome, poly, count, whole, self_occluder, skip, work):
    """
    How much of a polygon's received share, `whole`, the occluders take away.

    What several hide is taken once: for each, what those before it leave of it (`_left`). What a board or a piece sends is so soft
    that the features of a face hide nothing of it.
    """
    lost, hiding, many_hide = 0.0, 0, 0  # and which of the first occluders hide something, a bit each
    if rig.n_occluders == 0:
        return lost
    mx, my, mz, wide = 0.0, 0.0, 0.0, 0.0
    for k in range(count):
        mx, my, mz = mx + poly[k, 0] / count, my + poly[k, 1] / count, mz + poly[k, 2] / count
    for k in range(count):
        wide = max(wide, (poly[k, 0] - mx) ** 2 + (poly[k, 1] - my) ** 2 + (poly[k, 2] - mz) ** 2)
    mx, my, mz, wide = mx - x, my - y, mz - z, np.sqrt(wide)
    planes, kept_poly, spare = work[3], work[0], work[1]
    occluder = -1
    while True:
        occluder = _next_near(rig, occluder + 1, self_occluder >= 0, x, y, z, mx, my, mz, wide)
        if occluder >= rig.n_occluders:
            return lost
        if occluder == self_occluder or occluder == skip:
            continue
        if not dome and occluder_of(rig, occluder).shape == BALL and _under(rig, occluder, x, y, z, nx, ny, nz):
            continue
        if occluder_of(rig, occluder).shape == FLAT:
            normal, middle, across = occluder_of(rig, occluder).normal, occluder_of(rig, occluder).middle, False
            side = normal[0] * (middle[0] - x) + normal[1] * (middle[1] - y) + normal[2] * (middle[2] - z)
            for k in range(count):
                there = normal[0] * (poly[k, 0] - x) + normal[1] * (poly[k, 1] - y) + normal[2] * (poly[k, 2] - z)
                across = across or (there - side) * side > 0.0
            if not across:  # point and polygon on one side of it
                continue
        _, many = view(rig, occluder, x, y, z, planes, work[RIM])
        kept = cut_to(poly, count, planes, many, kept_poly, spare) if many > 0 else 0
        if kept < 3:
            continue
        taken = receive(kept_poly, kept, x, y, z, nx, ny, nz, dome, work[2])
        if taken >= (1.0 - 1e-9) * whole and occluder_of(rig, occluder).passes == 0.0:
            return whole
        if hiding > 0 or occluder >= BITS:
            deepest = DEEPEST if many_hide <= MANY_HIDE else SHALLOW
            taken = _left(
                rig, occluder, hiding, deepest, self_occluder, skip, kept_poly, kept, True, x, y, z, nx, ny, nz, dome, work
            )
        lost += (1.0 - occluder_of(rig, occluder).passes) * taken
        if occluder < BITS:
            hiding |= 1 << occluder
        many_hide += 1


@inner
def _left(rig, before, hiding, deepest, self_occluder, skip, poly, count, beyond, x, y, z, nx, ny, nz, dome, work):
    """
    What a receptor takes of a polygon that the occluders before a given one leave of it.

    What they leave of it is the whole less, for each of them, what those before that one leave of what it hides; so the same
    question is asked again of smaller polygons, so many deep, where overlaps count as if there were no further ones. With
    `beyond` an occluder hides only what lies beyond it, else all that is in its direction.
    """
    state, planes = work[STATE], work[3]
    level, below = 0, poly
    state[0, 0], state[0, 1], state[0, 2] = 0.0, before, receive(poly, count, x, y, z, nx, ny, nz, dome, work[2])
    state[0, 3] = count
    while True:
        other = int(state[level, 0])
        if other >= int(state[level, 1]):
            left = max(state[level, 2], 0.0)
            if level == 0:
                return left
            level -= 1  # it was about the occluder under the cursor there
            hides = int(state[level, 0])
            state[level, 2] -= (1.0 - occluder_of(rig, hides).passes) * left
            state[level, 0] = hides + 1
            continue
        if other == self_occluder or other == skip or (other < BITS and not (hiding >> other) & 1):
            state[level, 0] = other + 1
            continue
        below = poly if level == 0 else work[LEVELS + level - 1]
        sides, many = view(rig, other, x, y, z, planes, work[RIM])
        kept = 0
        if many > 0:
            kept = cut_to(below, int(state[level, 3]), planes, many if beyond else sides, work[LEVELS + level], work[1])
        if kept < 3:
            state[level, 0] = other + 1
            continue
        taken = receive(work[LEVELS + level], kept, x, y, z, nx, ny, nz, dome, work[2])
        if level == deepest - 1 or other == 0:
            state[level, 2] -= (1.0 - occluder_of(rig, other).passes) * taken
            state[level, 0] = other + 1
            continue
        level += 1
        state[level, 0], state[level, 1], state[level, 2], state[level, 3] = 0.0, other, taken, kept


@inner
def _quarters_seen(rig, quad, own, x, y, z, nx, ny, nz):
    """
    Share of those of a rectangle's four quarters over the horizon of a point on a thing whose middle it sees, its own occluder left out. [1]

    With all middles under the horizon it is 1: what little there is of it over it, the receptor's own formula cuts.
    """
    share, over = 0.0, 0
    x, y, z = x + LIFT_M * nx, y + LIFT_M * ny, z + LIFT_M * nz
    for k in range(4):
        u, v = 0.25 + 0.5 * (k % 2), 0.25 + 0.5 * (k // 2)
        tx = quad[0, 0] + u * (quad[1, 0] - quad[0, 0]) + v * (quad[3, 0] - quad[0, 0])
        ty = quad[0, 1] + u * (quad[1, 1] - quad[0, 1]) + v * (quad[3, 1] - quad[0, 1])
        tz = quad[0, 2] + u * (quad[1, 2] - quad[0, 2]) + v * (quad[3, 2] - quad[0, 2])
        if (tx - x) * nx + (ty - y) * ny + (tz - z) * nz > 0.0:
            over += 1
            share += clear_to(rig, x, y, z, tx, ty, tz, own)
    return share / over if over > 0 else 1.0


@inner
def _face_light(rig, face, x, y, z, nx, ny, nz, dome, work, skip, rough):
    """Illuminance from an area lamp's whole face, by its exact polygon, through panes and past occluders. [lx]"""
    lamp = face_of(rig, face).lamp
    quad = wide(face_of(rig, face).quad)
    cx = 0.25 * (quad[0, 0] + quad[1, 0] + quad[2, 0] + quad[3, 0]) - x
    cy = 0.25 * (quad[0, 1] + quad[1, 1] + quad[2, 1] + quad[3, 1]) - y
    cz = 0.25 * (quad[0, 2] + quad[1, 2] + quad[2, 2] + quad[3, 2]) - z
    distance = np.sqrt(cx * cx + cy * cy + cz * cz)
    axes = lamp_of(rig, lamp).axes
    cosine = -(axes[2, 0] * cx + axes[2, 1] * cy + axes[2, 2] * cz) / max(distance, 1e-9)
    if cosine <= 1e-4:
        return 0.0
    cd = candela(rig, lamp, -cx / distance, -cy / distance, -cz / distance) * face_of(rig, face).scale
    exitance = np.pi * cd / (face_of(rig, face).area * cosine)
    if exitance <= 0.0:
        return 0.0
    taken = 0.0
    if not face_of(rig, face).outside:
        taken = receive(quad, 4, x, y, z, nx, ny, nz, dome, work[2])
        if rough:
            taken *= _quarters_seen(rig, quad, -1, x, y, z, nx, ny, nz)
        else:
            taken -= _hidden(rig, x, y, z, nx, ny, nz, dome, quad, 4, taken, -1, skip, work)
        return max(taken, 0.0) * exitance * np.exp(-rig.extinction * distance)
    total = 0.0
    planes, poly = work[5], work[4]
    for pane in range(rig.n_panes):
        if pane_of(rig, pane).weight <= 0.0 or not view_planes(pane_of(rig, pane).quad, x, y, z, planes):
            continue
        kept = cut_by_planes(quad, 4, planes, 5, poly, work[0])
        if kept < 3:
            continue
        taken = receive(poly, kept, x, y, z, nx, ny, nz, dome, work[2])
        taken -= _hidden(rig, x, y, z, nx, ny, nz, dome, poly, kept, taken, -1, skip, work)
        # the share of the way that lies inside the room: the pane's plane is row 4, beyond it is outside
        gap = -(planes[4, 0] * x + planes[4, 1] * y + planes[4, 2] * z + planes[4, 3])
        whole = planes[4, 0] * cx + planes[4, 1] * cy + planes[4, 2] * cz
        path = distance * gap / max(whole, 1e-9)
        total += max(taken, 0.0) * pane_of(rig, pane).weight * np.exp(-rig.extinction * path)
    return total * exitance


@inner
def _behind(rig, lamp, x, y, z, nx, ny, nz):
    """Whether a flat receptor looks away from a lamp or the sun, so that nothing need be asked about shadows."""
    at, here = lamp_of(rig, lamp).at, 0.0 if lamp_of(rig, lamp).sun else 1.0
    return (at[0] - here * x) * nx + (at[1] - here * y) * ny + (at[2] - here * z) * nz <= 0.0


@inner
def point_light(rig, x, y, z, nx, ny, nz, dome, out, skip):
    """Add each point lamp's and the sun's illuminance at a receptor into `out` by source. [lx]"""
    for shaft in range(rig.n_shafts):
        lamp = shaft_of(rig, shaft).lamp
        if lamp_of(rig, lamp).face >= 0:
            continue
        if not dome and _behind(rig, lamp, x, y, z, nx, ny, nz):
            continue
        dx, dy, dz, lux = arrive(rig, shaft, x, y, z, skip)
        if lux > 0.0:
            cosine = dx * nx + dy * ny + dz * nz
            take = 0.5 * (1.0 + cosine) if dome else max(cosine, 0.0)
            out[lamp_of(rig, lamp).source] += lux * take


@inner
def face_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip, rough):
    """Add each area lamp's illuminance at a receptor into `out` by source; where `rough` says so, by the quarters it sees. [lx]"""
    for face in range(rig.n_faces):
        source = lamp_of(rig, face_of(rig, face).lamp).source
        out[source] += _face_light(rig, face, x, y, z, nx, ny, nz, dome, work, skip, rough)


# -- facets, sky ---------------------------------------------------------------------------------------


@inner
def sky_at(rig, dx, dy, dz):
    """Luminance of the sky, or under the horizon of the open ground, along a way of length one. [cd/m2]"""
    if dz < 0.0:
        return rig.ground_luminance
    return max(rig.sky[0] + rig.sky[1] * dx + rig.sky[2] * dy + rig.sky[3] * dz, 0.0)


@inner
def sky_seen(rig, poly, count, x, y, z, nx, ny, nz, dome):
    """
    Luminance of sky or open ground behind a flat polygon, as a receptor weighs it: each triangle from the middle at the middles
    of its sides. [cd/m2]
    """
    cx, cy, cz = -x, -y, -z
    for k in range(count):
        cx, cy, cz = cx + poly[k, 0] / count, cy + poly[k, 1] / count, cz + poly[k, 2] / count
    sx, sy, sz, whole = 1e-12 * cx, 1e-12 * cy, 1e-12 * cz, 1e-12 * np.sqrt(cx * cx + cy * cy + cz * cz)
    for k in range(count):
        after = (k + 1) % count
        ax, ay, az = poly[k, 0] - x, poly[k, 1] - y, poly[k, 2] - z
        bx, by, bz = poly[after, 0] - x, poly[after, 1] - y, poly[after, 2] - z
        px, py = (ay - cy) * (bz - cz) - (az - cz) * (by - cy), (az - cz) * (bx - cx) - (ax - cx) * (bz - cz)
        pz = (ax - cx) * (by - cy) - (ay - cy) * (bx - cx)
        area = np.sqrt(px * px + py * py + pz * pz)
        for _ in range(3):
            ux, uy, uz = 0.5 * (ax + bx), 0.5 * (ay + by), 0.5 * (az + bz)
            ax, ay, az, bx, by, bz, cx, cy, cz = bx, by, bz, cx, cy, cz, ax, ay, az
            d = np.sqrt(ux * ux + uy * uy + uz * uz)
            over = (nx * ux + ny * uy + nz * uz) / d
            weight = area / (d * d * d) * (0.5 + 0.5 * over if dome else max(over, 0.0))
            sx, sy, sz, whole = sx + weight * ux / d, sy + weight * uy / d, sz + weight * uz / d, whole + weight
    return sky_at(rig, sx / whole, sy / whole, sz / whole)


@inner
def _polygon_light(rig, poly, count, facet, luminance, clear, x, y, z, nx, ny, nz, dome, work, skip):
    """Illuminance from one even polygon of a facet, which with `clear` nothing hides; a sky opening is split at the horizon. [lx]"""
    occluder = facet_of(rig, facet).occluder
    mx, my, mz = 0.0, 0.0, 0.0
    for k in range(count):
        mx += poly[k, 0] / count
        my += poly[k, 1] / count
        mz += poly[k, 2] / count
    distance = np.sqrt((mx - x) ** 2 + (my - y) ** 2 + (mz - z) ** 2)
    thin = np.exp(-rig.extinction * distance)
    if not facet_of(rig, facet).sky:
        taken = receive(poly, count, x, y, z, nx, ny, nz, dome, work[2])
        if taken <= 0.0:
            return 0.0
        if not clear:
            taken -= _hidden(rig, x, y, z, nx, ny, nz, dome, poly, count, taken, occluder, skip, work)
        return np.pi * luminance * max(taken, 0.0) * thin
    total = 0.0
    part, level = work[4], work[5]
    for below in range(2):
        sign = 1.0 - 2.0 * below
        level[0, 0], level[0, 1], level[0, 2], level[0, 3] = 0.0, 0.0, sign, -sign * z
        kept = cut_by_planes(poly, count, level, 1, part, work[0])
        if kept < 3:
            continue
        taken = receive(part, kept, x, y, z, nx, ny, nz, dome, work[2])
        taken -= _hidden(rig, x, y, z, nx, ny, nz, dome, part, kept, taken, occluder, skip, work)
        if taken <= 0.0:
            continue
        seen = rig.ground_luminance
        if not below:
            seen = sky_seen(rig, part, kept, x, y, z, nx, ny, nz, dome)
        total += taken * seen
    return np.pi * luminance * total * thin


@inner
def _small_cell(poly, ux, uy, uz, qx, qy, qz, nx, ny, nz, dome):
    """What a receptor takes of an even rectangle, all of it over its horizon: mean of four Gauss points, per area. [1/m2]"""
    total = 0.0
    for i in range(-1, 2, 2):
        for j in range(-1, 2, 2):
            p, q = i * GAUSS, j * GAUSS
            x = ux + p * (poly[1, 0] - poly[0, 0]) + q * (poly[3, 0] - poly[0, 0])
            y = uy + p * (poly[1, 1] - poly[0, 1]) + q * (poly[3, 1] - poly[0, 1])
            z = uz + p * (poly[1, 2] - poly[0, 2]) + q * (poly[3, 2] - poly[0, 2])
            d2 = x * x + y * y + z * z
            over = x * nx + y * ny + z * nz
            take = 0.5 * max(np.sqrt(d2) + over, 0.0) if dome else over  # straight behind a dome it rounds to either side of 0
            total += max(-(qx * x + qy * y + qz * z), 0.0) * take / (4.0 * d2 * d2)  # edge on, too
    return total


@inner
def _may_hide(rig, facet, x, y, z, skip):
    """Whether an occluder, not the facet's own, may stand between a receptor and any of a facet."""
    row = facet_of(rig, facet)
    mx, my, mz = (
        0.5 * (row.quad[0, 0] + row.quad[2, 0]),
        0.5 * (row.quad[0, 1] + row.quad[2, 1]),
        0.5 * (row.quad[0, 2] + row.quad[2, 2]),
    )
    wide = np.sqrt((row.quad[0, 0] - mx) ** 2 + (row.quad[0, 1] - my) ** 2 + (row.quad[0, 2] - mz) ** 2)
    occluder = -1
    while True:
        occluder = _next_near(rig, occluder + 1, row.occluder >= 0, x, y, z, mx - x, my - y, mz - z, wide)
        if occluder >= rig.n_occluders:
            return False
        if occluder != row.occluder and occluder != skip:
            return True


@inner
def _before(rig, facet, x, y, z, skip):
    """Whether a point is on the side of a facet that sends, and not on the stop it belongs to."""
    row = facet_of(rig, facet)
    if row.occluder >= 0 and row.occluder == skip:
        return False
    quad = row.quad
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    vx, vy, vz = x - quad[0, 0], y - quad[0, 1], z - quad[0, 2]
    return vx * (ay * bz - az * by) + vy * (az * bx - ax * bz) + vz * (ax * by - ay * bx) > 0.0


@inner
def _far_from(rig, facet, x, y, z, share):
    """Whether a facet is one even piece to a point: further off than such a share of its `reach`."""
    row = facet_of(rig, facet)
    vx = x - 0.5 * (row.quad[1, 0] + row.quad[3, 0])
    vy = y - 0.5 * (row.quad[1, 1] + row.quad[3, 1])
    vz = z - 0.5 * (row.quad[1, 2] + row.quad[3, 2])
    return vx * vx + vy * vy + vz * vz > (share * row.reach) ** 2


@inner
def _outline_seen(rig, facet, x, y, z, nx, ny, nz, dome, work, skip):
    """How a receptor before a facet sees it: NOT at all, FAR enough to be one even piece, all of it CLEAR, or PARTLY hidden."""
    row = facet_of(rig, facet)
    quad = wide(row.quad)
    if _far_from(rig, facet, x, y, z, 1.0):
        return FAR
    if row.sky:
        return PARTLY
    if not _may_hide(rig, facet, x, y, z, skip):
        return CLEAR
    whole = receive(quad, 4, x, y, z, nx, ny, nz, dome, work[2])
    if whole <= 0.0:
        return NOT
    lost = _hidden(rig, x, y, z, nx, ny, nz, dome, quad, 4, whole, row.occluder, skip, work)
    return CLEAR if lost <= 0.0 else (NOT if lost >= whole else PARTLY)


@inner
def _cells_light(rig, facet, clear, each, x, y, z, nx, ny, nz, dome, work, skip, out):
    """
    Illuminance from a facet's cells, where `clear` says that nothing hides them. [lx]

    With `each` a cell counts at 1 cd/m2, and what it gives is added into `out` at its own place.
    """
    quad, first, count = facet_of(rig, facet).quad, facet_of(rig, facet).first, facet_of(rig, facet).cells
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    qx, qy, qz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    size = np.sqrt(qx * qx + qy * qy + qz * qz)
    area = size * facet_of(rig, facet).fill / count
    edge = np.sqrt((ax * ax + ay * ay + az * az + bx * bx + by * by + bz * bz) / count)
    total = 0.0
    for cell in range(first, first + count):
        luminance, poly = 1.0 if each else cell_of(rig, cell).luminance, wide(cell_of(rig, cell).quad)
        if luminance <= 0.0:
            continue
        ux = 0.25 * (poly[0, 0] + poly[1, 0] + poly[2, 0] + poly[3, 0]) - x
        uy = 0.25 * (poly[0, 1] + poly[1, 1] + poly[2, 1] + poly[3, 1]) - y
        uz = 0.25 * (poly[0, 2] + poly[1, 2] + poly[2, 2] + poly[3, 2]) - z
        d2, over, lux = ux * ux + uy * uy + uz * uz, ux * nx + uy * ny + uz * nz, 0.0
        if clear and d2 > FAR_CELLS * area and (dome or abs(over) > edge):  # small, and wholly over the horizon or under
            if dome or over > 0.0:
                taken = _small_cell(poly, ux, uy, uz, qx / size, qy / size, qz / size, nx, ny, nz, dome)
                lux = luminance * area * taken * np.exp(-rig.extinction * np.sqrt(d2))
        else:
            lux = _polygon_light(rig, poly, 4, facet, luminance, clear, x, y, z, nx, ny, nz, dome, work, skip)
        if each:
            out[cell] += lux
        total += lux
    return total


@inner
def _clear_light(rig, facet, mean, x, y, z, nx, ny, nz, dome, work, skip, out):
    """What a facet gives a receptor that sees all of it; `mean` is its luminance where it is full. [lx]"""
    if not _far_from(rig, facet, x, y, z, ROUGHLY):
        return _cells_light(rig, facet, True, False, x, y, z, nx, ny, nz, dome, work, skip, out)
    quad = wide(facet_of(rig, facet).quad)
    dx, dy, dz = 0.5 * (quad[0, 0] + quad[2, 0]) - x, 0.5 * (quad[0, 1] + quad[2, 1]) - y, 0.5 * (quad[0, 2] + quad[2, 2]) - z
    thin = np.exp(-rig.extinction * np.sqrt(dx * dx + dy * dy + dz * dz))
    return np.pi * mean * facet_of(rig, facet).fill * receive(quad, 4, x, y, z, nx, ny, nz, dome, work[2]) * thin


@inner
def facet_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip_occluder, boards, rough):
    """
    Add what boards and frames, where `boards` says so, and sheers and sky openings send to a receptor into `out`. [lx]

    Where `rough` says so, by the quarters of each that it sees.
    """
    for facet in range(rig.n_facets):
        if (not boards and facet_of(rig, facet).occluder >= 0) or not _before(rig, facet, x, y, z, skip_occluder):
            continue
        count = facet_of(rig, facet).cells
        mean = facet_of(rig, facet).sum
        if mean <= 0.0:
            continue
        if rough and not facet_of(rig, facet).sky:
            share = _quarters_seen(rig, wide(facet_of(rig, facet).quad), facet_of(rig, facet).occluder, x, y, z, nx, ny, nz)
            if share > 0.0:
                lux = share * _clear_light(rig, facet, mean / count, x, y, z, nx, ny, nz, dome, work, skip_occluder, out)
                out[facet_of(rig, facet).source] += lux
            continue
        seen, lux = _outline_seen(rig, facet, x, y, z, nx, ny, nz, dome, work, skip_occluder), 0.0
        if seen == NOT:
            continue
        if seen == FAR:
            mean *= facet_of(rig, facet).fill / count
            lux = _polygon_light(
                rig, wide(facet_of(rig, facet).quad), 4, facet, mean, False, x, y, z, nx, ny, nz, dome, work, skip_occluder
            )
        else:
            lux = _cells_light(rig, facet, seen == CLEAR, False, x, y, z, nx, ny, nz, dome, work, skip_occluder, out)
        out[facet_of(rig, facet).source] += lux


@inner
def _overlap(rig, one, other, x, y, z):
    """Whether the balls that hold two occluders overlap as seen from a point."""
    a, b = occluder_of(rig, one), occluder_of(rig, other)
    ax, ay, az = a.middle[0] - x, a.middle[1] - y, a.middle[2] - z
    bx, by, bz = b.middle[0] - x, b.middle[1] - y, b.middle[2] - z
    aa, bb = ax * ax + ay * ay + az * az, bx * bx + by * by + bz * bz
    if aa <= a.radius * a.radius or bb <= b.radius * b.radius:
        return True
    s, t = a.radius / np.sqrt(aa), b.radius / np.sqrt(bb)
    return ax * bx + ay * by + az * bz > np.sqrt(aa * bb) * (np.sqrt((1.0 - s * s) * (1.0 - t * t)) - s * t)


@inner
def open_sky_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip_occluder):
    """Add the open sky and the ground beyond, less what the occluders hide of them, into `out`. [lx]"""
    if rig.enclosed or (rig.sky_source < 0 and rig.ground_luminance <= 0.0):
        return
    table = rig.sky_dome if dome else rig.sky_flat
    place = (nz + 1.0) * 0.5 * (table.shape[1] - 1)
    k = min(max(int(place), 0), table.shape[1] - 2)
    lux = table[0, k] + (place - k) * (table[0, k + 1] - table[0, k])
    lux += (rig.sky[1] * nx + rig.sky[2] * ny) * (table[1, k] + (place - k) * (table[1, k + 1] - table[1, k]))
    poly, hiding = work[0], 0
    for occluder in range(rig.n_occluders):
        if occluder == skip_occluder:
            continue
        small, solid, ax, ay, az = seen_far(rig, occluder, x, y, z)
        if small:
            over = nx * ax + ny * ay + nz * az
            taken = solid * (0.5 + 0.5 * over if dome else max(over, 0.0))
            lux -= (1.0 - occluder_of(rig, occluder).passes) * sky_at(rig, ax, ay, az) * taken
            continue
        for which in range(outlines(rig, occluder, x, y, z)):
            count = outline(rig, occluder, which, x, y, z, poly, work[RIM])
            taken = receive(poly, count, x, y, z, nx, ny, nz, dome, work[2])
            if taken <= 0.0:
                continue
            seen = sky_seen(rig, poly, count, x, y, z, nx, ny, nz, dome)
            overlapping, many_hide = 0, 0
            for other in range(min(occluder, BITS)):
                if (hiding >> other) & 1 and _overlap(rig, occluder, other, x, y, z):
                    overlapping |= 1 << other
                    many_hide += 1
            if overlapping > 0:
                before, deepest = min(occluder, BITS), DEEPEST if many_hide <= MANY_HIDE else SHALLOW
                taken = _left(
                    rig, before, overlapping, deepest, -1, skip_occluder, poly, count, False, x, y, z, nx, ny, nz, dome, work
                )
            lux -= (1.0 - occluder_of(rig, occluder).passes) * np.pi * seen * taken
            if occluder < BITS:
                hiding |= 1 << occluder
    out[rig.sky_source if rig.sky_source >= 0 else out.shape[0] - 1] += max(lux, 0.0)


@inner
def all_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip_occluder):
    """Every straight source at one receptor, by source, into `out` (sources + 1 long; the last is the room's). [lx]"""
    point_light(rig, x, y, z, nx, ny, nz, dome, out, skip_occluder)
    face_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip_occluder, False)
    facet_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip_occluder, True, False)
    open_sky_light(rig, x, y, z, nx, ny, nz, dome, out, work, skip_occluder)


@inner
def new_work():
    """Scratch for the polygon functions, one for each thread."""
    return np.empty((LEVELS + DEEPEST, MOST_CORNERS, 4))


@inner
def new_marks(rig):
    """Scratch for `shaft_air`, one for each thread."""
    q = rig.shades_shape[1]
    return np.empty(2 * q + 2), np.empty((q, 3))


def straight(rigs, points, normals, dome, skip_occluder):
    """
    Straight light at many receptors. [lx]

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    points, normals : arrays (n, 3)
        Places and unit normals. [m]
    dome : array (n,) of bool
        Dome receptors; else flat.
    skip_occluder : array (n,) of int
        The occluder a point lies on, which cannot light or hide it; -1 for none.

    Returns
    -------
    array (n, sources + 1)
        Illuminance by source. [lx]
    """
    out = np.zeros((points.shape[0], rigs[0]["sources"] + 1))
    _straight.shared(len(points), rigs, points, normals, dome, skip_occluder, out)
    return out


@kernel(JOBS, RIGS, TABLE, TABLE, TRUTHS, COUNTS, TABLE)
def _straight(todo, rigs, points, normals, dome, skip_occluder, out):
    rig, work = rigs[0], new_work()
    while True:
        i = next_job(todo)
        if i < 0:
            return
        all_light(
            rig, points[i, 0], points[i, 1], points[i, 2], normals[i, 0], normals[i, 1], normals[i, 2],
            dome[i], out[i], work, skip_occluder[i],
        )  # fmt: skip


# -- sight lines ---------------------------------------------------------------------------------------


@inner
def _stretch(rig, shaft, lamp, share, ox, oy, oz, dx, dy, dz, low, high, nodes, weights, few):
    """Light that one shaft scatters into one clear stretch of a sight line. [cd/m2]"""
    at = lamp_of(rig, lamp).at
    sigma = rig.extinction
    if lamp_of(rig, lamp).sun:
        # parallel light: the path in the haze grows evenly along the line, so the stretch has a closed form
        near, rate = 0.0, 0.0
        if shaft_of(rig, shaft).enters:
            p = shaft_of(rig, shaft).enter
            towards = min(p[0] * at[0] + p[1] * at[1] + p[2] * at[2], -1e-12)
            near = -(p[0] * ox + p[1] * oy + p[2] * oz + p[3]) / towards
            rate = -(p[0] * dx + p[1] * dy + p[2] * dz) / towards
        k = sigma * (1.0 + rate)
        span = k * (high - low)
        mean = np.exp(-sigma * near - k * low) * ((1.0 - np.exp(-span)) / span if abs(span) > 1e-9 else 1.0)
        # the light goes along -at and is turned towards the lens, along -d
        turned = lookup(rig.phase, at[0] * dx + at[1] * dy + at[2] * dz)
        return share * sigma * turned * lamp_of(rig, lamp).scale * mean * (high - low)
    t0 = (at[0] - ox) * dx + (at[1] - oy) * dy + (at[2] - oz) * dz
    ex, ey, ez = ox + t0 * dx - at[0], oy + t0 * dy - at[1], oz + t0 * dz - at[2]
    D = max(np.sqrt(ex * ex + ey * ey + ez * ez), 1e-4)
    # equi-angular without trigonometry: v = tan(a / 2), so that dt / r^2 = 2 dv / (D (1 + v^2))
    p, q = (low - t0) / D, (high - t0) / D
    a, b = p / (1.0 + np.sqrt(1.0 + p * p)), q / (1.0 + np.sqrt(1.0 + q * q))
    half, middle = 0.5 * (b - a), 0.5 * (b + a)
    enters = shaft_of(rig, shaft).enters
    gap, here, rate = 0.0, 0.0, 0.0
    if enters:  # the haze begins at the pane's plane: heights above it, along the line and at the lamp
        plane = shaft_of(rig, shaft).enter
        here = plane[0] * ox + plane[1] * oy + plane[2] * oz + plane[3]
        rate = plane[0] * dx + plane[1] * dy + plane[2] * dz
        gap = plane[0] * at[0] + plane[1] * at[1] + plane[2] * at[2] + plane[3]
    total = 0.0
    for k in range(0 if few else FEW, FEW if few else nodes.shape[0]):
        v = middle + half * nodes[k]
        v2 = v * v
        open_ = 1.0 / max(1.0 - v2, 1e-12)
        s, r = 2.0 * D * v * open_, D * (1.0 + v2) * open_
        ux, uy, uz = (ex + s * dx) / r, (ey + s * dy) / r, (ez + s * dz) / r
        cd = candela(rig, lamp, ux, uy, uz)
        if cd > 0.0:
            path = r
            if enters:
                depth = here + rate * (t0 + s)
                path = r * depth / max(depth - gap, 1e-12)
            # the light goes along u and is turned towards the lens, along -d
            turned = lookup(rig.phase, -(ux * dx + uy * dy + uz * dz))
            total += weights[k] * cd * turned * np.exp(-sigma * (t0 + s + path)) * 2.0 / (1.0 + v2)
    return share * sigma * total * half / D * lamp_of(rig, lamp).scale


@inner
def _off_plane(middle, radius, px, py, pz, size, ox, oy, oz):
    """Whether a ball keeps clear of the plane through o with the normal p of such a size."""
    return abs(px * (middle[0] - ox) + py * (middle[1] - oy) + pz * (middle[2] - oz)) > radius * size


@inner
def shaft_air(rig, shaft, ox, oy, oz, dx, dy, dz, start, reach, nodes, weights, few, marks, spans):
    """
    Single-scattered light of one shaft along a sight line, from `start` to `reach` metres. [cd/m2]

    With `few` by the first FEW of the nodes. `marks` and `spans` are scratch, from `new_marks`.
    """
    lamp = shaft_of(rig, shaft).lamp
    low, high = start, reach
    if shaft_of(rig, shaft).count > 0:
        low, high = clip_line(shaft_of(rig, shaft).planes, shaft_of(rig, shaft).count, ox, oy, oz, dx, dy, dz, low, high)
        if low >= high:
            return 0.0
    at, axis = lamp_of(rig, lamp).at, lamp_of(rig, lamp).axes[2]
    if not lamp_of(rig, lamp).sun and lamp_of(rig, lamp).cut >= 0.0:
        low, high = clip_cone(
            lamp_of(rig, lamp).cut, at[0], at[1], at[2], axis[0], axis[1], axis[2], ox, oy, oz, dx, dy, dz, low, high
        )
        if low >= high:
            return 0.0
    count = 1
    marks[0] = low
    # the plane of lamp and line: what keeps clear of it throws no shadow on the line
    sx, sy, sz = (at[0], at[1], at[2]) if lamp_of(rig, lamp).sun else (ox - at[0], oy - at[1], oz - at[2])
    px, py, pz = sy * dz - sz * dy, sz * dx - sx * dz, sx * dy - sy * dx
    size = np.sqrt(px * px + py * py + pz * pz)
    shade, figure, shading = -1, 0, 0
    while shade + 1 < rig.shades_shape[1]:
        shade += 1
        if shade < rig.n_occluders:
            if shade >= rig.flats:
                if shade == rig.flats and _off_plane(rig.crowd_at, rig.crowd, px, py, pz, size, ox, oy, oz):
                    shade = rig.n_occluders - 1
                    continue
                while figure_of(rig, figure).first + figure_of(rig, figure).count <= shade:
                    figure += 1
                group = figure_of(rig, figure)
                if shade == group.first and _off_plane(group.middle, group.radius, px, py, pz, size, ox, oy, oz):
                    shade += group.count - 1
                    continue
            row = occluder_of(rig, shade)
            if _off_plane(row.middle, row.radius, px, py, pz, size, ox, oy, oz):
                continue
        if not matter_of(rig, shaft * rig.shades_shape[1] + shade):
            continue
        a, b = shade_span(rig, lamp * rig.shades_shape[1] + shade, ox, oy, oz, dx, dy, dz, low, high)
        if a < b:
            spans[shading, 0], spans[shading, 1] = a, b
            spans[shading, 2] = occluder_of(rig, shade % rig.n_occluders).passes
            shading += 1
            for edge in (a, b):  # insert in order
                j = count
                while j > 0 and marks[j - 1] > edge:
                    marks[j] = marks[j - 1]
                    j -= 1
                marks[j] = edge
                count += 1
    marks[count] = high
    total = 0.0
    for k in range(count):
        a, b = marks[k], marks[k + 1]
        if b - a < 1e-9:
            continue
        share, middle = shaft_of(rig, shaft).weight, 0.5 * (a + b)
        for n in range(shading):
            if spans[n, 0] < middle < spans[n, 1]:
                share *= spans[n, 2]
        if share > 0.0:
            total += _stretch(rig, shaft, lamp, share, ox, oy, oz, dx, dy, dz, a, b, nodes, weights, few)
    return total


@inner
def line_air(rig, which, ox, oy, oz, dx, dy, dz, start, reach, nodes, weights, out, marks, spans):
    """Add the single-scattered light of SHARP, SOFT or ALL shafts along a sight line into `out` by source. [cd/m2]"""
    if rig.extinction <= 0.0:
        return
    for shaft in range(rig.n_shafts):
        lamp = shaft_of(rig, shaft).lamp
        soft = lamp_of(rig, lamp).face >= 0 and shaft_of(rig, shaft).count == 0
        if (which == SHARP and soft) or (which == SOFT and not soft):
            continue
        # through a pane the lamp is far off and the light along the line smooth; inside the room a line may pass close by it
        few = shaft_of(rig, shaft).count > 0 and nodes.shape[0] <= FEW + 6
        cd_m2 = shaft_air(rig, shaft, ox, oy, oz, dx, dy, dz, start, reach, nodes, weights, few, marks, spans)
        out[lamp_of(rig, lamp).source] += cd_m2


def airlight(rigs, which, origins, directions, reach, nodes, weights):
    """
    Single-scattered light along many sight lines. [cd/m2]

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    which : int
        SHARP, SOFT or ALL shafts.
    origins, directions : arrays (n, 3)
        Starts and unit directions. [m]
    reach : array (n,)
        How far each line goes through the haze. [m]
    nodes, weights : arrays
        From `gauss_nodes`, for each clear stretch.

    Returns
    -------
    array (n, sources)
        Luminance added by each source. [cd/m2]
    """
    out = np.zeros((origins.shape[0], rigs[0]["sources"]))
    _airlight.shared(len(origins), rigs, which, origins, directions, reach, nodes, weights, out)
    return out


@kernel(JOBS, RIGS, COUNT, TABLE, TABLE, NUMBERS, NUMBERS, NUMBERS, TABLE)
def _airlight(todo, rigs, which, origins, directions, reach, nodes, weights, out):
    rig, (marks, spans) = rigs[0], new_marks(rigs[0])
    while True:
        i = next_job(todo)
        if i < 0:
            return
        line_air(
            rig, which, origins[i, 0], origins[i, 1], origins[i, 2], directions[i, 0], directions[i, 1], directions[i, 2],
            0.0, reach[i], nodes, weights, out[i], marks, spans,
        )  # fmt: skip


# -- what boards, frames and sheers send on ------------------------------------------------------------


def _cells_to_cells(rig, points, normals, owner, rough=False):
    """
    Illuminance that cells of boards and frames take from each cell of the others at 1 cd/m2. [lx]

    Parameters
    ----------
    rig : Rig
    points : array (n, m, 3)
        Places on each of m receiving cells, whose mean is given. [m]
    normals, owner : arrays (m, 3), (m,)
        The ways they face, and the occluders they are on.
    rough : bool, default False
        By whether they see the middle of each, not by what they see of its outline.

    Returns
    -------
    array (m, cells of the rig)
    """
    out = np.zeros((points.shape[1], len(rig.cells)))
    _cells_from_cells.shared(len(out), rig.row, np.ascontiguousarray(points), normals, owner, rough, out)
    return out


@inner
def _middle_seen(rig, poly, own, x, y, z, nx, ny, nz, work):
    """Illuminance from an even rectangle of 1 cd/m2, of which all is seen if its middle is. [lx]"""
    taken = receive(poly, 4, x, y, z, nx, ny, nz, False, work[2])
    if taken <= 0.0:
        return 0.0
    mx, my, mz = 0.5 * (poly[0, 0] + poly[2, 0]), 0.5 * (poly[0, 1] + poly[2, 1]), 0.5 * (poly[0, 2] + poly[2, 2])
    share = clear_to(rig, x + LIFT_M * nx, y + LIFT_M * ny, z + LIFT_M * nz, mx, my, mz, own)
    return np.pi * taken * share * np.exp(-rig.extinction * np.sqrt((mx - x) ** 2 + (my - y) ** 2 + (mz - z) ** 2))


@kernel(JOBS, RIGS, CUBE, TABLE, COUNTS, TRUTH, TABLE)
def _cells_from_cells(todo, rigs, points, normals, owner, rough, out):
    rig, work = rigs[0], new_work()
    while True:
        k = next_job(todo)
        if k < 0:
            return
        nx, ny, nz, skip = normals[k, 0], normals[k, 1], normals[k, 2], owner[k]
        for p in range(points.shape[0]):
            x, y, z = points[p, k, 0], points[p, k, 1], points[p, k, 2]
            for facet in range(rig.n_facets):
                row = facet_of(rig, facet)
                if row.occluder < 0 or not _before(rig, facet, x, y, z, skip):
                    continue
                if rough:
                    for cell in range(row.first, row.first + row.cells):
                        out[k, cell] += _middle_seen(rig, wide(cell_of(rig, cell).quad), row.occluder, x, y, z, nx, ny, nz, work)
                    continue
                seen = _outline_seen(rig, facet, x, y, z, nx, ny, nz, False, work, skip)
                if seen == NOT:
                    continue
                if seen == FAR:
                    even = _polygon_light(
                        rig, wide(row.quad), 4, facet, row.fill / row.cells, False, x, y, z, nx, ny, nz, False, work, skip
                    )
                    for cell in range(row.first, row.first + row.cells):
                        out[k, cell] += even
                else:
                    _cells_light(rig, facet, seen == CLEAR, True, x, y, z, nx, ny, nz, False, work, skip, out[k])
        for cell in range(out.shape[1]):
            out[k, cell] /= points.shape[0]


@dataclass(frozen=True)
class Exchange:
    """How boards and frames light each other, cell by cell."""

    cells: np.ndarray  # (n,) their rows among the rig's cells
    send: np.ndarray  # (n,) share of a cell's illuminance that leaves it
    through: np.ndarray  # (n,) whose illuminance that is: the cell's own, in a frame that of the cell behind it
    back: np.ndarray  # (n,) share of its own that a frame's cell sends back
    shares: np.ndarray  # (n, n) illuminance on each for each at 1 cd/m2 [lx]

    def luminance(self, lux):
        """What leaves each cell when so much lands on them, (n,). [cd/m2]"""
        return (self.send * lux[self.through] + self.back * lux) / np.pi

    def settled(self, lux):
        """
        What lands on each cell when `lux` comes from elsewhere and is passed on until nothing is left, (n,). [lx]

        Each round is one more passage from facet to facet; what is left shrinks at least by the largest share sent on, a round.
        """
        total = more = lux
        for _ in range(MOST_ROUNDS):
            if np.abs(more).max(initial=0.0) <= 1e-6 * np.abs(total).max(initial=0.0):
                break
            more = self.shares @ self.luminance(more)
            total = total + more
        return total


def light_facets(rig, setup, draft=False):
    """
    The rig with the luminance of its boards, frames and sheers solved: lamps' light, passed between them until it is spent.

    Parameters
    ----------
    rig : Rig
        As laid out, facets dark.
    setup : Setup
        What it was laid out from.
    draft : bool, default False
        Where there are many cells, let them see each other by their middles: 2 % less light, at most 10 near boards that cross.

    Returns
    -------
    Rig
        With its `exchange`.
    """
    rig = _hang_sheers(rig, setup)
    lit = [facet for facet in rig.facets if facet["occluder"] >= 0]
    if not lit:
        return rig
    cells = np.concatenate([np.arange(s["first"], s["first"] + s["cells"]) for s in lit])
    owner = np.concatenate([np.full(s["cells"], s["occluder"]) for s in lit])
    quads = rig.cells["quad"][cells]
    normals = np.cross(quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    # a torch's spot is smaller than a cell: sixteen points average it; what other facets send is smooth, four will do
    many = len(cells) > MANY_CELLS
    lamps_lx = _mean_lux(rig, quads, normals, owner, 2 if many else 4)
    shares = np.zeros((len(cells), len(cells)))
    if len(np.unique(owner)) > 1:  # one board alone lights no other
        shares = _cells_to_cells(rig, _points_of(quads, 2), normals, owner, many and draft)[:, cells]
        shares /= np.maximum(shares.sum(axis=1) / np.pi, 1.0)[:, None]  # a cell sees no more than a whole sky
    exchange = Exchange(cells, *_sending(rig, lit), shares=shares)
    lit_cells = rig.cells.copy()
    lit_cells["luminance"][cells] = exchange.luminance(exchange.settled(lamps_lx))
    return rig.replace(cells=lit_cells, exchange=exchange)


def _points_of(quads, n):
    """n x n points spread evenly over each rectangle, (n n, rectangles, 3). [m]"""
    share = (np.arange(n) + 0.5) / n
    a, b = quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0]
    return np.array([quads[:, 0] + u * a + v * b for u in share for v in share])


def _mean_lux(rig, quads, normals, owner, n):
    """Straight light on each cell, the mean of n x n points, all sources together. [lx]"""
    points = _points_of(quads, n).reshape(-1, 3)
    flat = np.zeros(len(points), dtype=np.bool_)
    taken = straight(rig.row, points, np.tile(normals, (n * n, 1)), flat, np.tile(owner, n * n)).sum(axis=1)
    return taken.reshape(n * n, -1).mean(axis=0)


def _sending(rig, lit):
    """For each cell of the lit facets: the share it sends on; whose light that is, its own or that behind it; what goes back."""
    send, through, back, start = [], [], [], 0
    for facet in lit:
        occluder, n = rig.occluders[facet["occluder"]], facet["cells"]
        front = rig.facets[occluder["facet"][0]]["first"] == facet["first"]
        if occluder["diffuse"] > 0 or occluder["passes"] > 0:
            send += [occluder["diffuse"]] * n
            other = start + n if front else start - n  # front and back follow one another, cells in the same order
            through += list(range(other, other + n))
            back += [occluder["front"]] * n
        else:
            send += [occluder["front"] * (1 - occluder["gloss"]) if front or occluder["shape"] != FLAT else occluder["back"]] * n
            through += list(range(start, start + n))
            back += [0.0] * n
        start += n
    return np.array(send), np.array(through, dtype=np.int64), np.array(back)


def _hang_sheers(rig, setup):
    """Sheers lit from outside: one glowing facet for each source that reaches it."""
    rows, cells, windows = [], [], rig.windows.copy()
    for index in np.flatnonzero(rig.windows["diffuse"] > 0):
        window = setup.place.windows[index]
        quads = np.concatenate([split(q, 2, 2) for q in window_panes(window, setup.place)])
        luminance = windows[index]["diffuse"] / np.pi * _outside_lux(rig, quads)
        windows[index]["glow"] = luminance.sum(axis=1).mean()
        for source in np.flatnonzero(luminance.max(axis=0) > 0):
            row = facet_row(wall_outline(window, setup.place), quads, source, -1)
            rows.append(dict(row, first=len(rig.cells) + len(cells)))
            cells += [dict(quad=q, luminance=v) for q, v in zip(quads, luminance[:, source])]
    return rig.replace(
        windows=windows,
        facets=np.concatenate([rig.facets, table_of_rows(FACET, rows)]),
        cells=np.concatenate([rig.cells, table_of_rows(CELL, cells)]),
    )


def _outside_lux(rig, quads):
    """Illuminance by source on the outer side of window cells: lamps beyond the wall, sun, sky and ground. [lx]"""
    normals = -np.cross(quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0])  # outwards
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    points = _points_of(quads, 4)  # a beam falls off within a cell: the middle alone read 7 % high
    out = np.mean([outside_light(rig.row, there, normals) for there in points], axis=0)
    if rig.sky_source >= 0:
        even, side = (np.interp(normals[:, 2], np.linspace(-1, 1, TILTS), part) for part in rig.sky_flat)
        out[:, rig.sky_source] += even + normals[:, :2] @ rig.sky[1:3] * side
    return out


@kernel(RIGS, TABLE, TABLE)
def outside_light(rigs, points, normals):
    """Lamps and sun at points outside the walls, past the occluders and with no haze, by source. [lx]"""
    rig = rigs[0]
    out = np.zeros((points.shape[0], rig.sources))
    for i in range(points.shape[0]):
        x, y, z = points[i, 0], points[i, 1], points[i, 2]
        for lamp in range(rig.n_lamps):
            if lamp_of(rig, lamp).mirror >= 0:
                continue
            at = lamp_of(rig, lamp).at
            dx, dy, dz, lux = at[0], at[1], at[2], lamp_of(rig, lamp).scale
            if not lamp_of(rig, lamp).sun:
                dx, dy, dz = dx - x, dy - y, dz - z
                d2 = dx * dx + dy * dy + dz * dz
                d = np.sqrt(d2)
                dx, dy, dz = dx / d, dy / d, dz / d
                lux *= candela(rig, lamp, -dx, -dy, -dz) / d2
            lux *= max(0.0, dx * normals[i, 0] + dy * normals[i, 1] + dz * normals[i, 2])
            for occluder in range(rig.n_occluders):
                if lux > 0.0 and in_shade(rig, lamp * rig.shades_shape[1] + occluder, x, y, z):
                    lux *= occluder_of(rig, occluder).passes
            out[i, lamp_of(rig, lamp).source] += lux
    return out


def prepare(setup, *, face_samples=3, phase=None, draft=False):
    """
    A setup laid out with its facets lit: `lay_out`, then `light_facets`.

    Parameters
    ----------
    setup : Setup
    face_samples : int, default 3
        Samples along each side of an area lamp's face, for its shafts in the air.
    phase : array, optional
        Half-sine table of the phase function; Henyey-Greenstein from the setup's `g` when absent. [1/sr]
    draft : bool, default False
        As `light_facets` has it.

    Returns
    -------
    Rig
    """
    return light_facets(lay_out(setup, face_samples=face_samples, phase=phase), setup, draft)
