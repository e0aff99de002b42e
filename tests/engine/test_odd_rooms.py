"""Rooms that are no boxes: a corner walled off, a roof's slope, a blind in the window, a drum."""

import dataclasses

import numpy as np
import pytest

from lightcalc.engine import solve
from lightcalc.kit.candela import Lambert
from lightcalc.scene.parts import SURFACES, Exterior, Light, Piece, Room, Sun, Window, basis
from lightcalc.scene.solids import RAIL_M, SLAT_M, furniture

from light_parts import BLACK, lamp, setup

RHO, LUMENS = 0.6, 4000.0
GREY = dict.fromkeys(SURFACES, RHO)
OFF_M = 0.01
BULB = lamp("bulb", (1.3, 0.9, 1.4), LUMENS / (4 * np.pi))


def even_points(quads, each, rng):
    """Points spread over rectangles in the measure of their areas, a little before each; and the ways these face."""
    at, ways = [], []
    areas = [np.linalg.norm(np.cross(q[1] - q[0], q[3] - q[0])) for q in quads]
    for quad, area in zip(quads, areas):
        u, v = rng.random((2, max(int(each * area), 4)))
        normal = np.cross(quad[1] - quad[0], quad[3] - quad[0]) / area
        at.append(quad[0] + u[:, None] * (quad[1] - quad[0]) + v[:, None] * (quad[3] - quad[0]) + OFF_M * normal)
        ways.append(np.tile(normal, (len(u), 1)))
    return at, ways, areas


def mean_lux(scene, quads):
    """The mean illuminance over all surfaces, each by its area. [lx]"""
    lit = solve.light(scene)
    at, ways, areas = even_points([np.array(quad, dtype=float) for quad in quads], 60, np.random.default_rng(1))
    means = [lit.illuminance_lx(points, normals).sum(axis=1).mean() for points, normals in zip(at, ways)]
    return np.average(means, weights=areas), sum(areas)


def upright(x0, y0, x1, y1, high, low=0.0):
    """A wall over a line on the plan that faces to the left of who walks along it."""
    return [(x1, y1, low), (x0, y0, low), (x0, y0, high), (x1, y1, high)]


def level(x0, y0, x1, y1, z, faces_up):
    quad = [(x0, y0, z), (x1, y0, z), (x1, y1, z), (x0, y1, z)]
    return quad if faces_up else quad[::-1]


@pytest.mark.slow
def test_a_cavity_with_a_corner_walled_off_gains_as_any_of_its_area():
    # PUBLISHED: the integrating cavity. DERIVED: whatever its shape, what arrives is Phi + rho x what arrives, so the mean is
    # Phi / (A (1 - rho)), A without the corner that a box as high as the room takes off. 2 %: chance, and 600 points.
    room = Room(name="hall", width_m=4.0, depth_m=3.0, height_m=2.5, **GREY)
    block = Piece(
        name="corner", what="wall", at=(3.2, 2.3, 0.0), aim=(3.2, 5.0, 0.0), width_m=1.6, depth_m=1.4, height_m=2.5, reflectance=RHO
    )
    around = [(0, 0, 4, 0), (4, 0, 4, 1.6), (4, 1.6, 2.4, 1.6), (2.4, 1.6, 2.4, 3), (2.4, 3, 0, 3), (0, 3, 0, 0)]
    quads = [upright(*line, 2.5) for line in around]
    for z, up in ((0.0, True), (2.5, False)):
        quads += [level(0, 0, 4, 1.6, z, up), level(0, 1.6, 2.4, 3, z, up)]
    mean, area = mean_lux(setup(place=room, lights=(BULB,), pieces=(block,)), quads)
    assert area == pytest.approx(2 * (4 * 3 - 1.6 * 1.4) + 2 * (4 + 3) * 2.5)
    assert mean == pytest.approx(LUMENS / (area * (1 - RHO)), rel=0.02)


@pytest.mark.slow
def test_a_cavity_under_a_slope_gains_as_any_of_its_area():
    # DERIVED: as above; a slope rises from 1 m at the left wall to the ceiling 1.8 m in. Its gables are cut in strips.
    room = Room(name="loft", width_m=4.0, depth_m=3.0, height_m=2.5, **GREY)
    slope = Piece(
        name="roof", what="slope", at=(0.9, 1.5, 1.0), aim=(3.0, 1.5, 1.0), width_m=3.0, depth_m=1.8, height_m=1.5, reflectance=RHO
    )
    slab = furniture(slope)[0]
    low, high = (slab.middle + side * slab.half[1] * slab.axes[1] - slab.half[2] * slab.axes[2] for side in (-1, 1))
    under = [(low[0], 0, low[2]), (low[0], 3, low[2]), (high[0], 3, high[2]), (high[0], 0, high[2])]
    quads = [
        level(0, 0, 4, 3, 0.0, True),
        level(high[0], 0, 4, 3, 2.5, False),
        upright(4, 0, 4, 3, 2.5),
        upright(0, 3, 0, 0, 1.0),
        under,
    ]
    edges = np.linspace(0.0, high[0], 13)
    for a, b in zip(edges[:-1], edges[1:]):
        top = low[2] + max(0.5 * (a + b) - low[0], 0.0) / (high[0] - low[0]) * (high[2] - low[2])
        quads += [upright(a, 0, b, 0, top), upright(b, 3, a, 3, top)]
    quads += [upright(high[0], 0, 4, 0, 2.5), upright(4, 3, high[0], 3, 2.5)]
    mean, area = mean_lux(setup(place=room, lights=(BULB,), pieces=(slope,)), quads)
    gable = 4 * 2.5 - 0.5 * 1.8 * 1.5
    assert area == pytest.approx(2 * gable + 3 * (4 + 2.2 + 2.5 + 1.0 + np.hypot(1.8, 1.5)), rel=0.01)
    assert mean == pytest.approx(LUMENS / (area * (1 - RHO)), rel=0.02)


@pytest.mark.parametrize("tilt_deg", [0.0, 25.0, -30.0])
@pytest.mark.parametrize("sun_deg", [20.0, 35.0])
def test_a_blind_lets_through_what_its_slats_leave_open(tilt_deg, sun_deg):
    # DERIVED: seen along the sun's way each slat of depth d covers d |sin(t) + cos(t) tan(e)| of the upright pitch p, its
    # thickness s cos(t) / cos(e) at most beside it; the sun comes square to the wall. Places all over the blind's shadow.
    room = Room(
        name="hall", width_m=4.0, depth_m=6.0, height_m=3.0, **BLACK,
        windows=(Window(name="big", wall="near", centre_m=2.0, sill_m=0.5, width_m=2.4, height_m=2.4),),
    )  # fmt: skip
    way = np.radians(tilt_deg)
    blind = Piece(
        name="blind", what="blind", at=(2.0, 0.1, 1.0), aim=(2.0, 0.1 + np.cos(way), 1.0 + np.sin(way)),
        width_m=1.6, depth_m=0.1, height_m=1.5,
    )  # fmt: skip
    sun = Sun(bearing_deg=180.0, elevation_deg=sun_deg, normal_lx=50_000.0)
    lit = solve.light(setup(place=room, sun=sun, pieces=(blind,)), "draft")
    towards = sun.direction(0.0)
    rng, high = np.random.default_rng(3), 1.5 - 2 * RAIL_M
    n = int(np.ceil(1.5 / 0.09))
    pitch = high / n
    heights = 1.0 + RAIL_M + pitch * (2 + (n - 4) * rng.random(8000))  # whole slats above and below each
    at = np.stack([2.0 + 1.4 * (rng.random(8000) - 0.5), np.full(8000, 0.1), heights], axis=1) - 0.4 * towards
    share = (lit.illuminance_lx(at, np.tile(towards, (8000, 1)))[:, 0] > 25_000.0).mean()
    elevation = np.radians(sun_deg)
    covers = 0.1 * np.abs(np.sin(way) + np.cos(way) * np.tan(elevation)) / pitch
    slat = SLAT_M / (pitch * np.cos(elevation))
    assert 1 - covers - slat - 0.02 < share < max(1 - covers, 0.0) + 0.02


def test_a_drum_throws_the_shadow_of_its_eight_sides():
    # DERIVED: the sun square to a side: the shadow on the ground is as wide as said, and as long as height / tan(elevation).
    drum = Piece(name="drum", what="drum", at=(3.0, 3.0, 0.0), aim=(3.0, 4.0, 0.0), width_m=0.6, height_m=0.9)
    sun = Sun(bearing_deg=180.0, elevation_deg=45.0, normal_lx=50_000.0)
    lit = solve.light(setup(place=Exterior(name="yard", width_m=9.0, depth_m=9.0, ground=0.0), sun=sun, pieces=(drum,)), "draft")
    across = np.linspace(-0.5, 0.5, 401)
    at = np.stack([3.0 + across, np.full(401, 3.6), np.full(401, 0.001)], axis=1)
    up = np.tile((0.0, 0.0, 1.0), (401, 1))
    dark = lit.illuminance_lx(at, up)[:, 0] < 1.0
    assert dark.mean() * 401 / 400 == pytest.approx(0.6, abs=0.006)
    along = np.linspace(0.31, 2.0, 500)
    at = np.stack([np.full(500, 3.0), 3.0 + along, np.full(500, 0.001)], axis=1)
    dark = lit.illuminance_lx(at, np.tile((0.0, 0.0, 1.0), (500, 1)))[:, 0] < 1.0
    assert along[dark].max() == pytest.approx(0.3 + 0.9, abs=0.006)


@pytest.mark.parametrize("tilt_deg", [-35.0, 10.0, 60.0])
def test_a_soft_panel_through_a_blind_reads_as_many_lines_say(tilt_deg):
    # INDEPENDENT: 6000 lines from a place to the panel, each stopped by a slat or not (`Solid.stops`, itself held to marched
    # lines). More than eight slats hide something of each place, and overlap as seen from above and below. Of the free panel: 2 %.
    room = Room(name="hall", width_m=4.0, depth_m=4.0, height_m=3.0, **BLACK)
    way = np.radians(tilt_deg)
    blind = Piece(
        name="blind", what="blind", at=(2.0, 2.0, 0.7), aim=(2.0, 2.0 + np.cos(way), 0.7 + np.sin(way)), width_m=1.4, height_m=1.4
    )
    panel = Light(
        name="panel", at=(2.0, 3.4, 1.5), aim=(2.0, 0.0, 1.4), distribution=Lambert(peak_cd=1000.0), face_width_m=1.6, face_height_m=1.2
    )  # fmt: skip
    scene = setup(place=room, lights=(panel,), pieces=(blind,))
    at = np.array([(2.0, 1.2, 1.4), (1.7, 1.8, 2.3), (2.3, 1.7, 0.4), (2.1, 1.9, 1.2), (0.9, 1.0, 1.6)])
    ahead = np.tile((0.0, 1.0, 0.0), (len(at), 1))
    got = solve.light(scene).illuminance_lx(at, ahead)[:, 0]
    free = solve.light(dataclasses.replace(scene, pieces=())).illuminance_lx(at, ahead)[:, 0]
    rng, (right, up, look) = np.random.default_rng(2), basis(panel.at, panel.aim)
    for point, share in zip(at, got / free):
        u, v = rng.random((2, 6000)) - 0.5
        ends = np.array(panel.at) + 1.6 * u[:, None] * right + 1.2 * v[:, None] * up
        away = ends - point
        weight = away[:, 1] * np.maximum(-away @ look, 0.0) / (away**2).sum(axis=1) ** 2
        stopped = np.any([slat.stops(ends, point) for slat in furniture(blind)], axis=0)
        assert share == pytest.approx(weight[~stopped].sum() / weight.sum(), abs=0.02)
