"""
Light particles: followed from the sources until absorbed or gone, they tell what happens after straight light.

A particle carries lumens. It flies a random free path, is turned by the phase function, reflects off walls
and boards, goes through frames, and leaves by the windows. What straight light already counts is not
tallied again; a particle's `stage` says how far it has come:

    0  straight from a lamp                        beams, in closed form
    1  off boards, frames, sheers or sky openings   beams, as even facets
    2  from a lamp and turned by the haze alone    surfaces: tallied; air: the halo, for the first few turns
    3  bounced or turned light off a board         beams, as even facets: what boards took in is passed on between them
    4  anything after that, but for the next        tallied
    5  on its way from a wall or a flag             surfaces: tallied; air: as even patches of the walls

Seeds are fixed and particles are dealt to the same eight hands whatever the machine, so the same setup
gives the same numbers.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numba import float64

from lightcalc.engine.direct import candela, sky_at
from lightcalc.engine.harmonics import harmonics
from lightcalc.engine.intersect import in_air_cells, meet_occluder, meet_wall, wall_normal, window_at
from lightcalc.engine.kernels import COUNT, JOBS, NUMBER, NUMBERS, TABLE, inner, kernel, next_job, rows
from lightcalc.engine.rows import (
    BAR_REFLECTANCE,
    POINT,
    REAL,
    RIGS,
    TERMS,
    WHOLE,
    facet_of,
    lamp_of,
    occluder_of,
    row_type,
    table_of_rows,
)
from lightcalc.engine.shadow import face_normal, in_shade, place_on, reflects

FACING = 9  # harmonics, order 0 to 2, that hold what a surface takes in; light from walls is needed for no more
HANDS = 8  # fixed shares of the work, so that sums come out the same on any number of cores
LAMP_ALL_ROUND, LAMP_THROUGH, FACET_EVEN, SKY_THROUGH = 0, 1, 2, 3
EMITTER = row_type(
    ("kind", WHOLE, ()),
    ("lamp", WHOLE, ()),
    ("quad", REAL, (4, 3)),  # the pane or cell it leaves from
    ("share", REAL, ()),  # glass and sheer; for a cell, luminance [cd/m2] or the share of the sky it passes
    ("lumens", REAL, ()),
    ("first", WHOLE, ()),  # its particles: first, count
    ("count", WHOLE, ()),
)
EMITTERS = rows(EMITTER)  # what kernels take
HANDS_CUBE, HANDS_AIR = float64[:, :, :, ::1], float64[:, :, :, :, ::1]
ABSORBED, ESCAPED, EMITTED = 0, 1, 2
DRAWS = 2048


def emitters(rig):
    """
    Everything that sends particles: lamps, panes that lamps and the sun shine through, sheers, sky openings.

    Returns
    -------
    array of EMITTER
        With the lumens of each, by nine points on each opening.
    """
    rows = []
    for shaft in rig.shafts:
        lamp = rig.lamps[shaft["lamp"]]
        if lamp["mirror"] >= 0:
            continue
        if shaft["count"] == 0:
            if not lamp["sun"]:
                lumens = lamp["scale"] * _flux(rig.candelas[lamp["table"]])
                rows.append(dict(kind=LAMP_ALL_ROUND, lamp=shaft["lamp"], share=1.0, lumens=lumens))
        else:
            rows.append(dict(kind=LAMP_THROUGH, lamp=shaft["lamp"], quad=shaft["quad"], share=shaft["weight"]))
    for facet in rig.facets:
        if facet["occluder"] >= 0:
            continue
        for cell in rig.cells[facet["first"] : facet["first"] + facet["cells"]]:
            kind = SKY_THROUGH if facet["sky"] else FACET_EVEN
            rows.append(dict(kind=kind, quad=cell["quad"], share=cell["luminance"]))
    table = table_of_rows(EMITTER, rows)
    measure_emitters(rig.row, table)
    return table[table["lumens"] > 0]


def _flux(table):
    """Lumens of a half-sine candela table, (planes, angles): d omega = 8 pi s ds."""
    s = np.linspace(0.0, 1.0, table.shape[1])
    around = table[:-1].mean(axis=0) if table.shape[0] > 1 else table[0]
    return np.trapezoid(around * 8 * np.pi * s, s)


def draws(density, n=DRAWS):
    """
    Inverse cumulative of a half-sine table weighted by solid angle: s at n even steps of probability.

    Parameters
    ----------
    density : array (m,)
        Per steradian, at s = sin(theta / 2) = 0 .. 1.
    n : int
        Entries.

    Returns
    -------
    array (n,)
        s, rising from 0 to 1; the angle's cosine is 1 - 2 s^2.
    """
    s = np.linspace(0.0, 1.0, len(density))
    fine = np.linspace(0.0, 1.0, 8 * len(density) + 1)
    weight = np.interp(fine, s, density) * fine
    total = np.concatenate([[0.0], np.cumsum(0.5 * (weight[1:] + weight[:-1]))])
    if total[-1] <= 0:
        return np.zeros(n)
    keep = np.concatenate([[True], np.diff(total) > 0])
    return np.interp(np.linspace(0.0, 1.0, n), total[keep] / total[-1], fine[keep])


@lru_cache(maxsize=64)
def draws_of(density):
    """`draws` of a table given as bytes, kept: lamps and haze stay while things move."""
    return draws(np.frombuffer(density))


@kernel(RIGS, EMITTERS)
def measure_emitters(rigs, table):
    """Fill in the lumens of panes and cells from a 3 x 3 grid of points on each."""
    rig = rigs[0]
    for e in range(table.shape[0]):
        kind = table[e].kind
        if kind == LAMP_ALL_ROUND:
            continue
        total = 0.0
        for a in range(3):
            for b in range(3):
                if kind == LAMP_THROUGH:
                    total += _through(rig, table, e, (a + 0.5) / 3.0, (b + 0.5) / 3.0)[6] / 9.0
                elif kind == FACET_EVEN:
                    total += np.pi * table[e].share * _area(table, e) / 9.0
                else:
                    side = np.sqrt(rig.sky[1] ** 2 + rig.sky[2] ** 2 + max(rig.sky[3], 0.0) ** 2)
                    sky = max(rig.sky[0] + side, rig.ground_luminance)
                    total += np.pi * table[e].share * sky * _area(table, e) / 9.0
        table[e].lumens = total


@inner
def _area(table, e):
    quad = table[e].quad
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    return np.sqrt((ax * ax + ay * ay + az * az) * (bx * bx + by * by + bz * bz))


@inner
def _through(rig, table, e, u, v):
    """A lamp's or the sun's light through a point of a pane: place, way, lumens for the whole pane."""
    quad = table[e].quad
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    nx, ny, nz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx  # length: the area
    x, y, z = quad[0, 0] + u * ax + v * bx, quad[0, 1] + u * ay + v * by, quad[0, 2] + u * az + v * bz
    lamp = table[e].lamp
    at = lamp_of(rig, lamp).at
    if lamp_of(rig, lamp).sun:
        dx, dy, dz = -at[0], -at[1], -at[2]
        lumens = lamp_of(rig, lamp).scale
    else:
        dx, dy, dz = x - at[0], y - at[1], z - at[2]
        d2 = dx * dx + dy * dy + dz * dz
        d = np.sqrt(d2)
        dx, dy, dz = dx / d, dy / d, dz / d
        lumens = lamp_of(rig, lamp).scale * candela(rig, lamp, dx, dy, dz) / d2
    lumens *= max(0.0, nx * dx + ny * dy + nz * dz) * table[e].share
    for occluder in range(rig.n_occluders):  # occluders outside the window
        if lumens > 0.0 and in_shade(rig, lamp * rig.shades_shape[1] + occluder, x, y, z):
            lumens *= occluder_of(rig, occluder).passes
    return x, y, z, dx, dy, dz, lumens


@inner
def _next(state):
    """splitmix64 (Steele, Lea & Flood 2014): a new state and an even number in [0, 1)."""
    state = state + np.uint64(0x9E3779B97F4A7C15)
    z = state
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return state, (z >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@inner
def _even(i, k):
    """
    Number k of the i-th point of an even sequence in five dimensions: additive recurrence on the root of x^6 = x + 1.

    References: the generalised golden ratio; H. Niederreiter 1992 for additive recurrences.
    """
    step = 0.8812714616335696
    if k == 1:
        step = 0.7766393890897682
    elif k == 2:
        step = 0.6844301295853426
    elif k == 3:
        step = 0.6031687406857282
    elif k == 4:
        step = 0.5315553977157951
    value = 0.5 + (i + 1) * step
    return value - np.floor(value)


@inner
def _frame(nx, ny, nz):
    """Two unit vectors square to a normal (Duff et al. 2017)."""
    sign = 1.0 if nz >= 0.0 else -1.0
    a = -1.0 / (sign + nz)
    b = nx * ny * a
    return 1.0 + sign * nx * nx * a, sign * b, -sign * nx, b, sign + ny * ny * a, -ny


@inner
def turned_about(nx, ny, nz, cosine, turn):
    """The unit vector at an angle to an axis."""
    ax, ay, az, bx, by, bz = _frame(nx, ny, nz)
    sine = np.sqrt(max(0.0, 1.0 - cosine * cosine))
    c, s = sine * np.cos(turn), sine * np.sin(turn)
    return cosine * nx + c * ax + s * bx, cosine * ny + c * ay + s * by, cosine * nz + c * az + s * bz


@inner
def _drawn(table, u):
    """The cosine drawn from an inverse cumulative in s."""
    place = u * (table.shape[0] - 1)
    k = min(int(place), table.shape[0] - 2)
    s = table[k] + (place - k) * (table[k + 1] - table[k])
    return 1.0 - 2.0 * s * s


@inner
def _emit(rig, table, e, i, lamp_draws):
    """The i-th particle of an emitter: place, way, lumens per particle, stage."""
    kind, count = table[e].kind, table[e].count
    u, v = _even(i, 0), _even(i, 1)
    if kind == LAMP_THROUGH:
        x, y, z, dx, dy, dz, lumens = _through(rig, table, e, u, v)
        return x, y, z, dx, dy, dz, lumens / count, 0
    if kind == LAMP_ALL_ROUND:
        lamp = table[e].lamp
        axes, at = lamp_of(rig, lamp).axes, lamp_of(rig, lamp).at
        cosine = _drawn(lamp_draws[lamp_of(rig, lamp).table], u)
        sine, turn = np.sqrt(max(0.0, 1.0 - cosine * cosine)), 2.0 * np.pi * v
        c, s = sine * np.cos(turn), sine * np.sin(turn)
        dx = cosine * axes[2, 0] + c * axes[0, 0] + s * axes[1, 0]
        dy = cosine * axes[2, 1] + c * axes[0, 1] + s * axes[1, 1]
        dz = cosine * axes[2, 2] + c * axes[0, 2] + s * axes[1, 2]
        lumens = table[e].lumens / count
        if rig.candelas_shape[1] > 1:  # not even about the axis: drawn from the mean, weighed by the rest
            mean = 0.0
            for k in range(24):
                a = 2.0 * np.pi * (k + 0.5) / 24
                p, q = sine * np.cos(a), sine * np.sin(a)
                mean += candela(
                    rig, lamp, cosine * axes[2, 0] + p * axes[0, 0] + q * axes[1, 0],
                    cosine * axes[2, 1] + p * axes[0, 1] + q * axes[1, 1],
                    cosine * axes[2, 2] + p * axes[0, 2] + q * axes[1, 2],
                ) / 24  # fmt: skip
            if mean > 0.0:
                lumens *= candela(rig, lamp, dx, dy, dz) / mean
        return at[0], at[1], at[2], dx, dy, dz, lumens, 0
    quad = table[e].quad
    ax, ay, az = quad[1, 0] - quad[0, 0], quad[1, 1] - quad[0, 1], quad[1, 2] - quad[0, 2]
    bx, by, bz = quad[3, 0] - quad[0, 0], quad[3, 1] - quad[0, 1], quad[3, 2] - quad[0, 2]
    nx, ny, nz = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    area = np.sqrt(nx * nx + ny * ny + nz * nz)
    dx, dy, dz = turned_about(nx / area, ny / area, nz / area, np.sqrt(1.0 - _even(i, 3)), 2.0 * np.pi * _even(i, 4))
    luminance = table[e].share
    if kind == SKY_THROUGH:
        luminance *= sky_at(rig, -dx, -dy, -dz)
    x, y, z = quad[0, 0] + u * ax + v * bx, quad[0, 1] + u * ay + v * by, quad[0, 2] + u * az + v * bz
    return x, y, z, dx, dy, dz, np.pi * luminance * area / count, 1


@inner
def _deposit(air, terms, rig, x, y, z, dx, dy, dz, length, lumens, step, shift, basis):
    """Lay a flight's lumen-metres into the cells it crosses, as the first harmonics of its way, at even steps."""
    nx, ny, nz = air.shape[0], air.shape[1], air.shape[2]
    ax, ay, az = rig.air_low[0], rig.air_low[1], rig.air_low[2]
    wide, deep, high = rig.air_size[0], rig.air_size[1], rig.air_size[2]
    n = int(length / step) + 1
    harmonics(dx, dy, dz, basis)
    share = lumens * length / n
    for k in range(n):
        t = length * (k + shift) / n
        i = min(max(int((x + t * dx - ax) / wide * nx), 0), nx - 1)
        j = min(max(int((y + t * dy - ay) / deep * ny), 0), ny - 1)
        m = min(max(int((z + t * dz - az) / high * nz), 0), nz - 1)
        cell = air[i, j, m]
        if terms == FACING:  # numbers that the compiler knows: it then works on several at a time
            for term in range(FACING):
                cell[term] += share * basis[term]
        else:
            for term in range(TERMS):
                cell[term] += share * basis[term]


@inner
def _facet_cell(rig, occluder, face, x, y, z):
    """The cell of an occluder's face that holds a point on it."""
    row = occluder_of(rig, occluder)
    u, v = place_on(rig, occluder, face, x, y, z)
    i = min(max(int(u * row.across[face]), 0), row.across[face] - 1)
    j = min(max(int(v * row.along[face]), 0), row.along[face] - 1)
    return facet_of(rig, row.facet[face]).first + i + j * row.across[face]


@inner
def _follow(
    rig, x, y, z, dx, dy, dz, lumens, stage, free, turns, state, phase_draws, walls, facets, fresh, air, halo,
    ledger, step, basis,
):  # fmt: skip
    """Follow one particle to its end; `free` is the even number for its first free path, `turns` the halo's."""
    whole, skip = lumens, -1
    cells = walls.shape[1]
    ledger[EMITTED] += lumens
    for _ in range(400):
        wall_t, surface = _meet_end(rig, x, y, z, dx, dy, dz)
        t, occluder, face = meet_occluder(rig, x, y, z, dx, dy, dz, wall_t, skip, rig.rough)
        turned = False
        if rig.extinction > 0.0:
            path = -np.log(max(free, 1e-300)) / rig.extinction
            if path < t:
                t, turned = path, True
        state, shift = _next(state)
        if stage == 5:
            _deposit(fresh, FACING, rig, x, y, z, dx, dy, dz, t, lumens, step, shift, basis)
        elif stage == 4:
            _deposit(air, TERMS, rig, x, y, z, dx, dy, dz, t, lumens, step, shift, basis)
        elif stage == 2:
            _deposit(halo, TERMS, rig, x, y, z, dx, dy, dz, t, lumens, step, shift, basis)
        x, y, z = x + t * dx, y + t * dy, z + t * dz
        state, u = _next(state)
        state, v = _next(state)
        if turned:
            dx, dy, dz = turned_about(dx, dy, dz, _drawn(phase_draws, u), 2.0 * np.pi * v)
            turns -= 1
            stage, skip = (2 if (stage == 0 or stage == 2) and turns >= 0 else 4), -1
        elif occluder >= 0:
            row = occluder_of(rig, occluder)
            state, w = _next(state)
            nx, ny, nz = face_normal(rig, occluder, face, x, y, z)
            # what comes from other facets they exchange; what comes from open ground it sends itself
            if row.facet[face] >= 0 and (stage == 2 or stage == 4 or (stage == 5 and rig.enclosed)):
                facets[_facet_cell(rig, occluder, face, x, y, z)] += lumens
            if row.diffuse > 0.0 or row.passes > 0.0:
                if w >= row.passes + row.diffuse + row.front:
                    ledger[ABSORBED] += lumens
                    return state
                if w >= row.passes:
                    way = 1.0 if w >= row.passes + row.diffuse else -1.0  # back, or through
                    dx, dy, dz = turned_about(way * nx, way * ny, way * nz, np.sqrt(1.0 - u), 2.0 * np.pi * v)
                    stage = 1 if stage < 2 else 3
            else:
                share = reflects(rig, occluder, face)
                ledger[ABSORBED] += lumens * (1.0 - share)
                lumens *= share
                if face == 0 and w < row.gloss:
                    along = 2.0 * (dx * nx + dy * ny + dz * nz)
                    dx, dy, dz = dx - along * nx, dy - along * ny, dz - along * nz
                    dx, dy, dz = turned_about(dx, dy, dz, np.cos(0.5 * row.lobe * np.sqrt(u)), 2.0 * np.pi * v)
                    if dx * nx + dy * ny + dz * nz <= 0.0:
                        ledger[ABSORBED] += lumens
                        return state
                    stage = 0 if stage == 0 else 4
                else:
                    dx, dy, dz = turned_about(nx, ny, nz, np.sqrt(1.0 - u), 2.0 * np.pi * v)
                    stage = 4 if row.facet[face] < 0 else (1 if stage < 2 else 3)
            skip = occluder
        else:
            if surface < 0:
                ledger[ESCAPED] += lumens
                return state
            a, b = _wall_cell(rig, surface, x, y, z, cells)
            if stage == 2 or stage >= 4:
                walls[surface, a, b] += lumens
            window, barred = window_at(rig, surface, x, y, z)
            if window >= 0 and not barred:
                ledger[ESCAPED] += lumens
                return state
            share = BAR_REFLECTANCE if barred else rig.reflectance[surface]
            ledger[ABSORBED] += lumens * (1.0 - share)
            lumens *= share
            nx, ny, nz = wall_normal(surface)
            dx, dy, dz = turned_about(nx, ny, nz, np.sqrt(1.0 - u), 2.0 * np.pi * v)
            stage, skip = 5, -1
        if lumens < 0.05 * whole:  # Russian roulette keeps the sum right on average
            state, u = _next(state)
            if u > 0.5 or lumens <= 0.0:
                ledger[ABSORBED] += lumens
                return state
            ledger[ABSORBED] -= lumens
            lumens *= 2.0
        state, free = _next(state)
    ledger[ABSORBED] += lumens
    return state


@inner
def _meet_end(rig, x, y, z, dx, dy, dz):
    """Where a flight ends: on a wall or the ground; or, in the open, where it leaves the cells of the air, surface -1."""
    t, surface = meet_wall(rig, x, y, z, dx, dy, dz)
    if not rig.enclosed:
        _, far = in_air_cells(rig, x, y, z, dx, dy, dz)
        if far < t:
            return max(far, 0.0), -1
    return t, surface


@inner
def _wall_cell(rig, surface, x, y, z, cells):
    a, b = (x - rig.air_low[0]) / rig.air_size[0], (y - rig.air_low[1]) / rig.air_size[1]
    if surface < 2:
        a, b = b, z / rig.air_size[2]
    elif surface < 4:
        b = z / rig.air_size[2]
    return min(max(int(a * cells), 0), cells - 1), min(max(int(b * cells), 0), cells - 1)


def trace(rigs, table, lamp_draws, phase_draws, particles, turns, cells, grid, step):
    """
    Follow all particles.

    Parameters
    ----------
    rigs : array (1,)
        A rig's `row`.
    table : array of EMITTER
        With `first` and `count` of each set.
    lamp_draws, phase_draws : arrays (tables, n), (n,)
        From `draws`.
    particles : int
        How many in all.
    turns : int
        Turns by the haze alone that count as halo.
    cells : int
        Tally cells along each side of a surface.
    grid : tuple of 3 ints
        Air cells along x, y and z.
    step : float
        Metres between deposits along a flight.

    Returns
    -------
    walls : array (HANDS, 6, cells, cells)
        Lumens that arrived, straight light and facets' light left out.
    facets : array (HANDS, facet cells)
        Lumens that arrived on boards and frames, straight light left out.
    fresh, air, halo : arrays (HANDS, nx, ny, nz, TERMS)
        Lumen-metres as harmonics of their way: straight from a wall (order 0 to 2 only), the rest, and the halo.
    ledger : array (HANDS, 3)
        Lumens absorbed, escaped and emitted.
    """
    walls = np.zeros((HANDS, 6, cells, cells))
    facets = np.zeros((HANDS, max(rigs[0]["n_cells"], 1)))
    fresh, air, halo = (np.zeros((HANDS, *grid, TERMS)) for _ in range(3))
    ledger = np.zeros((HANDS, 3))
    _trace.shared(HANDS, rigs, table, lamp_draws, phase_draws, particles, turns, walls, facets, fresh, air, halo, ledger, step)
    return walls, facets, fresh, air, halo, ledger


@kernel(JOBS, RIGS, EMITTERS, TABLE, NUMBERS, COUNT, COUNT, HANDS_CUBE, TABLE, HANDS_AIR, HANDS_AIR, HANDS_AIR, TABLE, NUMBER)
def _trace(todo, rigs, table, lamp_draws, phase_draws, particles, turns, walls, facets, fresh, air, halo, ledger, step):
    rig, basis = rigs[0], np.empty(TERMS)
    while True:
        hand = next_job(todo)
        if hand < 0:
            return
        e = 0
        for i in range(hand, particles, HANDS):
            while e < table.shape[0] - 1 and i >= table[e + 1].first:
                e += 1
            k = i - table[e].first
            x, y, z, dx, dy, dz, lumens, stage = _emit(rig, table, e, k, lamp_draws)
            if lumens > 0.0:
                state = np.uint64(i) * np.uint64(0xD1342543DE82EF95) + np.uint64(0x2545F4914F6CDD1D)
                _follow(
                    rig, x, y, z, dx, dy, dz, lumens, stage, _even(k, 2), turns, state, phase_draws, walls[hand],
                    facets[hand], fresh[hand], air[hand], halo[hand], ledger[hand], step, basis,
                )  # fmt: skip


@kernel(RIGS, EMITTERS, TABLE, NUMBERS, COUNT, rows(POINT))
def turned_light(rigs, table, lamp_draws, phase_draws, turns, points):
    """
    Light that the haze alone has turned, as points; each with its way in and its lumens.

    A point's place is drawn from the path to the wall by the exponential law, cut off at the wall, so that
    every point counts; from it the light goes on, by the phase function, to the next. Fills `points`, `turns`
    of them for each particle in `table`, and returns how many are filled.
    """
    rig = rigs[0]
    used = 0
    for e in range(table.shape[0]):
        if table[e].kind > LAMP_THROUGH:
            continue
        for k in range(table[e].count):
            state = np.uint64(1000003 * e + k) * np.uint64(0xD1342543DE82EF95) + np.uint64(0x632BE59BD9B4E019)
            x, y, z, dx, dy, dz, lumens, _ = _emit(rig, table, e, k, lamp_draws)
            for turn in range(turns):
                reach, _ = _meet_end(rig, x, y, z, dx, dy, dz)
                reach, _occluder, _ = meet_occluder(rig, x, y, z, dx, dy, dz, reach, -1, rig.rough)
                share = 1.0 - np.exp(-rig.extinction * reach)
                state, free = _next(state)
                if turn < 2:
                    free = _even(k, 2 + turn)
                t = -np.log(1.0 - free * share) / rig.extinction
                x, y, z = x + t * dx, y + t * dy, z + t * dz
                lumens *= share
                points[used].at[0], points[used].at[1], points[used].at[2] = x, y, z
                points[used].way[0], points[used].way[1], points[used].way[2] = dx, dy, dz
                points[used].lumens = lumens
                used += 1
                state, u = _next(state)
                state, v = _next(state)
                dx, dy, dz = turned_about(dx, dy, dz, _drawn(phase_draws, u), 2.0 * np.pi * v)
    return used


def dealt(table, total):
    """
    The emitters with particles dealt among them by lumens.

    Parameters
    ----------
    table : array of EMITTER
    total : int
        Particles in all, near enough: each emitter gets at least one.

    Returns
    -------
    array of EMITTER
        With `first` and `count` filled in.
    """
    table = table.copy()
    if len(table):
        share = table["lumens"] / table["lumens"].sum()
        table["count"] = np.maximum(1, np.rint(total * share)).astype(int)
        table["first"] = np.concatenate([[0], np.cumsum(table["count"])[:-1]])
    return table
