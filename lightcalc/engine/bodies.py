"""What people send on: the light on their skin and clothes, as far as other people and meters see it."""

from __future__ import annotations

import numpy as np

from lightcalc.engine.direct import _hidden, new_work, straight
from lightcalc.engine.geometry import receive
from lightcalc.engine.ground import ground_on_figure
from lightcalc.engine.harmonics import harmonics
from lightcalc.engine.kernels import COUNTS, JOBS, NUMBERS, TABLE, TRUTHS, inner, kernel, next_job
from lightcalc.engine.rows import BALL, RIGS, TERMS, air_of, fresh_of, halo_of, occluder_of
from lightcalc.engine.shadow import outline
from lightcalc.engine.solid import to_frame
from lightcalc.engine.turned import axis_place

# fourteen ways and weights that sum polynomials to the fifth degree over a sphere exactly: A. H. Stroud, Approximate Calculation
# of Multiple Integrals (1971), U3: 5-2
_AXES = np.concatenate([np.eye(3), -np.eye(3)])
_CORNERS = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3.0)
WAYS = np.concatenate([_AXES, _CORNERS])
WEIGHTS = np.concatenate([np.full(6, 1 / 15), np.full(8, 3 / 40)])


@inner
def bounced_lx(rig, air, x, y, z, nx, ny, nz, basis):
    """Illuminance from the bounced light in the air about a point: order 0 to 2 hold it to 1 %. [lx]"""
    low, size = rig.air_low, rig.air_size
    i, f = axis_place(x - low[0], size[0], air.shape[0])
    j, g = axis_place(y - low[1], size[1], air.shape[1])
    k, h = axis_place(z - low[2], size[2], air.shape[2])
    harmonics(-nx, -ny, -nz, basis)
    total = 0.0
    for term in range(9):
        c00 = air[i, j, k, term] * (1.0 - f) + air[i + 1, j, k, term] * f
        c10 = air[i, j + 1, k, term] * (1.0 - f) + air[i + 1, j + 1, k, term] * f
        c01 = air[i, j, k + 1, term] * (1.0 - f) + air[i + 1, j, k + 1, term] * f
        c11 = air[i, j + 1, k + 1, term] * (1.0 - f) + air[i + 1, j + 1, k + 1, term] * f
        value = (c00 * (1.0 - g) + c10 * g) * (1.0 - h) + (c01 * (1.0 - g) + c11 * g) * h
        gain = np.pi if term == 0 else (2.0 * np.pi / 3.0 if term < 4 else np.pi / 4.0)
        total += gain * value * basis[term]
    return max(total, 0.0)


@inner
def bounced_on_thing(rig, x, y, z, nx, ny, nz, basis):
    """Illuminance on a board, flag or body from what the air about it carries. [lx]"""
    if not rig.enclosed and rig.extinction <= 0.0:
        return 0.0
    bounced = bounced_lx(rig, air_of(rig), x, y, z, nx, ny, nz, basis)
    if rig.enclosed:  # open ground has its own
        bounced += bounced_lx(rig, fresh_of(rig), x, y, z, nx, ny, nz, basis)
    return bounced + bounced_lx(rig, halo_of(rig), x, y, z, nx, ny, nz, basis)


FACE_M = 0.03  # a receptor so near a person's face is a patch of it
FAINT = 1e-6  # of its size, that a head is shrunk to where it is to hide nothing


def own_heads(rig, setup, points, normals, dome):
    """
    For each flat receptor at a person's face that looks aside, that person's head among the occluders; else -1.

    Parameters
    ----------
    rig : Rig
    setup : Setup
        What it was laid out from.
    points, normals : arrays (n, 3)
        [m]
    dome : array (n,) of bool

    Returns
    -------
    array (n,) of int
    """
    heads = np.full(len(points), -1)
    for k, mark in enumerate(mark for mark in setup.marks if mark.figure):
        head = rig.figures["first"][k]
        away = rig.occluders["middle"][head] - points
        aside = (away * normals).sum(axis=1) > -0.95 * np.linalg.norm(away, axis=1)
        heads[(np.linalg.norm(points - mark.at, axis=1) < FACE_M) & aside & ~dome] = head
    return heads


def without(rig, head):
    """
    The rig with one ellipsoid shrunk to next to nothing.

    Parameters
    ----------
    rig : Rig
    head : int
        Its index among the occluders.

    Returns
    -------
    Rig
    """
    occluders, shades = rig.occluders.copy(), rig.shades.copy()
    occluders["into"][head] /= FAINT
    occluders["radius"][head] *= FAINT
    occluders["front"][head] = 0.0
    for column in range(head, shades.shape[1], len(occluders)):  # and its image in a mirror
        mine = shades[:, column]
        mine["into"] /= FAINT
        mine["lamp"] = np.where(mine["far"][:, None], mine["lamp"], mine["lamp"] / FAINT)
    return rig.replace(occluders=occluders, shades=shades)


def glow(rig):
    """
    How bright each ellipsoid is: one luminance, a slope and a bend over its own frame, its harmonics of order 0 to 2.

    Parameters
    ----------
    rig : Rig
        With its bounced light.

    Returns
    -------
    array (occluders, 10)
        L(u) = glow[0] + glow[1:4] . u + u . Q u for a point u of the unit ball, Q symmetric: xx, yy, zz, xy, xz, yz; zeros for
        boxes and rectangles. [cd/m2]
    """
    out = np.zeros((len(rig.occluders), 10))
    rows = np.flatnonzero((rig.occluders["shape"] == BALL) & (rig.occluders["front"] > 0.0))
    if not len(rows):
        return out
    parts = rig.occluders[rows]
    spread = parts["into"] / (parts["into"] ** 2).sum(axis=2, keepdims=True)  # axis times half
    points = (parts["middle"][:, None] + WAYS @ spread).reshape(-1, 3)
    normals = WAYS @ parts["into"]
    normals = (normals / np.linalg.norm(normals, axis=2, keepdims=True)).reshape(-1, 3)
    owner = np.repeat(rows, len(WAYS))
    lux = straight(rig.row, points, normals, np.zeros(len(points), dtype=np.bool_), owner).sum(axis=1)
    lux += _bounced(rig.row, points, normals, owner)
    light = (parts["front"][:, None] / np.pi) * np.maximum(lux, 0.0).reshape(len(rows), -1) * WEIGHTS
    bend = 7.5 * (WAYS[:, [0, 1, 2, 0, 0, 1]] * WAYS[:, [0, 1, 2, 1, 2, 2]] - np.array([1, 1, 1, 0, 0, 0]) / 3.0)
    out[rows] = light @ np.concatenate([np.ones((len(WAYS), 1)), 3.0 * WAYS, bend], axis=1)
    return out


@kernel(RIGS, TABLE, TABLE, COUNTS)
def _bounced(rigs, points, normals, owner):
    """What air and ground send to points of bodies, (n,). [lx]"""
    rig, basis, out = rigs[0], np.empty(TERMS), np.empty(points.shape[0])
    for k in range(points.shape[0]):
        x, y, z, nx, ny, nz = points[k, 0], points[k, 1], points[k, 2], normals[k, 0], normals[k, 1], normals[k, 2]
        out[k] = bounced_on_thing(rig, x, y, z, nx, ny, nz, basis)
        if not rig.enclosed:
            out[k] += ground_on_figure(rig, owner[k], x, y, z, nx, ny, nz)
    return out


def bodies_to_points(rig, points, normals, dome):
    """
    Illuminance that people's skin and clothes send to receptors, past what stands between. [lx]

    Parameters
    ----------
    rig : Rig
        With its bounced light.
    points, normals : arrays (n, 3)
        [m]
    dome : array (n,) of bool

    Returns
    -------
    array (n,)

    Notes
    -----
    An ellipsoid counts as its outline, even, with the mean luminance of the side that the receptor sees: from far off 2/3 of the
    slope that points to it and 1/4 of the bend, from close by all of both. Error: half of a ball lit by a bulb, from a metre
    off, a tenth of what it sends.
    """
    out = np.zeros(len(points))
    shining = glow(rig)
    if shining.any():
        _bodies_to_points.shared(len(points), rig.row, shining, points, normals, dome, out)
    return out


@kernel(JOBS, RIGS, TABLE, TABLE, TABLE, TRUTHS, NUMBERS)
def _bodies_to_points(todo, rigs, shining, points, normals, dome, out):
    rig, work = rigs[0], new_work()
    while True:
        i = next_job(todo)
        if i < 0:
            return
        x, y, z, nx, ny, nz = points[i, 0], points[i, 1], points[i, 2], normals[i, 0], normals[i, 1], normals[i, 2]
        for occluder in range(rig.flats, rig.n_occluders):
            if shining[occluder, 0] <= 0.0:
                continue
            row = occluder_of(rig, occluder)
            px, py, pz = to_frame(row.into, x - row.middle[0], y - row.middle[1], z - row.middle[2])
            far = np.sqrt(px * px + py * py + pz * pz)
            if far <= 1.0:
                continue
            poly = work[4]
            count = outline(rig, occluder, 0, x, y, z, poly, work[6])
            taken = receive(poly, count, x, y, z, nx, ny, nz, dome[i], work[2])
            if taken <= 0.0:
                continue
            taken -= _hidden(rig, x, y, z, nx, ny, nz, dome[i], poly, count, taken, occluder, -1, work)
            px, py, pz = px / far, py / far, pz / far
            slope = shining[occluder, 1] * px + shining[occluder, 2] * py + shining[occluder, 3] * pz
            bend = shining[occluder, 4] * px * px + shining[occluder, 5] * py * py + shining[occluder, 6] * pz * pz
            bend += 2.0 * (shining[occluder, 7] * px * py + shining[occluder, 8] * px * pz + shining[occluder, 9] * py * pz)
            luminance = max(shining[occluder, 0] + (2.0 + 1.0 / far) / 3.0 * slope + (1.0 + 3.0 / far) / 4.0 * bend, 0.0)
            ax, ay, az = row.middle[0] - x, row.middle[1] - y, row.middle[2] - z
            thin = np.exp(-rig.extinction * max(np.sqrt(ax * ax + ay * ay + az * az) - row.radius, 0.0))
            out[i] += np.pi * luminance * max(taken, 0.0) * thin
