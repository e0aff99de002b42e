"""
What the haze at a place turns into one direction: light from lamps turned once, from boards and walls, and all that bounced.

Each is a radiance per unit of optical depth; a sight line adds them up along its way. Narrow bundles are gathered from the
points, patches and facets they come from, wide ones kept as harmonics in the cells of the air.
"""

from __future__ import annotations

import numpy as np

from lightcalc.engine.direct import FAR_CELLS, sky_at
from lightcalc.engine.geometry import at_step, fading, lookup, solid_angle
from lightcalc.engine.harmonics import harmonics
from lightcalc.engine.kernels import inner, plain
from lightcalc.engine.rows import ORDERS, TERMS, cell_of, facet_of, patch_of, point_of, wide
from lightcalc.engine.shadow import clear_to, near_crowd, past_figures, past_flats

# Of places fainter than this share of the mean so far nobody asks whether they are hidden: 0.001 stop rms in a picture. In a crowded
# draft one in so many is asked of those up to so many times as bright as the mean, and the others fare alike; it stays as close.
SLIGHT, BRIGHT, SAMPLED = 0.25, 8.0, 16
STEEPEST = 0.97  # most that one order of light may keep of the one before, so that noise makes no beam


@inner
def axis_place(value, size, cells):
    """Cell-centred linear look-up on one axis: lower cell and fraction, clamped at the walls."""
    place = min(max(value / size * cells - 0.5, 0.0), cells - 1.0)
    k = min(int(place), max(cells - 2, 0))
    return k, place - k


@inner
def bounced_radiance(rig, air, x, y, z, vx, vy, vz, moments):
    """
    Light kept in an air grid that the haze turns into direction v, per unit of optical depth. [cd/m2]

    The orders above those kept are carried on by `higher_orders`. `moments` is scratch, (2, TERMS).
    """
    low, size = rig.air_low, rig.air_size
    i, f = axis_place(x - low[0], size[0], air.shape[0])
    j, g = axis_place(y - low[1], size[1], air.shape[1])
    k, h = axis_place(z - low[2], size[2], air.shape[2])
    here, way = moments[0], moments[1]
    harmonics(vx, vy, vz, way)
    total, term = 0.0, 0
    for order in range(ORDERS):
        part = 0.0
        for _ in range(2 * order + 1):
            c00 = air[i, j, k, term] * (1.0 - f) + air[i + 1, j, k, term] * f
            c10 = air[i, j + 1, k, term] * (1.0 - f) + air[i + 1, j + 1, k, term] * f
            c01 = air[i, j, k + 1, term] * (1.0 - f) + air[i + 1, j, k + 1, term] * f
            c11 = air[i, j + 1, k + 1, term] * (1.0 - f) + air[i + 1, j + 1, k + 1, term] * f
            here[term] = (c00 * (1.0 - g) + c10 * g) * (1.0 - h) + (c01 * (1.0 - g) + c11 * g) * h
            part += here[term] * way[term]
            term += 1
        total += rig.legendre[order] * part
    return total + higher_orders(rig.legendre, here, way, vx, vy, vz)


@inner
def higher_orders(legendre, here, way, vx, vy, vz):
    """
    What the orders above the third add to light that the haze turns into direction v, for the moments `here`. [cd/m2]

    A bundle narrower than its kept orders can hold swings round its way: as much behind it as the light that is there. About the
    mean way the moments of light and haze fall from each order to the next; they are taken to go on falling as from the second to
    the third, which for Henyey and Greenstein's function is exact, and all that follow have a closed sum. `way` is scratch.
    """
    size = np.sqrt(here[1] * here[1] + here[2] * here[2] + here[3] * here[3])
    if size <= 0.0 or legendre[2] <= 0.0 or legendre[3] <= 0.0:
        return 0.0
    dx, dy, dz = here[3] / size, here[1] / size, here[2] / size
    harmonics(dx, dy, dz, way)
    second, third = 0.0, 0.0
    for term in range(4, 9):
        second += here[term] * way[term] / 5.0
    for term in range(9, 16):
        third += here[term] * way[term] / 7.0
    if third <= 0.0 or second <= 0.0:
        return 0.0
    fall = min(third / second, STEEPEST) * min(legendre[3] / legendre[2], STEEPEST)
    if fall < 0.01:
        return 0.0
    mu = dx * vx + dy * vy + dz * vz
    square = 1.0 + fall * fall - 2.0 * fall * mu
    all_orders = (1.0 - fall * fall) / (square * np.sqrt(square))
    kept = 1.0 + fall * (3.0 * mu + fall * (2.5 * (3.0 * mu * mu - 1.0) + fall * 3.5 * mu * (5.0 * mu * mu - 3.0)))
    return third * legendre[3] / fall**3 * (all_orders - kept)


@inner
def new_scratch(rig):
    """
    Room to work in for all that the air about a place turns.

    Returns
    -------
    moments : array (2, TERMS)
        Moments at a place, and harmonics.
    points, patches : arrays (7, halo points), (8, patches)
        Those of the rig by columns, so that several can be worked out at once: where each is, its way and lumens; where
        each is, its normal, its luminance, its area.
    block : array (4, the more of both)
        What they send to a place, two more of its parts, and whether it comes near a person or piece.
    """
    points, patches = np.empty((7, rig.n_points)), np.empty((8, rig.n_patches))
    for k in range(rig.n_points):
        point = point_of(rig, k)
        for axis in range(3):
            points[axis, k], points[3 + axis, k] = point.at[axis], point.way[axis]
        points[6, k] = point.lumens
    for k in range(rig.n_patches):
        patch = patch_of(rig, k)
        for axis in range(3):
            patches[axis, k], patches[3 + axis, k] = patch.at[axis], patch.normal[axis]
        patches[6, k], patches[7, k] = patch.luminance, patch.area
    return np.empty((2, TERMS)), points, patches, np.empty((4, max(rig.n_points, rig.n_patches)))


@inner
def open_radiance(rig, vx, vy, vz):
    """
    Light of sky and open ground that the haze turns into direction v, per unit of optical depth. [cd/m2]

    In a room it is 0.
    """
    place = (vz + 1.0) * 0.5 * (rig.open_air.shape[1] - 1)
    k = min(max(int(place), 0), rig.open_air.shape[1] - 2)
    part, table = place - k, rig.open_air
    even = table[0, k] + part * (table[0, k + 1] - table[0, k])
    side = table[1, k] + part * (table[1, k + 1] - table[1, k])
    return max(even + (rig.sky[1] * vx + rig.sky[2] * vy) * side, 0.0)


@plain
def _from_points(points, x, y, z, vx, vy, vz, extinction, core2, steps, block):
    """For each halo point: its light without the haze's two turns, and where in the phase table each of them is found."""
    light, once, again = block[0], block[1], block[2]
    for k in range(points.shape[1]):
        dx, dy, dz = x - points[0, k], y - points[1, k], z - points[2, k]
        d2 = dx * dx + dy * dy + dz * dz
        d = np.sqrt(d2) + 1e-9
        per = 1.0 / d
        near = d2 + core2
        light[k] = points[6, k] * fading(extinction * d) * (d2 + 3.0 * core2) / (near * near)
        cosine = (points[3, k] * dx + points[4, k] * dy + points[5, k] * dz) * per
        once[k] = np.sqrt(max(0.5 - 0.5 * cosine, 0.0)) * steps
        again[k] = np.sqrt(max(0.5 - 0.5 * (dx * vx + dy * vy + dz * vz) * per, 0.0)) * steps


@inner
def gathered_halo(rig, x, y, z, vx, vy, vz, scratch, turn):
    """
    Light turned once, gathered from its points and turned again into direction v, per unit of optical depth. [cd/m2]

    Each point sends lumens x phase / d^2. It stands for the light of a volume, so within a core c it is blurred: for 1 / d^2
    stands (d^2 + 3 c^2) / (d^2 + c^2)^2, which sums over all space to the same and keeps one point from standing out.
    """
    _, points, _, block = scratch
    _from_points(points, x, y, z, vx, vy, vz, rig.extinction, rig.core * rig.core, rig.phase.shape[0] - 1, block)
    past_flats(rig, x, y, z, points, block[0, : points.shape[1]])
    near_crowd(rig, x, y, z, points, block[3, : points.shape[1]])
    for k in range(points.shape[1]):
        block[0, k] *= at_step(rig.phase, block[1, k]) * at_step(rig.phase, block[2, k])
    return _that_arrives(rig, x, y, z, points, block[0], block[3], turn)


@inner
def _that_arrives(rig, x, y, z, places, light, near, turn):
    """
    The sum of light from many places, (n,), at a point, less what people and furniture hide; `near` says which they may hide. [cd/m2]

    `turn` says which are asked where only one in SAMPLED is, so that along a sight line all are.
    """
    total, whole, seen, rest = 0.0, 1e-300, 1e-300, 0.0
    for k in range(places.shape[1]):
        if near[k] == 0.0 or (not rig.rough and light[k] * (k + 1) <= SLIGHT * total):
            total += light[k]
            continue
        sample = rig.rough and light[k] * (k + 1) <= BRIGHT * (total + rest)
        if sample and (k + turn) % SAMPLED != 0:
            rest += light[k]
            continue
        clear = past_figures(rig, x, y, z, places[0, k], places[1, k], places[2, k], -1)
        total += light[k] if clear else 0.0
        whole += abs(light[k]) if sample else 0.0
        seen += abs(light[k]) if sample and clear else 0.0
    return total + rest * seen / whole


@plain
def _from_patches(patches, x, y, z, vx, vy, vz, extinction, steps, block):
    """
    For each patch its light without the haze's turn, where in the phase table that is found, and its distance squared.

    Of one close by its luminance alone: its solid angle is `_near_patch`'s.
    """
    light, turn, square = block[0], block[1], block[2]
    for k in range(patches.shape[1]):
        dx, dy, dz = x - patches[0, k], y - patches[1, k], z - patches[2, k]
        d2 = dx * dx + dy * dy + dz * dz + 1e-18
        d = np.sqrt(d2)
        per = 1.0 / d
        height = dx * patches[3, k] + dy * patches[4, k] + dz * patches[5, k]
        solid = patches[7, k] * height * per * per * per
        light[k] = patches[6, k] * fading(extinction * d) * (solid if d2 >= 4.0 * patches[7, k] else 1.0)
        turn[k] = np.sqrt(max(0.5 - 0.5 * (dx * vx + dy * vy + dz * vz) * per, 0.0)) * steps
        square[k] = d2


@inner
def patch_radiance(rig, x, y, z, vx, vy, vz, scratch, turn):
    """
    Light straight from walls, floor and ceiling, turned by the haze at a point into direction v, per unit of optical depth. [cd/m2]

    A bright patch sends a bundle too narrow for harmonics. A piece further off than twice its own size counts as a point;
    a nearer one with its exact solid angle, from a little further out, so that no piece is seen edge on.
    """
    _, _, patches, block = scratch
    _from_patches(patches, x, y, z, vx, vy, vz, rig.extinction, rig.phase.shape[0] - 1, block)
    past_flats(rig, x, y, z, patches, block[0, : patches.shape[1]])
    near_crowd(rig, x, y, z, patches, block[3, : patches.shape[1]])
    for k in range(patches.shape[1]):
        if block[2, k] < 4.0 * patches[7, k]:
            block[0, k] *= _near_patch(rig, k, x, y, z, vx, vy, vz)
        else:
            block[0, k] *= at_step(rig.phase, block[1, k])
    return _that_arrives(rig, x, y, z, patches, block[0], block[3], turn)


@inner
def _near_patch(rig, k, x, y, z, vx, vy, vz):
    """The solid angle of one patch close by, times what the haze turns of its light."""
    patch = patch_of(rig, k)
    normal = patch.normal
    dx, dy, dz = x - patch.at[0], y - patch.at[1], z - patch.at[2]
    h = dx * normal[0] + dy * normal[1] + dz * normal[2]
    solid = _patch_solid(patch.axis, patch.half, dx, dy, dz, h)
    lift = np.sqrt(h * h + 0.3 * patch.area) - h
    dx, dy, dz = dx + lift * normal[0], dy + lift * normal[1], dz + lift * normal[2]
    d = np.sqrt(dx * dx + dy * dy + dz * dz)
    return solid * lookup(rig.phase, (dx * vx + dy * vy + dz * vz) / d)


@inner
def _patch_solid(axis, half, dx, dy, dz, h):
    """Solid angle of a rectangle square to a room axis, from an offset to its middle and a height h over it. [sr]"""
    u, v = (dy, dz) if axis == 0 else ((dx, dz) if axis == 1 else (dx, dy))
    total = 0.0
    for i in range(2):
        s = u + half[0] if i == 0 else u - half[0]
        for j in range(2):
            t = v + half[1] if j == 0 else v - half[1]
            corner = np.arctan2(s * t, h * np.sqrt(s * s + t * t + h * h))
            total += corner if i == j else -corner
    return total


@inner
def facet_radiance(rig, source, x, y, z, vx, vy, vz):
    """
    Light of boards, frames, sheers and sky openings that the haze at a point turns into direction v. [cd/m2]

    Of all of them, or with a `source` of 0 or more of that one alone.
    """
    total = 0.0
    for facet in range(rig.n_facets):
        row = facet_of(rig, facet)
        if source >= 0 and row.source != source:
            continue
        quad = wide(row.quad)
        ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
        bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
        qx, qy, qz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
        wx, wy, wz = x - quad[0, 0], y - quad[0, 1], z - quad[0, 2]
        if qx * wx + qy * wy + qz * wz <= 0.0:
            continue
        mean = row.sum
        if mean <= 0.0:
            continue
        wx, wy, wz = wx - 0.5 * (ax + bx), wy - 0.5 * (ay + by), wz - 0.5 * (az + bz)
        whole = wx * wx + wy * wy + wz * wz > row.reach * row.reach
        first, count = (row.first, 1) if whole else (row.first, row.cells)
        seen_share = 1.0
        if rig.rough:  # all of it, if its middle is
            seen_share = clear_to(rig, x, y, z, x - wx, y - wy, z - wz, row.occluder)
            if seen_share <= 0.0:
                continue
        size = np.sqrt(qx * qx + qy * qy + qz * qz)
        area = size * row.fill / row.cells
        for cell in range(first, first + count):
            luminance = mean / row.cells * row.fill if whole else cell_of(rig, cell).luminance
            poly = quad if whole else wide(cell_of(rig, cell).quad)
            if luminance <= 0.0:
                continue
            mx = 0.25 * (poly[0, 0] + poly[1, 0] + poly[2, 0] + poly[3, 0])
            my = 0.25 * (poly[0, 1] + poly[1, 1] + poly[2, 1] + poly[3, 1])
            mz = 0.25 * (poly[0, 2] + poly[1, 2] + poly[2, 2] + poly[3, 2])
            ux, uy, uz = x - mx, y - my, z - mz
            d = np.sqrt(ux * ux + uy * uy + uz * uz)
            if row.sky:
                luminance *= sky_at(rig, -ux / d, -uy / d, -uz / d)
            turned = lookup(rig.phase, (ux * vx + uy * vy + uz * vz) / d)
            share = seen_share if rig.rough else clear_to(rig, x, y, z, mx, my, mz, row.occluder)
            if share <= 0.0:
                continue
            if not whole and d * d > FAR_CELLS * area:
                seen = area * (qx * ux + qy * uy + qz * uz) / (size * d * d * d)
            else:
                seen = solid_angle(poly, 4, x, y, z)
            total += luminance * share * seen * turned * np.exp(-rig.extinction * d)
    return total
