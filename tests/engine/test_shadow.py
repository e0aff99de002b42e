"""People and furniture in the light: what they hide is held against lines marched through their shapes."""

import dataclasses

import numpy as np
import pytest

from lightcalc.engine import direct, solve
from lightcalc.engine.picture import sight_line
from lightcalc.kit.candela import Lambert
from lightcalc.scene.parts import POSES, Exterior, Haze, Light, Mark, Piece, Room, Sky, Sun
from lightcalc.scene.solids import solids

from light_parts import BLACK, lamp, setup
from marched import depth_in, least_depth

ROOM = Room(name="hall", width_m=5.0, depth_m=5.0, height_m=3.0, **BLACK)
BULB = lamp("bulb", (1.1, 0.9, 2.3), 1000.0)


def person(pose, at=(2.6, 2.4, 1.5)):
    at = {"seated": (*at[:2], 1.2), "lying": (*at[:2], 0.3)}.get(pose, at)
    aim = (at[0] + 0.6, at[1] - 0.5, at[2] + (2.0 if pose == "lying" else 0.1))
    return dict(marks=(Mark(name="someone", at=at, aim=aim, figure=True, pose=pose),))


def piece(what, **sizes):
    return dict(pieces=(Piece(name="thing", what=what, at=(2.5, 2.5, 0.0), aim=(3.3, 2.9, 0.0), **sizes),))


THINGS = {pose: person(pose) for pose in POSES} | {
    what: piece(what) for what in ("table", "chair", "bed", "shelf", "door", "sack", "drum", "slope")
} | {"box": piece("box", width_m=0.7, depth_m=0.4, height_m=1.1)}  # fmt: skip


def clear_places(found, rng, n):
    """Places in the room that are in no solid, (n, 3)."""
    points = rng.uniform((0.0, 0.0, 0.0), ROOM.size_m, (2 * n, 3))
    there = np.array([rng.choice(len(found), 2 * n), rng.choice(2, 2 * n)])  # half of them near one of the things
    near = np.array([found[k].middle for k in there[0]]) + rng.normal(0.0, 0.4, (2 * n, 3))
    points = np.where(there[1][:, None] == 1, near, points)
    points = points[((points > 0.0) & (points < ROOM.size_m)).all(axis=1)]
    outside = np.min([depth_in(solid, points) for solid in found], axis=0) > 1.02
    return points[outside][:n]


def lux_at(scene, points, normals, dome=False):
    """Straight light by source, (n, sources + 1). [lx]"""
    flags = np.full(len(points), dome, dtype=np.bool_)
    rig = direct.prepare(scene)  # its arrays live as long as it does
    return direct.straight(rig.row, np.ascontiguousarray(points), np.ascontiguousarray(normals), flags, np.full(len(points), -1))


@pytest.mark.slow
@pytest.mark.parametrize("name", THINGS)
def test_shadows_of_a_point_lamp_are_those_of_marched_lines(name):
    # INDEPENDENT: ten thousand places; the way to the lamp is marched through the shapes in small steps. Ways that graze, nearer
    # to the surface than a step can tell, are left out; they are few.
    scene = setup(place=ROOM, lights=(BULB,), **THINGS[name])
    found, rng = solids(scene), np.random.default_rng(1)
    points = clear_places(found, rng, 10_000)
    least, error = least_depth(found, points, np.full_like(points, BULB.at))
    ways = BULB.at - points
    normals = ways / np.linalg.norm(ways, axis=1)[:, None]
    lux = lux_at(scene, points, normals)
    free = lux_at(dataclasses.replace(scene, marks=(), pieces=()), points, normals)
    lit = free[:, 0] > 0
    told = lit & (np.abs(least - 1.0) > 2.0 * error)
    assert told.sum() > 0.6 * lit.sum() and (least[told] < 1.0).sum() > 100
    np.testing.assert_array_equal(lux[told, 0] > 0.0, least[told] > 1.0)
    np.testing.assert_allclose(lux[told & (least > 1.0), 0], free[told & (least > 1.0), 0], rtol=1e-12)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["standing", "chair", "sack"])
def test_shadows_of_the_sun_are_those_of_marched_lines(name):
    # INDEPENDENT: as above, for parallel light in the open; people and things stand on the ground.
    sun = Sun(bearing_deg=215.0, elevation_deg=28.0, normal_lx=60_000.0)
    scene = setup(place=Exterior(name="yard", width_m=9.0, depth_m=9.0, ground=0.0), sun=sun, **THINGS[name])
    found, rng, towards = solids(scene), np.random.default_rng(2), sun.direction(0.0)
    points = rng.uniform((1.5, 1.5, 0.0), (3.5, 4.5, 1.5), (12_000, 3))
    points = points[np.min([depth_in(solid, points) for solid in found], axis=0) > 1.02][:10_000]
    least, error = least_depth(found, points, points + 4.0 * towards, steps=1500)
    told = np.abs(least - 1.0) > 2.0 * error
    lux = lux_at(scene, points, np.tile(towards, (len(points), 1)))[:, 0]
    assert (least[told] < 1.0).sum() > 100
    np.testing.assert_array_equal(lux[told] > 0.0, least[told] > 1.0)


@pytest.mark.slow
@pytest.mark.parametrize("name", THINGS)
def test_dark_stretches_of_sight_lines_are_those_of_marched_ones(name):
    # INDEPENDENT: even air, a bulb, sight lines through the room; the light that one turn sends along each is summed in steps,
    # each step's way to the bulb marched. Closed form against such a sum: the steps' own error, 2 % of the line.
    air = Haze(extinction_per_m=0.05, g=0.0)
    scene = setup(place=ROOM, lights=(BULB,), haze=air, **THINGS[name])
    found, rng = solids(scene), np.random.default_rng(3)
    starts = clear_places(found, rng, 40)
    ends = found[0].middle + rng.normal(0.0, 0.5, (len(starts), 3))
    reach = np.linalg.norm(ends - starts, axis=1) + 1.5
    ways = (ends - starts) / np.linalg.norm(ends - starts, axis=1)[:, None]
    nodes, weights = direct.gauss_nodes(24)
    rig = direct.prepare(scene)
    got = direct.airlight(rig.row, direct.ALL, starts, np.ascontiguousarray(ways), reach, nodes, weights)[:, 0]
    steps = (np.arange(500) + 0.5) / 500
    wanted, free = [], []
    for start, way, far in zip(starts, ways, reach):
        points = start + far * steps[:, None] * way
        away = BULB.at - points
        d2 = (away**2).sum(axis=1)
        path = far * steps + np.sqrt(d2)
        light = air.extinction_per_m * 1000.0 / d2 * np.exp(-air.extinction_per_m * path) / (4 * np.pi) * far / len(steps)
        least, _ = least_depth(found, points, np.full_like(points, BULB.at), steps=400)
        wanted.append(light[least > 1.0].sum())
        free.append(light.sum())
    assert np.count_nonzero(np.array(wanted) < 0.95 * np.array(free)) > 5  # some do cross a shadow
    np.testing.assert_allclose(got, wanted, atol=0.02 * np.max(free), rtol=0.02)


def hemisphere(rng, n):
    """Unit vectors spread by the cosine about +z, (n, 3)."""
    turn, height = 2 * np.pi * rng.random(n), np.sqrt(rng.random(n))
    flat = np.sqrt(1 - height**2)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), height], axis=1)


@pytest.mark.slow
@pytest.mark.parametrize("name", THINGS)
def test_shade_of_a_soft_panel_is_that_of_many_lines(name):
    # INDEPENDENT: a panel overhead, places on the floor and in the air: 2000 lines from each to the panel, marched. One per cent
    # of the panel's own light is their scatter; an ellipsoid's outline of twelve sides adds less.
    panel = Light(
        name="panel",
        at=(2.2, 2.0, 2.9),
        aim=(2.2, 2.0, 0.0),
        distribution=Lambert(peak_cd=1000.0),
        face_width_m=1.6,
        face_height_m=1.2,
    )
    scene = setup(place=ROOM, lights=(panel,), **THINGS[name])
    found, rng = solids(scene), np.random.default_rng(4)
    points = clear_places(found, rng, 4000)
    near = points[np.linalg.norm(points[:, :2] - found[0].middle[:2], axis=1) < 0.7][:30]
    near[:20, 2] = 0.001  # on the floor, but for ten
    near = near[np.min([depth_in(solid, near) for solid in found], axis=0) > 1.01]
    up = np.tile((0.0, 0.0, 1.0), (len(near), 1))
    got = lux_at(scene, near, up)[:, 0]
    free = lux_at(dataclasses.replace(scene, marks=(), pieces=()), near, up)[:, 0]
    wanted = []
    for point in near:
        ends = np.array([2.2, 2.0, 2.9]) + rng.uniform((-0.8, -0.6, 0.0), (0.8, 0.6, 0.0), (2000, 3))
        away = ends - point
        weight = away[:, 2] ** 2 / (away**2).sum(axis=1) ** 2
        least, _ = least_depth(found, np.tile(point, (2000, 1)), ends, steps=400)
        wanted.append(np.where(least > 1.0, weight, 0.0).sum() / weight.sum())
    assert np.min(wanted) < 0.9
    np.testing.assert_allclose(got / free, wanted, atol=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["standing", "seated", "table", "door", "sack"])
def test_open_sky_is_hidden_as_many_lines_say(name):
    # INDEPENDENT: an even sky; 3000 lines by the cosine from each place, marched: scatter 0.9 %.
    sky = Sky(zenith_cd_m2=3000.0, horizon_cd_m2=3000.0)
    scene = setup(place=Exterior(name="yard", width_m=9.0, depth_m=9.0, ground=0.0), sky=sky, **THINGS[name])
    found, rng = solids(scene), np.random.default_rng(5)
    points = rng.uniform((1.8, 1.6, 0.0), (3.4, 3.2, 1.2), (60, 3))
    points = points[np.min([depth_in(solid, points) for solid in found], axis=0) > 1.05][:20]
    got = lux_at(scene, points, np.tile((0.0, 0.0, 1.0), (len(points), 1))).sum(axis=1) / (3000.0 * np.pi)
    wanted = []
    for point in points:
        starts = np.tile(point, (3000, 1))
        least, _ = least_depth(found, starts, starts + 3.5 * hemisphere(rng, 3000), steps=500)
        wanted.append(np.mean(least > 1.0))
    assert np.min(wanted) < 0.9
    np.testing.assert_allclose(got, wanted, atol=0.025)


def test_a_meter_at_a_face_does_not_see_what_is_behind_the_head():
    # DERIVED: a lamp straight behind a dome lights it by (1 + cos) / 2 = 0, one at 120 degrees by a quarter; a head a centimetre
    # behind the meter hides whatever lies more than 24 degrees past the side: arccos(0.097 / 0.107) for a ball of its depth.
    face = Mark(name="face", at=(2.5, 2.5, 1.5), aim=(2.5, 0.0, 1.5), receptor="dome", figure=True)
    for angle, hidden in ((80.0, False), (100.0, False), (150.0, True), (178.0, True)):
        way = np.radians(angle)
        bulb = lamp("bulb", (2.5 + 2.0 * np.sin(way), 2.5 - 2.0 * np.cos(way), 1.5), 1000.0)
        scene = setup(place=ROOM, lights=(bulb,), marks=(face,))
        lit = solve.light(scene, "draft").illuminance_lx([face.at], [(0.0, -1.0, 0.0)], True)[0, 0]
        assert lit == pytest.approx(0.0 if hidden else 125.0 * (1 + np.cos(way)), rel=1e-6)


def test_a_white_table_lights_a_face_over_it_as_a_board_would():
    # INDEPENDENT: a board of the table's size and height, of the same white, sends a face what the table's top does; the table's
    # legs and edges are in nobody's way. Within 1 %: the board's cells are finer.
    from lightcalc.kit.materials import Stuff
    from lightcalc.scene.parts import Board

    lamp_over = lamp("bulb", (2.5, 3.4, 2.6), 1000.0)
    mark = Mark(name="chin", at=(2.5, 1.8, 1.2), aim=(2.5, 2.1, 0.7))
    table = Piece(name="table", what="table", at=(2.5, 2.5, 0.0), aim=(2.5, 3.5, 0.0), reflectance=0.6)
    with_table = solve.light(setup(place=ROOM, lights=(lamp_over,), marks=(mark,), pieces=(table,)))
    white = Stuff(name="white", reflectance=0.6, gloss=0.0, back=0.0)
    board = Board(
        name="board", at=(2.5, 2.5, 0.75), aim=(2.5, 2.5, 2.0), width_m=1.6, height_m=0.8, stuff=white,
    )  # fmt: skip
    with_board = solve.light(setup(place=ROOM, lights=(lamp_over,), marks=(mark,), boards=(board,)))
    facing = np.subtract(mark.aim, mark.at)
    from_table = with_table.illuminance_lx([mark.at], [facing])[0, 1]
    from_board = with_board.illuminance_lx([mark.at], [facing])[0, 1]
    assert from_board > 1.0
    assert from_table == pytest.approx(from_board, rel=0.02)


def test_a_line_that_meets_nothing_ends_on_the_sky():
    # DERIVED: a spot of the sky beside someone, and over a table, reads the sky's own luminance.
    sky = Sky(zenith_cd_m2=3000.0, horizon_cd_m2=3000.0)
    scene = setup(
        place=Exterior(name="yard", width_m=9.0, depth_m=9.0, ground=0.0), sky=sky, **THINGS["standing"], **THINGS["table"]
    )
    lit = solve.light(scene, "draft")
    for way in ((0.0, 0.8, 0.6), (0.6, -0.64, 0.48)):
        assert sight_line(lit, np.array(way)).luminance_cd_m2 == pytest.approx(3000.0, rel=1e-12)
