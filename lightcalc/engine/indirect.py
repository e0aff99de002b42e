"""
Everything after straight light: what surfaces and air pass on, and how a receptor or a sight line takes it in.

It is held on coarse grids, in the rig. On the six surfaces: the illuminance that is not straight from
a lamp, and the luminance that leaves. In the air: the radiance that has bounced, as real spherical
harmonics to order 3 of the way it travels; a sight line multiplies each order by the phase function's
Legendre moment (for Henyey-Greenstein g^l) and has the light scattered towards the lens.
"""

from __future__ import annotations

import numpy as np

from lightcalc.engine.direct import (
    SHARP,
    SOFT,
    face_light,
    facet_light,
    line_air,
    new_marks,
    new_work,
    open_sky_light,
    point_light,
    shaft_air,
)
from lightcalc.engine.geometry import phase_moments, receive, total
from lightcalc.engine.intersect import in_air_cells, meet_wall, wall_normal, window_at
from lightcalc.engine.kernels import COUNT, CUBE, JOBS, NUMBER, NUMBERS, TABLE, TRUTH, TRUTHS, inner, kernel, next_job
from lightcalc.engine.particles import LAMP_THROUGH, dealt, draws_of, emitters, trace, turned_about, turned_light
from lightcalc.engine.rows import (
    ORDERS,
    PATCH,
    POINT,
    RIGS,
    air_of,
    figure_of,
    halo_of,
    lamp_of,
    occluder_of,
    shaft_of,
    walls_cd_m2_of,
)
from lightcalc.engine.shadow import clear_to, hit, near_ray
from lightcalc.engine.tallies import finer, settled
from lightcalc.engine.turned import (
    axis_place,
    bounced_radiance,
    facet_radiance,
    gathered_halo,
    new_scratch,
    open_radiance,
    patch_radiance,
)

UNEVEN = 0.004  # a piece of wall is split where its unevenness is this share of all that the walls send
EDGED = 0.1  # a cell so far off the mean about it, as a share of the most there, is at an edge
FAINT = 0.01  # of the brightest: in what has less no edge is sought
DENSE = 20.0  # mean free paths across the air, beyond which fewer particles are followed: each tallies so much oftener
ALONG = np.array([[1, 2], [1, 2], [0, 2], [0, 2], [0, 1], [0, 1]])  # the axes along each surface, in SURFACE_ORDER
FAR_M = 300.0  # outdoors a sight line is followed so far through the haze
OPEN_STEP_M, OPEN_STEPS = 1.0, 50  # and near lamps and boards in steps of this, or that many to the air's width and depth


@inner
def on_wall(grid, size, surface, x, y, z):
    """A surface grid at a point of that surface, bilinear, without seams between cells."""
    n = grid.shape[1]
    if surface < 2:
        i, f = axis_place(y, size[1], n)
        j, g = axis_place(z, size[2], n)
    elif surface < 4:
        i, f = axis_place(x, size[0], n)
        j, g = axis_place(z, size[2], n)
    else:
        i, f = axis_place(x, size[0], n)
        j, g = axis_place(y, size[1], n)
    a = grid[surface, i, j] * (1.0 - f) + grid[surface, i + 1, j] * f
    b = grid[surface, i, j + 1] * (1.0 - f) + grid[surface, i + 1, j + 1] * f
    return a * (1.0 - g) + b * g


@inner
def wall_point(size, surface, u, v):
    """The point of a surface at shares u, v of its sides."""
    if surface < 2:
        return (0.0 if surface == 0 else size[0]), u * size[1], v * size[2]
    if surface < 4:
        return u * size[0], (0.0 if surface == 2 else size[1]), v * size[2]
    return u * size[0], v * size[1], (0.0 if surface == 4 else size[2])


@inner
def soft_line(rig, ox, oy, oz, dx, dy, dz, stops_m, out, gather, lamps, nodes, weights, spare, marks, spans, scratch):
    """
    Light without sharp edges in the air - soft sources and all that bounced - summed along a sight line.

    With `gather` the halo round the shafts comes from its points, else from its harmonics; without `lamps` the light
    straight from area lamps is left out. In the open only the cells of the air count, in steps of about OPEN_STEP_M; what
    sky and open ground light, `open_radiance`, is not in it. `out[k]` becomes the luminance gathered up to `stops_m[k]`
    metres. [cd/m2]
    """
    total, before, near, far = 0.0, 0.0, 0.0, np.inf
    open_cd_m2 = open_radiance(rig, -dx, -dy, -dz)
    if not rig.enclosed:
        near, far = in_air_cells(rig, ox, oy, oz, dx, dy, dz)
    step = max(OPEN_STEP_M, (rig.air_size[0] + rig.air_size[1]) / OPEN_STEPS)
    for k in range(stops_m.shape[0]):
        here = min(max(stops_m[k], near), far)
        before = max(before, near)
        pieces = 1 if rig.enclosed else int((here - before) / step) + 1
        for piece in range(pieces):
            if here <= before:
                break
            low = before + (here - before) * piece / pieces
            high = before + (here - before) * (piece + 1) / pieces
            spare[:] = 0.0
            if lamps:
                line_air(rig, SOFT, ox, oy, oz, dx, dy, dz, low, high, nodes, weights, spare, marks, spans)
            for source in range(spare.shape[0]):
                total += spare[source]
            middle, turn = 0.5 * (low + high), 3 * k + piece
            x, y, z = ox + middle * dx, oy + middle * dy, oz + middle * dz
            bounced = bounced_radiance(rig, air_of(rig), x, y, z, -dx, -dy, -dz, scratch[0])
            if gather and rig.n_points > 0:
                bounced += gathered_halo(rig, x, y, z, -dx, -dy, -dz, scratch, turn)
            else:
                bounced += bounced_radiance(rig, halo_of(rig), x, y, z, -dx, -dy, -dz, scratch[0])
            bounced += facet_radiance(rig, -1, x, y, z, -dx, -dy, -dz)
            surfaces = patch_radiance(rig, x, y, z, -dx, -dy, -dz, scratch, turn)
            if open_cd_m2 > 0.0:  # shade takes no more than sky and open ground give
                radiance = max(bounced, 0.0) + max(surfaces, -open_cd_m2)
            else:
                radiance = max(bounced + surfaces, 0.0)
            total += radiance * (np.exp(-rig.extinction * low) - np.exp(-rig.extinction * high))
        out[k] = total
        before = max(before, here)


@kernel(RIGS, COUNT, NUMBERS, NUMBERS, NUMBER, COUNT)
def facet_air(rigs, source, origin, ray, reach, steps):
    """What one source's boards, frames, sheers or sky openings light up along a sight line, in so many even steps. [cd/m2]"""
    rig, total = rigs[0], 0.0
    for k in range(steps):
        low, high = reach * k / steps, reach * (k + 1) / steps
        t = 0.5 * (low + high)
        radiance = facet_radiance(
            rig, source, origin[0] + t * ray[0], origin[1] + t * ray[1], origin[2] + t * ray[2], -ray[0], -ray[1], -ray[2]
        )
        total += radiance * (np.exp(-rig.extinction * low) - np.exp(-rig.extinction * high))
    return total


def soft_air(rigs, origin, directions, reach, ends, slices, nodes, weights):
    """
    `soft_line` for many sight lines from one point, at even shares of each one's reach, the nearest of which is moved to its end.

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    origin : array (3,)
        Where they start. [m]
    directions : array (n, 3)
        Unit vectors.
    reach : array (n,)
        How far each goes. [m]
    ends : array (n,)
        Where a thing stands in its way; 0 for nothing. [m]
    slices : int
        Shares of it.
    nodes, weights : arrays
        From `direct.gauss_nodes`.

    Returns
    -------
    array (n, slices)
        [cd/m2]
    """
    out = np.zeros((directions.shape[0], slices))
    if rigs[0]["extinction"] > 0.0:
        _soft_air.shared(len(directions), rigs, origin, directions, reach, ends, slices, nodes, weights, out)
    return out


@inner
def slice_of(end, reach, slices):
    """Which of the even shares of a line, from 0, is moved to its end; -1 where nothing ends it."""
    return min(max(int(end / reach * slices + 0.5) - 1, 0), slices - 2) if 0.0 < end < reach else -1


@kernel(JOBS, RIGS, NUMBERS, TABLE, NUMBERS, NUMBERS, COUNT, NUMBERS, NUMBERS, TABLE)
def _soft_air(todo, rigs, origin, directions, reach, ends, slices, nodes, weights, out):
    rig, (marks, spans) = rigs[0], new_marks(rigs[0])
    spare, scratch, steps = np.empty(max(rig.sources, 1)), new_scratch(rig), np.empty(slices)
    while True:
        i = next_job(todo)
        if i < 0:
            return
        even_steps(reach[i], steps)
        moved = slice_of(ends[i], reach[i], slices)
        if moved >= 0:
            steps[moved] = ends[i]
        soft_line(
            rig, origin[0], origin[1], origin[2], directions[i, 0], directions[i, 1], directions[i, 2],
            steps, out[i], True, True, nodes, weights, spare, marks, spans, scratch,
        )  # fmt: skip


@inner
def even_steps(reach, steps):
    """The ends of even steps along so many metres, into `steps`. [m]"""
    for k in range(steps.shape[0]):
        steps[k] = reach * (k + 1) / steps.shape[0]


@kernel(RIGS, TABLE)
def open_air(rigs, directions):
    """`open_radiance` towards one that looks along each of some directions, (n,). [cd/m2]"""
    out = np.empty(directions.shape[0])
    for i in range(directions.shape[0]):
        out[i] = open_radiance(rigs[0], -directions[i, 0], -directions[i, 1], -directions[i, 2])
    return out


def walls_straight(rigs, cells, soft):
    """
    Straight light on a grid of every surface.

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    cells, soft : int
        Cells along each side, each read in its middle, for what has sharp edges; and for area lamps, facets and sky, which have none.

    Returns
    -------
    points_lx, solid : arrays (6, cells, cells)
        Illuminance from point lamps and the sun [lx], and 1 for plain wall, 0 for a window.
    faces_lx, facets_lx : arrays (6, soft, soft)
        Illuminance from area lamps, and from facets and sky. [lx]
    """
    points, solid = np.zeros((6, cells, cells)), np.zeros((6, cells, cells))
    faces, facets = np.zeros((6, soft, soft)), np.zeros((6, soft, soft))
    _walls_straight.shared(6 * cells + 6 * soft, rigs, points, solid, faces, facets)
    return points, solid, faces, facets


@kernel(JOBS, RIGS, CUBE, CUBE, CUBE, CUBE)
def _walls_straight(todo, rigs, points, solid, faces, facets):
    """First the rows of the finer grid, then those of the coarser."""
    rig, work, cells, soft = rigs[0], new_work(), points.shape[1], faces.shape[1]
    lux = np.empty(rig.sources + 1)
    while True:
        row = next_job(todo)
        if row < 0:
            return
        if row >= 6 * cells:
            row -= 6 * cells
            _wall_soft(rig, row // soft, row % soft, lux, work, faces, facets)
            continue
        surface, i = row // cells, row % cells
        nx, ny, nz = wall_normal(surface)
        for j in range(cells):
            x, y, z = wall_point(rig.size, surface, (i + 0.5) / cells, (j + 0.5) / cells)
            window, barred = window_at(rig, surface, x, y, z)
            if window < 0 or barred:
                lux[:] = 0.0
                point_light(rig, x, y, z, nx, ny, nz, False, lux, -1)
                solid[surface, i, j], points[surface, i, j] = 1.0, total(lux)


@inner
def _wall_soft(rig, surface, i, lux, work, faces, facets):
    """One row of a surface's coarser grid: light of area lamps, and of facets and sky. [lx]"""
    soft = faces.shape[1]
    nx, ny, nz = wall_normal(surface)
    for j in range(soft):
        x, y, z = wall_point(rig.size, surface, (i + 0.5) / soft, (j + 0.5) / soft)
        lux[:] = 0.0
        face_light(rig, x, y, z, nx, ny, nz, False, lux, work, -1, False)
        faces[surface, i, j] = total(lux)
        lux[:] = 0.0
        facet_light(rig, x, y, z, nx, ny, nz, False, lux, work, -1, True, rig.rough)
        open_sky_light(rig, x, y, z, nx, ny, nz, False, lux, work, -1)
        facets[surface, i, j] = total(lux)


def _with_edges(rig, coarse, cells):
    """Area lamps' light on finer cells: drawn in between the coarse ones where these are even, else asked anew. [lx]"""
    fine, n = finer(coarse, cells), coarse.shape[1]
    around = np.pad(coarse, ((0, 0), (1, 1), (1, 1)), mode="edge")
    about = np.array([around[:, i : i + n, j : j + n] for i in range(3) for j in range(3)])
    most = about.max(axis=0)
    edge = (np.abs(coarse - about.mean(axis=0)) > EDGED * most) & (most > FAINT * coarse.max(initial=0.0))
    places = np.argwhere(edge.repeat(cells // n, axis=1).repeat(cells // n, axis=2))
    if len(places):
        found = np.zeros(len(places))
        _faces_at.shared(len(places), rig.row, np.ascontiguousarray(places), cells, found)
        fine[tuple(places.T)] = found
    return fine


@kernel(JOBS, RIGS, COUNT[:, ::1], COUNT, NUMBERS)
def _faces_at(todo, rigs, places, cells, found):
    """Area lamps' light in the middles of cells of surfaces, each given by surface, row and column. [lx]"""
    rig, work = rigs[0], new_work()
    lux = np.empty(rig.sources + 1)
    while True:
        k = next_job(todo)
        if k < 0:
            return
        nx, ny, nz = wall_normal(places[k, 0])
        x, y, z = wall_point(rig.size, places[k, 0], (places[k, 1] + 0.5) / cells, (places[k, 2] + 0.5) / cells)
        lux[:] = 0.0
        face_light(rig, x, y, z, nx, ny, nz, False, lux, work, -1, False)
        found[k] = total(lux)


def surfaces_to_points(rigs, points, normals, dome):
    """
    Illuminance that the surfaces' cells send to receptors, by the exact factor of each cell. [lx]

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    points, normals : arrays (n, 3)
    dome : array (n,) of bool

    Returns
    -------
    array (n,)
    """
    parts = np.zeros((len(points), 6 * rigs[0]["walls_cd_m2_shape"][1]))
    _surfaces_to_points.shared(parts.size, rigs, points, normals, dome, parts)
    return parts.sum(axis=1)


@kernel(JOBS, RIGS, TABLE, TABLE, TRUTHS, TABLE)
def _surfaces_to_points(todo, rigs, points, normals, dome, parts):
    rig, cells = rigs[0], parts.shape[1] // 6
    poly, spare = np.empty((4, 3)), np.empty((24, 3))
    while True:
        job = next_job(todo)
        if job < 0:
            return
        p, row = job // (6 * cells), job % (6 * cells)
        surface, i = row // cells, row % cells
        x, y, z = points[p, 0], points[p, 1], points[p, 2]
        total = 0.0
        for j in range(cells):
            luminance = walls_cd_m2_of(rig)[surface, i, j]
            if luminance <= 0.0:
                continue
            for corner in range(4):
                u = (i + (1 if corner == 1 or corner == 2 else 0)) / cells
                v = (j + (1 if corner >= 2 else 0)) / cells
                poly[corner, 0], poly[corner, 1], poly[corner, 2] = wall_point(rig.size, surface, u, v)
            taken = receive(poly, 4, x, y, z, normals[p, 0], normals[p, 1], normals[p, 2], dome[p], spare)
            if taken <= 0.0:
                continue
            mx, my, mz = wall_point(rig.size, surface, (i + 0.5) / cells, (j + 0.5) / cells)
            share = clear_to(rig, x, y, z, mx, my, mz, -1)
            if share > 0.0:
                d = np.sqrt((mx - x) ** 2 + (my - y) ** 2 + (mz - z) ** 2)
                total += np.pi * luminance * taken * share * np.exp(-rig.extinction * d)
        parts[p, row] = total


def air_to_points(rigs, points, normals, dome, directions, soft, slices, nodes, weights):
    """
    Illuminance that lit haze sends to receptors, along sight lines all round. [lx]

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    points, normals : arrays (n, 3)
    dome : array (n,) of bool
    directions : array (rays, 3)
        Evenly spread unit vectors.
    soft : bool
        The light without sharp edges, but for area lamps' own (`glow_to_points`); else the shafts.
    slices : int
        Steps along each for the soft part.
    nodes, weights : arrays
        From `direct.gauss_nodes`.

    Returns
    -------
    array (n, rays)
        Each ray's share; sum over rays for the illuminance.
    """
    out = np.zeros((len(points), len(directions)))
    _air_to_points.shared(out.size, rigs, points, normals, dome, directions, soft, slices, nodes, weights, out)
    return out


@kernel(JOBS, RIGS, TABLE, TABLE, TRUTHS, TABLE, TRUTH, COUNT, NUMBERS, NUMBERS, TABLE)
def _air_to_points(todo, rigs, points, normals, dome, directions, soft, slices, nodes, weights, out):
    rig, rays, (marks, spans) = rigs[0], directions.shape[0], new_marks(rigs[0])
    spare, scratch, steps, seen = np.empty(max(rig.sources, 1)), new_scratch(rig), np.empty(slices), np.empty(slices)
    while True:
        job = next_job(todo)
        if job < 0:
            return
        p, ray = job // rays, job % rays
        dx, dy, dz = directions[ray, 0], directions[ray, 1], directions[ray, 2]
        cosine = dx * normals[p, 0] + dy * normals[p, 1] + dz * normals[p, 2]
        take = 0.5 * (1.0 + cosine) if dome[p] else max(cosine, 0.0)
        if take <= 0.0:
            continue
        x, y, z = points[p, 0], points[p, 1], points[p, 2]
        reach = _clear_reach(rig, x, y, z, dx, dy, dz)
        if soft:
            even_steps(reach, steps)
            soft_line(rig, x, y, z, dx, dy, dz, steps, seen, True, False, nodes, weights, spare, marks, spans, scratch)
            radiance = seen[slices - 1]
        else:
            spare[:] = 0.0
            line_air(rig, SHARP, x, y, z, dx, dy, dz, 0.0, reach, nodes, weights, spare, marks, spans)
            radiance = total(spare)
        out[p, ray] = radiance * take * 4.0 * np.pi / rays


@inner
def _clear_reach(rig, x, y, z, dx, dy, dz):
    """How far a line from a receptor goes before a wall or an occluder ends it. [m]"""
    reach, _ = meet_wall(rig, x, y, z, dx, dy, dz)
    reach = min(reach, FAR_M)
    for occluder in range(rig.flats):
        t, _ = hit(rig, occluder, x, y, z, dx, dy, dz)
        if t < reach and occluder_of(rig, occluder).passes < 0.5:
            reach = t
    if rig.n_figures == 0 or not near_ray(rig.crowd_at, rig.crowd, x, y, z, dx, dy, dz, reach):
        return reach
    for k in range(rig.n_figures):
        figure = figure_of(rig, k)
        if near_ray(figure.middle, figure.radius, x, y, z, dx, dy, dz, reach):
            for occluder in range(figure.first, figure.first + figure.count):
                row = occluder_of(rig, occluder)
                if near_ray(row.middle, row.radius, x, y, z, dx, dy, dz, reach):
                    reach = min(reach, hit(rig, occluder, x, y, z, dx, dy, dz)[0])
    return reach


def glow_to_points(rigs, points, normals, dome, rays, nodes, weights):
    """
    Illuminance that the haze round area lamps in the room sends to receptors. [lx]

    The glow grows as 1 / sin(gamma) towards a sample of the lamp, so lines even in gamma find it, each with
    weight 2 pi^2 sin(gamma) / rays.

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    points, normals : arrays (n, 3)
    dome : array (n,) of bool
    rays : int
        Lines about each sample of each lamp.
    nodes, weights : arrays
        From `direct.gauss_nodes`.

    Returns
    -------
    array (n, shafts)
        Each shaft's share; sum over shafts for the illuminance.
    """
    out = np.zeros((len(points), rigs[0]["n_shafts"]))
    _glow_to_points.shared(out.size, rigs, points, normals, dome, rays, nodes, weights, out)
    return out


@kernel(JOBS, RIGS, TABLE, TABLE, TRUTHS, COUNT, NUMBERS, NUMBERS, TABLE)
def _glow_to_points(todo, rigs, points, normals, dome, rays, nodes, weights, out):
    rig, shafts, (marks, spans) = rigs[0], out.shape[1], new_marks(rigs[0])
    while True:
        job = next_job(todo)
        if job < 0:
            return
        p, shaft = job // shafts, job % shafts
        row = shaft_of(rig, shaft)
        lamp = lamp_of(rig, row.lamp)
        if lamp.face < 0 or row.count > 0:
            continue
        x, y, z = points[p, 0], points[p, 1], points[p, 2]
        ax, ay, az = lamp.at[0] - x, lamp.at[1] - y, lamp.at[2] - z
        size = np.sqrt(ax * ax + ay * ay + az * az) + 1e-9
        total = 0.0
        for k in range(rays):
            gamma = (k + 0.5) * np.pi / rays
            dx, dy, dz = turned_about(ax / size, ay / size, az / size, np.cos(gamma), np.pi * (1.0 + np.sqrt(5.0)) * k)
            cosine = dx * normals[p, 0] + dy * normals[p, 1] + dz * normals[p, 2]
            take = 0.5 * (1.0 + cosine) if dome[p] else max(cosine, 0.0)
            if take > 0.0:
                reach = _clear_reach(rig, x, y, z, dx, dy, dz)
                seen = shaft_air(rig, shaft, x, y, z, dx, dy, dz, 0.0, reach, nodes, weights, False, marks, spans)
                total += seen * take * np.sin(gamma)
        out[p, shaft] = total * 2.0 * np.pi**2 / rays


def even_directions(n):
    """
    Unit vectors spread evenly over the sphere by the golden angle, (n, 3).

    References: R. Swinbank and R. J. Purser, Q. J. R. Meteorol. Soc. 132 (2006) 1769, "Fibonacci grids".
    """
    k = np.arange(n) + 0.5
    z = 1 - 2 * k / n
    turn = np.pi * (1 + np.sqrt(5.0)) * k
    flat = np.sqrt(1 - z**2)
    return np.column_stack([flat * np.cos(turn), flat * np.sin(turn), z])


def particle_field(rig, *, particles, cells, soft_cells, tally_cells, patches, air_cell_m, halo_points, faces_on_walls):
    """
    The rig with its bounced light, by following particles from every source.

    Parameters
    ----------
    rig : Rig
        With its facets lit.
    particles : int
        How many to follow.
    cells : int
        Cells along each side of a surface, for straight light and for what leaves; a multiple of `tally_cells`.
    soft_cells : int
        Cells along each side for light without sharp edges, straight from area lamps, boards, frames and sky.
    tally_cells : int
        Cells along each side for what the particles bring.
    patches : int
        Patches along each side of a surface, for its light in the air; even, and divides `cells`.
    air_cell_m : float
        Size of the air's cells in a room of 80 m3; larger rooms have larger cells, not more. [m]
    halo_points : int
        Points that stand for light turned once.
    faces_on_walls : bool
        Keep area lamps' light on the walls in the cells too, where it costs nothing to look up.

    Returns
    -------
    Rig
    """
    table = emitters(rig)
    if not len(table):
        return rig.replace(walls_lx=np.zeros((6, cells, cells)), walls_cd_m2=np.zeros((6, cells, cells)))
    rig, walls, facets = followed(
        rig, table, particles=particles, tally_cells=tally_cells, air_cell_m=air_cell_m, halo_points=halo_points
    )
    rig = bounced_on_facets(rig, facets)
    points_lx, solid, faces_lx, facets_lx = walls_straight(rig.row, cells, soft_cells)
    faces_lx, facets_lx = _with_edges(rig, faces_lx, cells), finer(facets_lx, cells)
    w, d, h = rig.size
    areas = np.array([d * h, d * h, w * h, w * h, w * d, w * d])
    lux = facets_lx + finer(walls / (areas[:, None, None] / tally_cells**2), cells)
    leaves = rig.reflectance[:, None, None] / np.pi * (points_lx + (faces_lx + lux) * solid)
    return rig.replace(
        walls_lx=lux + faces_lx if faces_on_walls else lux,
        walls_cd_m2=leaves,
        patches=_patches(rig.size, leaves, patches),
        faces_on_walls=faces_on_walls,
    )


def followed(rig, table, *, particles, tally_cells, air_cell_m, halo_points):
    """
    The rig with the light of its air, by following particles, and what they brought to surfaces and boards.

    Parameters
    ----------
    rig : Rig
        With its facets lit.
    table : array of EMITTER
        What sends them, `particles.emitters`.
    particles, tally_cells, air_cell_m, halo_points
        As `particle_field` has them.

    Returns
    -------
    rig : Rig
    walls : array (6, tally_cells, tally_cells)
        Lumens on each cell, straight light left out.
    facets : array (cells,)
        Lumens on each cell of boards and frames, straight light left out.
    """
    lamp_draws = np.array([draws_of((t[:-1].mean(axis=0) if len(t) > 1 else t[0]).tobytes()) for t in rig.candelas])
    phase_draws = draws_of(rig.phase.tobytes())
    lamp_draws = lamp_draws.reshape(-1, len(phase_draws))  # no lamps, as under a sky alone: no rows
    deal = dealt(table, particles * min(1.0, DENSE / max(rig.extinction * rig.air_size.min(), 1e-9)))
    turns, halo_points, core = halo_plan(rig, halo_points)
    air_cell_m *= (np.prod(rig.air_size) / 80.0) ** (1 / 3)
    grid = tuple(int(np.clip(round(s / air_cell_m), 2, 40)) for s in rig.air_size)
    walls, facets, fresh, air, halo, _ = trace(
        rig.row, deal, lamp_draws, phase_draws, int(deal["count"].sum()), turns, tally_cells, grid, 0.6 * air_cell_m
    )
    points = np.zeros(0, dtype=POINT)
    lamps_only = dealt(table[table["kind"] <= LAMP_THROUGH], halo_points // turns)
    if rig.extinction > 0 and len(lamps_only):
        points = np.zeros(turns * int(lamps_only["count"].sum()), dtype=POINT)
        points = points[: turned_light(rig.row, lamps_only, lamp_draws, phase_draws, turns, points)]
    cell_m3 = np.prod(rig.air_size) / np.prod(grid)
    grids = {name: hands.sum(axis=0) / cell_m3 for name, hands in (("fresh", fresh), ("air", air), ("halo", halo))}
    return rig.replace(**grids, points=points, core=core), settled(walls), facets.sum(axis=0)


def halo_plan(rig, points):
    """
    How much of the halo goes into points.

    Parameters
    ----------
    rig : Rig
    points : int
        Points for light turned once.

    Returns
    -------
    turns, points, core : int, int, float
        Turns by the haze alone that are held as points, points in all, and the core of each. [m]

    Notes
    -----
    In most rooms the light turned once needs points, and the harmonics hold the rest. Where the haze is thick
    and throws far forward, light turned twice still runs in a narrow bundle: the share that
    orders above the third would hold, about (turned on the way through the room) x (fourth Legendre moment),
    says when. A core is about as wide as the gap between points in a shaft.
    """
    w, d, h = rig.air_size
    chord = 2 * w * d * h / (w * d + w * h + d * h)  # 4 V / A, the mean way through a box
    bundled = (1 - np.exp(-rig.extinction * chord)) * phase_moments(rig.phase, ORDERS)[ORDERS]
    turns, points = (2, max(round(3.2 * points), 896)) if bundled > 0.15 else (1, points)
    wide = 0.8 if turns == 2 else 0.3  # narrow lobes want more blur; held against the reference rooms
    core = min(wide * (768 / points) ** (1 / 3), 0.43)
    return turns, points, core


def bounced_on_facets(rig, lumens):
    """
    The rig with what bounced onto boards and frames added to what they send on, to all and to each other.

    Parameters
    ----------
    rig : Rig
        With its facets lit.
    lumens : array (cells,)
        That fell on each cell of its facets, but from other facets.

    Returns
    -------
    Rig
    """
    if rig.exchange is None:
        return rig
    cells, mine = rig.cells.copy(), rig.exchange.cells
    quads = cells["quad"][mine]
    area = np.linalg.norm(np.cross(quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0]), axis=1)
    lux = lumens[mine] / area
    cells["bounced"][mine] = lux
    cells["luminance"][mine] += rig.exchange.luminance(rig.exchange.settled(lux))
    return rig.replace(cells=cells)


def facets_on_facets(rig):
    """The rig with what boards and frames send each other kept by the cell, for a draft's picture."""
    if rig.exchange is None:
        return rig
    cells, mine = rig.cells.copy(), rig.exchange.cells
    cells["bounced"][mine] += rig.exchange.shares @ cells["luminance"][mine]
    return rig.replace(cells=cells, facets_on_facets=True)


def _patches(size, leaves, n):
    """The surfaces' luminance in n x n pieces each; four that are alike, or matter little, are one; dark ones are left out."""
    fine = leaves.reshape(6, n, leaves.shape[1] // n, n, -1).mean(axis=(2, 4))
    fours = fine.reshape(6, n // 2, 2, n // 2, 2)
    sides = np.array(size)[ALONG]  # (6, 2)
    area = sides.prod(axis=1)[:, None, None] / (n // 2) ** 2  # of four
    uneven = (fours.max(axis=(2, 4)) - fours.min(axis=(2, 4))) * area > UNEVEN * (fours.mean(axis=(2, 4)) * area).sum()
    kept = np.where(uneven, 0.0, fours.mean(axis=(2, 4))), fine * np.repeat(np.repeat(uneven, 2, axis=1), 2, axis=2)
    return np.concatenate([_pieces(size, sides, grid) for grid in kept])


def _pieces(size, sides, grid):
    """A patch for each lit cell of surface grids, (6, m, m)."""
    m = grid.shape[1]
    s, i, j = np.nonzero(grid > 0)
    rows, every = np.zeros(len(s), dtype=PATCH), np.arange(len(s))
    rows["axis"], rows["luminance"] = s // 2, grid[s, i, j]
    rows["at"][every, s // 2] = np.where(s % 2, np.array(size)[s // 2], 0.0)
    rows["at"][every, ALONG[s, 0]] = (i + 0.5) / m * sides[s, 0]
    rows["at"][every, ALONG[s, 1]] = (j + 0.5) / m * sides[s, 1]
    rows["normal"][every, s // 2] = 1.0 - 2.0 * (s % 2)
    rows["half"] = sides[s] / (2 * m)
    rows["area"] = sides[s].prod(axis=1) / m**2
    return rows
