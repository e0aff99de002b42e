"""
Open ground: what lamps, boards and the shade of what stands on it change about the light that it sends back.

Far and wide the ground is as bright as sun and sky make it. What differs from that near a set is held as squares, small
near a lamp, its pool of light, a board or its shade, and large further off; a square in shade counts as less than nothing.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lightcalc.engine.direct import MOST_ROUNDS, face_light, facet_light, new_work, open_sky_light, point_light
from lightcalc.engine.geometry import MOST_CORNERS, phase_moments, receive
from lightcalc.engine.indirect import bounced_on_facets, followed, on_wall
from lightcalc.engine.kernels import COUNT, JOBS, NUMBERS, TABLE, TRUTHS, inner, kernel, next_job
from lightcalc.engine.particles import emitters
from lightcalc.engine.rows import FIGURE_SPOTS, FLAT, PATCH, RIGS, TILTS, figure_of, occluder_of, patch_of, walls_lx_of
from lightcalc.engine.shadow import clear_to, crosses

ROOTS = 6  # squares along each side before any is split
WIDER = 3.0  # how far they reach, in sides of the ground that the plan shows
MOST_SQUARES = 6_000  # no more are split then
AIR_M = 8.0  # how far round lamps and boards the air's cells go
GLOW_FINER = 3  # cells of glow along each side of the ground under it, for one of a wall
SPOTS_AROUND, SPOT_BELOW = 16, np.sin(np.radians([12.0, 30.0, 55.0]))  # directions from a head that are told apart
SPOT_CORE2 = 0.01  # keeps feet from standing in a spot [m2]
OPEN_ORDERS = 160  # of the series of sky and open ground: a phase function of g 0.95 has 3e-4 left there
SHALLOW = 0.05  # sine of the sun's height under which shades are too long to follow


def ground_straight(rigs, x, y, side, samples):
    """
    Mean straight light on squares of level ground, by source. [lx]

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    x, y, side : arrays (n,)
        Middles and sides. [m]
    samples : int
        Samples along each side for what has sharp edges; the rest is taken at the middle.

    Returns
    -------
    array (n, sources + 1)
    """
    out = np.zeros((x.shape[0], rigs[0]["sources"] + 1))
    _ground_straight.shared(len(x), rigs, x, y, side, samples, out)
    return out


@kernel(JOBS, RIGS, NUMBERS, NUMBERS, NUMBERS, COUNT, TABLE)
def _ground_straight(todo, rigs, x, y, side, samples, out):
    rig, work = rigs[0], new_work()
    while True:
        k = next_job(todo)
        if k < 0:
            return
        lux = out[k]
        for a in range(samples):
            for b in range(samples):
                u, v = (a + 0.5) / samples - 0.5, (b + 0.5) / samples - 0.5
                point_light(rig, x[k] + u * side[k], y[k] + v * side[k], 0.0, 0.0, 0.0, 1.0, False, lux, -1)
        lux /= samples * samples
        face_light(rig, x[k], y[k], 0.0, 0.0, 0.0, 1.0, False, lux, work, -1, False)
        facet_light(rig, x[k], y[k], 0.0, 0.0, 0.0, 1.0, False, lux, work, -1, True, rig.rough)
        open_sky_light(rig, x[k], y[k], 0.0, 0.0, 0.0, 1.0, False, lux, work, -1)


@inner
def air_on_ground(rig, x, y):
    """Illuminance on open ground from what the haze has turned: lamps' light, near them. [lx]"""
    u, v = x - rig.air_low[0], y - rig.air_low[1]
    if u < 0.0 or v < 0.0 or u > rig.air_size[0] or v > rig.air_size[1]:
        return 0.0
    return on_wall(walls_lx_of(rig), rig.air_size, 4, u, v, 0.0)


@kernel(RIGS, NUMBERS, NUMBERS)
def _turned_on_ground(rigs, x, y):
    """`air_on_ground` at many places, (n,). [lx]"""
    out = np.empty(x.shape[0])
    for k in range(x.shape[0]):
        out[k] = air_on_ground(rigs[0], x[k], y[k])
    return out


def _squares_to_points(rig, points, normals, dome):
    """
    Illuminance that receptors take from each square of ground at 1 cd/m2, through haze and past what stands between. [lx]

    Parameters
    ----------
    rig : Rig
    points, normals : arrays (n, 3)
    dome : array (n,) of bool

    Returns
    -------
    array (n, squares)
    """
    out = np.zeros((points.shape[0], len(rig.patches)))
    _points_from_squares.shared(len(points), rig.row, points, normals, dome, out)
    return out


@kernel(JOBS, RIGS, TABLE, TABLE, TRUTHS, TABLE)
def _points_from_squares(todo, rigs, points, normals, dome, out):
    rig, poly, spare = rigs[0], np.empty((4, 3)), np.empty((MOST_CORNERS, 3))
    while True:
        p = next_job(todo)
        if p < 0:
            return
        x, y, z = points[p, 0], points[p, 1], points[p, 2]
        nx, ny, nz = normals[p, 0], normals[p, 1], normals[p, 2]
        for k in range(rig.n_patches):
            patch = patch_of(rig, k)
            for corner in range(4):
                poly[corner, 0] = patch.at[0] + (patch.half[0] if corner == 1 or corner == 2 else -patch.half[0])
                poly[corner, 1] = patch.at[1] + (patch.half[1] if corner >= 2 else -patch.half[1])
                poly[corner, 2] = 0.0
            taken = receive(poly, 4, x, y, z, nx, ny, nz, dome[p], spare)
            if taken > 0.0:
                out[p, k] = np.pi * taken * _through(rig, patch, x, y, z)


def ground_to_points(rig, points, normals, dome):
    """
    Illuminance that the squares of ground send to receptors, through haze and past what stands between. [lx]

    Parameters
    ----------
    rig : Rig
    points, normals : arrays (n, 3)
    dome : array (n,) of bool

    Returns
    -------
    array (n, 2)
        What lamps and boards add, and what shade takes from the open ground's light.
    """
    sent = _squares_to_points(rig, points, normals, dome) * rig.patches["luminance"]
    shade = rig.patches["shade"]
    return np.stack([sent[:, ~shade].sum(axis=1), sent[:, shade].sum(axis=1)], axis=1)


@inner
def _through(rig, patch, x, y, z):
    """Share of a square's light that gets to a point. [1]"""
    d2 = (patch.at[0] - x) ** 2 + (patch.at[1] - y) ** 2 + z * z
    return clear_to(rig, x, y, z, patch.at[0], patch.at[1], 0.0, -1) * np.exp(-rig.extinction * np.sqrt(d2))


@kernel(RIGS, NUMBERS, COUNT)
def _shares(rigs, place, figure):
    """For each square of ground the share of its light that gets to a place in a figure, which does not hide it, (n,). [1]"""
    rig = rigs[0]
    out = np.empty(rig.n_patches)
    for k in range(rig.n_patches):
        at = patch_of(rig, k).at
        dx, dy, dz = at[0] - place[0], at[1] - place[1], at[2] - place[2]
        out[k] = np.exp(-rig.extinction * np.sqrt(dx * dx + dy * dy + dz * dz))
        for occluder in range(rig.n_occluders):
            row = occluder_of(rig, occluder)
            if row.figure != figure and crosses(rig, occluder, place[0], place[1], place[2], at[0], at[1], at[2]):
                out[k] *= row.passes
    return out


@inner
def _own_way(rig, occluder, figure, x, y, z, gx, gy):
    """Whether another part of the same figure stands between a point of one and a place on the ground."""
    row = figure_of(rig, figure)
    for other in range(row.first, row.first + row.count):
        if other != occluder and crosses(rig, other, x, y, z, gx, gy, 0.0):
            return True
    return False


@inner
def ground_on_figure(rig, occluder, x, y, z, nx, ny, nz):
    """Illuminance that the ground's spots send to a point of a part of a figure, past its other parts. [lx]"""
    figure = occluder_of(rig, occluder).figure
    row = figure_of(rig, figure)
    total = 0.0
    for k in range(row.spots):
        dx, dy = row.spot[k, 0] - x, row.spot[k, 1] - y
        cosine = dx * nx + dy * ny - z * nz
        if cosine > 0.0 and not _own_way(rig, occluder, figure, x, y, z, row.spot[k, 0], row.spot[k, 1]):
            total += row.spot[k, 2] * z * cosine / (dx * dx + dy * dy + z * z + SPOT_CORE2) ** 2
    return total


def outdoor_field(rig, *, samples, fine, particles, tally_cells, air_cell_m, halo_points):
    """
    The rig in open air: sky above and ground below, the same everywhere, and what the set changes about ground and air.

    Parameters
    ----------
    rig : Rig
        With its facets lit.
    samples : int
        Samples along each side of a square of ground, for the edges of beams and shades.
    fine : float
        Side of a square, as a share of how far the nearest lamp, pool of light, board or shade is.
    particles, tally_cells, air_cell_m, halo_points
        As `indirect.particle_field` has them; used where there is haze, for lamps' light that it turns more than once. The
        ground has GLOW_FINER times as many cells for that as a wall would.

    Returns
    -------
    Rig

    Notes
    -----
    Light goes between ground, boards and frames until it is spent; one piece of level ground lights no other. Air more than
    AIR_M from every lamp and board is lit by sun, sky, open ground and lamps' straight light alone. Error: against a path tracer, a lantern, board
    and flag on ground of 0.35: a face away from all lights reads 0.04 stop low at 0.04 per metre, 0.09 at 0.08.
    """
    rig = rig.replace(open_air=_open_air(rig))
    if (rig.reflectance[4] <= 0.0 and rig.extinction <= 0.0) or not (len(rig.lamps) or len(rig.occluders)):
        return rig
    rig = _round_the_set(rig)
    table, facets = emitters(rig), np.zeros(len(rig.cells))
    if rig.extinction > 0.0 and len(table):
        cells = GLOW_FINER * tally_cells
        rig, walls, facets = followed(
            rig, table, particles=particles, tally_cells=cells, air_cell_m=air_cell_m, halo_points=halo_points
        )
        rig = rig.replace(walls_lx=walls * cells**2 / np.prod(rig.air_size[:2]))  # of the six only the ground is lit
    if rig.reflectance[4] > 0.0:
        rig = rig.replace(patches=_patches(rig, *_squares(rig, fine), samples))
    return _onto_figures_and_flags(_onto_facets(rig, facets))


def _round_the_set(rig):
    """The rig with the cells of its air about lamps and boards."""
    reach = rig.occluders["radius"][:, None]
    ends_of = [rig.occluders["middle"] + sign * reach for sign in (-1, 1)]
    places = [*rig.lamps["at"][~rig.lamps["sun"]], *np.concatenate(ends_of)]
    low, high = (np.array([*end(places, axis=0)]) for end in (np.min, np.max)) if places else (np.zeros(3), rig.size)
    low, high = low - AIR_M, high + AIR_M
    low[2] = 0.0
    return rig.replace(air_low=low, air_size=high - low)


def _patches(rig, x, y, side, samples):
    """The squares of ground that differ from the open ground: one row for what is added, one for what shade takes."""
    lux = ground_straight(rig.row, x, y, side, samples)
    open_lx = np.pi * rig.ground_luminance / rig.reflectance[4]
    given = np.zeros(lux.shape[1], dtype=bool)  # by sun and sky, not by lamps and boards
    given[rig.sky_source] = True  # the last, without a sky, as `open_sky_light` has it
    given[[lamp["source"] for lamp in _suns(rig)]] = True
    shaded = lux[:, given].sum(axis=1) - open_lx
    rows = []
    added = lux[:, ~given].sum(axis=1) + _turned_on_ground(rig.row, x, y)
    for lx, shade in ((added, False), (np.where(shaded < -1e-3 * open_lx, shaded, 0.0), True)):
        kept = np.flatnonzero(lx if shade else (lx != 0.0) | _by_facets(rig, x, y))
        more = np.zeros(len(kept), dtype=PATCH)
        more["at"][:, 0], more["at"][:, 1], more["normal"][:, 2], more["axis"] = x[kept], y[kept], 1.0, 2
        more["half"], more["area"] = side[kept, None] / 2, side[kept] ** 2
        more["luminance"], more["shade"] = rig.reflectance[4] / np.pi * lx[kept], shade
        rows.append(more)
    return np.concatenate(rows)


def _by_facets(rig, x, y):
    """Which squares are near enough to a board or frame for its light to count, though nothing else lights them, (n,)."""
    near = np.zeros(len(x), dtype=bool)
    for occluder in rig.occluders[(rig.occluders["facet"] >= 0).any(axis=1)]:
        near |= np.hypot(x - occluder["middle"][0], y - occluder["middle"][1]) < 3.0 * occluder["radius"]
    return near


def _suns(rig):
    """The sun itself, without its images in silver boards: one row or none."""
    return rig.lamps[rig.lamps["sun"] & (rig.lamps["mirror"] < 0)]


def _open_air(rig):
    """What the haze turns of sky and open ground into directions that rise by -1 to 1, as `open_air` has it, (2, TILTS)."""
    if rig.extinction <= 0.0:
        return np.zeros((2, TILTS))
    even, rising, sideways, ground = _turned_parts(rig.phase.tobytes())
    return np.array([rig.sky[0] * even + rig.sky[3] * rising + rig.ground_luminance * ground, sideways])


@lru_cache(maxsize=16)
def _turned_parts(phase):
    """
    `_open_air` of an even sky, of one rising as sin h, of one rising sideways, and of the ground, for a phase table's bytes.

    All but one are even all round, so Legendre series hold them: the phase function's own moment multiplies each order of what is
    seen, and light seen at a rise of h travels at -h. The horizon's edge needs many orders. The one that rises sideways has the
    series of first order round, P_l'(h) along the way for each P_l'(h) cos h of what is seen. (4, TILTS) [cd/m2, and 1]
    """
    height, weight = np.polynomial.legendre.leggauss(OPEN_ORDERS)
    height, weight = (height + 1) / 2, weight / 2  # over half the sphere
    up, down = (np.polynomial.legendre.legvander(h, OPEN_ORDERS) for h in (height, -height))
    moments = (np.arange(OPEN_ORDERS + 1) + 0.5) * phase_moments(np.frombuffer(phase), OPEN_ORDERS)
    ways = -np.linspace(-1, 1, TILTS)
    seen = np.array([weight @ up, (weight * height) @ up, weight @ down]) * moments
    even, rising, ground = np.maximum(seen @ np.polynomial.legendre.legvander(ways, OPEN_ORDERS).T, 0.0)  # they ripple by 1e-4
    order = np.arange(1, OPEN_ORDERS + 1)
    sides = (weight * (1.0 - height**2)) @ _steepness(height) * moments[1:] / (order * (order + 1.0))
    return np.array([even, rising, -(_steepness(ways) @ sides), ground])


def _steepness(height):
    """Derivatives of the Legendre polynomials of orders 1 to OPEN_ORDERS, (n, OPEN_ORDERS)."""
    values = np.polynomial.legendre.legvander(height, OPEN_ORDERS)
    slopes = np.zeros_like(values)
    for order in range(1, OPEN_ORDERS + 1):
        slopes[:, order] = height * slopes[:, order - 1] + order * values[:, order - 1]
    return slopes[:, 1:]


def _squares(rig, fine):
    """Squares of ground, each split until it is small for how near something is: middles and sides. [m]"""
    centres = _centres(rig)
    whole = WIDER * max(rig.size[0], rig.size[1])
    step = (np.arange(ROOTS) + 0.5) / ROOTS - 0.5
    x, y = (grid.ravel() for grid in np.meshgrid(rig.size[0] / 2 + step * whole, rig.size[1] / 2 + step * whole))
    side, done = np.full(x.size, whole / ROOTS), [np.empty((3, 0))]
    while x.size and sum(d.shape[1] for d in done) + x.size < MOST_SQUARES:
        off = [np.maximum(np.abs(a[:, None] - centres[:, k]) - side[:, None] / 2, 0.0) for k, a in enumerate((x, y))]
        near = np.sqrt(off[0] ** 2 + off[1] ** 2 + centres[:, 2] ** 2).min(axis=1)
        split = side > fine * near
        done.append(np.array([x[~split], y[~split], side[~split]]))
        x, y, side = x[split], y[split], side[split] / 2
        x, y = (np.concatenate([a + s * side / 2 for s in signs]) for a, signs in ((x, (-1, 1, -1, 1)), (y, (-1, -1, 1, 1))))
        side = np.tile(side, 4)
    return np.concatenate([*done, [x, y, side]], axis=1)


def _centres(rig):
    """Places on the ground that something happens about, and how far the thing is or how wide: x, y, size, (n, 3). [m]"""
    found = []
    for lamp in rig.lamps[~rig.lamps["sun"]]:
        (x, y, z), forward = lamp["at"], lamp["axes"][2]
        found.append((x, y, z))
        if forward[2] < -SHALLOW and lamp["cut"] > 0.0:
            throw = z / -forward[2]
            found.append((x + throw * forward[0], y + throw * forward[1], 0.5 * throw * np.sqrt(1 / lamp["cut"] ** 2 - 1)))
    flat = rig.occluders[: int(rig.flats)]
    for (x, y, z), radius in zip([*flat["middle"], *rig.figures["middle"]], [*flat["radius"], *rig.figures["radius"]]):
        found.append((x, y, max(z, 0.5 * radius)))
        for sun in _suns(rig):
            if sun["at"][2] > SHALLOW:
                throw = z / sun["at"][2]
                found.append((x - throw * sun["at"][0], y - throw * sun["at"][1], 0.5 * radius))
    return np.maximum(np.array(found or [(0.0, 0.0, 1e6)]), [-np.inf, -np.inf, 0.1])


def _onto_facets(rig, lumens):
    """
    The rig with what falls on boards and frames besides straight light: so many lumens, and what the ground sends.

    What they make of it falls on the ground again, from there on them, and so on until it is spent. A square lights a cell as
    much as the cell, for its own area, lights the square: pi F_12 A_1 = pi F_21 A_2.
    """
    exchange, patches = rig.exchange, rig.patches.copy()
    if exchange is None:
        return rig
    quads = rig.cells["quad"][exchange.cells]
    across = np.cross(quads[:, 1] - quads[:, 0], quads[:, 3] - quads[:, 0])
    area = np.linalg.norm(across, axis=1)
    normals = across / area[:, None]
    points = quads.mean(axis=1) + 1e-6 * normals  # just over the side that sends
    shares = _squares_to_points(rig, points, normals, np.zeros(len(points), dtype=np.bool_))
    turned, added = lumens[exchange.cells] / area, patches["luminance"]
    bounced = lux = turned + shares @ added
    seen = area @ shares / np.pi  # of a square by a whole sky: no more than its own area, however near a board is
    back = np.where(patches["shade"], 0.0, rig.reflectance[4] / np.pi / np.maximum(patches["area"], np.maximum(seen, 1e-300)))
    for _ in range(MOST_ROUNDS):
        if np.abs(lux).max(initial=0.0) <= 1e-4 * np.abs(bounced).max(initial=0.0):
            break
        sent = (area * exchange.luminance(exchange.settled(lux))) @ shares
        added = back * _at_most(sent, np.abs(lux) @ area, 1.0)
        patches["luminance"] += added
        lux = _at_most(shares @ added, np.pi * np.abs(added) @ patches["area"], area)
        bounced = bounced + lux
    full = np.zeros(len(rig.cells))
    full[exchange.cells] = bounced * area
    return bounced_on_facets(rig.replace(patches=patches[patches["luminance"] != 0.0]), full)


def _at_most(lux, lumens, area):
    """Light on surfaces so large, no more of it than there is: where a crowd of boards is too near, factors add up to over 1."""
    arrives = np.abs(lux * area).sum()
    return lux * (lumens / arrives) if arrives > lumens else lux


def _onto_figures_and_flags(rig):
    """The rig with what the squares of ground send to drawn figures, and to the occluders that send nothing on."""
    figures, occluders = rig.figures.copy(), rig.occluders.copy()
    for index, figure in enumerate(figures):
        spots = _spots(rig, index, figure["lit_at"])
        figure["spots"] = len(spots)
        figure["spot"][: len(spots)] = spots
    flat = occluders["shape"] == FLAT
    for side in (0, 1):
        normals = occluders["normal"][flat] * (1 - 2 * side)
        occluders["ground"][flat, side] = _sent(rig, occluders["middle"][flat] + 1e-6 * normals, normals)
    return rig.replace(figures=figures, occluders=occluders)


def _spots(rig, figure, head):
    """
    The squares of ground as a few spots for one figure: x, y [m], and luminance times area [cd], (spots, 3).

    Squares in nearly the same direction from the head are one, where most of their light to the head comes from.
    """
    patches = rig.patches
    away = patches["at"] - head
    d2 = (away**2).sum(axis=1)
    below = np.searchsorted(SPOT_BELOW, -away[:, 2] / np.sqrt(d2))
    around = np.floor((np.arctan2(away[:, 1], away[:, 0]) / (2 * np.pi) + 0.5) * SPOTS_AROUND).astype(int) % SPOTS_AROUND
    which = (below * SPOTS_AROUND + around) * 2 + patches["shade"]
    cd = patches["luminance"] * patches["area"] * _shares(rig.row, head, figure)
    count = lambda values: np.bincount(which, values, minlength=FIGURE_SPOTS)  # noqa: E731
    weight = count(np.abs(cd) / d2**1.5)
    kept = weight > 0
    x, y = (count(np.abs(cd) / d2**1.5 * patches["at"][:, axis])[kept] / weight[kept] for axis in (0, 1))
    from_head = (x - head[0]) ** 2 + (y - head[1]) ** 2 + head[2] ** 2
    cd = np.sign(count(cd)[kept]) * weight[kept] * from_head**1.5  # the head gets what all of them sent it
    return np.stack([x, y, cd], axis=1)


def _sent(rig, points, normals):
    """What the squares of ground send to flat receptors, shade and all. [lx]"""
    points, normals = np.ascontiguousarray(points), np.ascontiguousarray(normals)
    return ground_to_points(rig, points, normals, np.zeros(len(points), dtype=np.bool_)).sum(axis=1)


def local(rig):
    """
    The rig whose air sends receptors light of its own: in a room all of it.

    In the open the haze takes as much of the sky's and the sun's light from a receptor as it turns towards it:
    both are given as they arrive, undimmed, so what the air makes of them is left out, and only lamps' and boards' counts.
    """
    if rig.enclosed:
        return rig
    lamps = rig.lamps.copy()
    lamps["scale"][lamps["sun"] & (lamps["mirror"] < 0)] = 0.0
    return rig.replace(lamps=lamps, open_air=np.zeros((2, TILTS)))
