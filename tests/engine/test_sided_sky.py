"""A sky with a bright side, against sums over the whole of it: on faces, past a board, in haze, through a window."""

import numpy as np
import pytest

from lightcalc.engine import direct, particles, picture, solve
from lightcalc.engine.indirect import open_air
from lightcalc.scene.parts import Camera, Exterior, Flag, Haze, Setup, Sky, Window

from light_parts import CAMERA, henyey_greenstein, loft, setup, unit

SKY = Sky(zenith_cd_m2=1_500.0, horizon_cd_m2=4_000.0, side_cd_m2=3_000.0, side_bearing_deg=250.0)
PLACE = Exterior(name="pans", width_m=20.0, depth_m=20.0, bearing_deg=160.0, ground=0.1)
SUNNY = np.array([1.0, 0.0, 0.0])  # 250 degrees, where +y lies along 160
PANE = Window(name="pane", wall="right", centre_m=2.3, sill_m=0.8, width_m=1.2, height_m=1.5, glass=0.9)


def sphere(heights=400, turns=720):
    """Ways all over the sphere, (n, 3), and their solid angles. [sr]"""
    height, weight = np.polynomial.legendre.leggauss(heights)
    turn = (np.arange(turns) + 0.5) * 2 * np.pi / turns
    level = np.sqrt(1 - height**2)
    ways = np.stack([np.outer(level, np.sin(turn)), np.outer(level, np.cos(turn)), np.outer(height, np.ones(turns))], axis=-1)
    return ways.reshape(-1, 3), np.repeat(weight, turns) * 2 * np.pi / turns


def luminance(ways, ground_cd_m2):
    """INDEPENDENT of the engine: the law that `Sky` states over the horizon, even ground under it. [cd/m2]"""
    sky = SKY.horizon_cd_m2 + SKY.side_cd_m2 * ways @ SUNNY + (SKY.zenith_cd_m2 - SKY.horizon_cd_m2) * ways[..., 2]
    return np.where(ways[..., 2] > 0, sky, ground_cd_m2)


def in_the_open(**parts):
    return Setup(name="open", title="", place=PLACE, camera=CAMERA, sky=SKY, **parts)


GROUND = PLACE.ground * SKY.horizontal_lx / np.pi
FACINGS = [(0, 0, 1), (0, 0, -1), (1, 0, 0), (-1, 0, 0), (0, 1, 0), (0.6, 0.5, 0.4), (-0.8, 0.1, -0.5), (-0.9, 0.0, 0.3)]


@pytest.mark.parametrize("dome", [False, True])
def test_faces_that_look_every_way(dome):
    # INDEPENDENT: 288,000 directions, each times the receptor's own response.
    ways, share = sphere()
    rig = direct.prepare(in_the_open())
    for facing in map(unit, FACINGS):
        takes = 0.5 * (1 + ways @ facing) if dome else np.maximum(ways @ facing, 0.0)
        wanted = np.sum(share * luminance(ways, GROUND) * takes)
        got = direct.straight(rig.row, np.array([[9.0, 9.0, 1.5]]), facing[None], np.array([dome]), np.full(1, -1))
        assert got.sum() == pytest.approx(wanted, rel=1e-3), facing


def test_a_flag_takes_the_side_that_it_hides():
    # INDEPENDENT: the ways that meet the flag are dropped from the sum. Before the bright side it takes more than before the other.
    ways, share = sphere(600, 1200)
    lost = []
    for side in (1.0, -1.0):
        flag = Flag(name="flag", at=(9.0 + 3.0 * side, 9.0, 2.6), aim=(9.0, 9.0, 2.6), width_m=1.5, height_m=1.0)
        rig = direct.prepare(in_the_open(flags=(flag,)))
        t = 3.0 * side / np.where(np.abs(ways[:, 0]) < 1e-9, 1e-9, ways[:, 0])
        hides = (t > 0) & (np.abs(t * ways[:, 1]) < 0.75) & (np.abs(t * ways[:, 2] - 1.1) < 0.5)
        facing = unit((side, 0.0, 0.3))
        whole = luminance(ways, GROUND) * share * np.maximum(ways @ facing, 0.0)
        got = direct.straight(rig.row, np.array([[9.0, 9.0, 1.5]]), facing[None], np.array([False]), np.full(1, -1))[
            0, rig.sky_source
        ]
        assert got == pytest.approx(whole[~hides].sum(), rel=2e-3)
        lost.append(whole[hides].sum())
    assert lost[0] > 3 * lost[1]


@pytest.mark.parametrize("g", [-0.5, 0.6, 0.9])
@pytest.mark.slow
def test_haze_turns_more_of_it_where_it_is_bright(g):
    # INDEPENDENT: the whole sphere summed way by way, each times the phase function of its angle.
    lit = solve.light(in_the_open(haze=Haze(extinction_per_m=0.05, g=g)), "draft")
    ways, share = sphere(600, 720)
    seen = share * luminance(ways, GROUND)
    # light seen along w travels along -w; what a lens looking along v takes travels along -v
    looks = np.array(
        [unit(way) for way in [(1, 0, 0.02), (-1, 0, 0.02), (0, 1, 0.3), (0.5, 0.5, 0.8), (-0.7, 0.1, -0.4), (0.7, 0, -0.4)]]
    )
    wanted = [np.sum(seen * henyey_greenstein(g, ways @ look)) for look in looks]
    assert open_air(lit.rig.row, looks) == pytest.approx(np.array(wanted), rel=0.02)


def test_a_window_lets_in_the_side_that_it_looks_at():
    # INDEPENDENT: the pane's pieces summed one by one; the lumens through it, those of a wall that faces so; its luminance as seen.
    room = loft(PANE, outside_ground=0.0, bearing_deg=160.0)
    scene = setup(room, sky=SKY)
    rig = direct.prepare(scene)
    at, facing = np.array([5.0, 2.0, 1.0]), np.array([1.0, 0.0, 0.0])
    y, z = np.meshgrid(1.7 + (np.arange(240) + 0.5) * 1.2 / 240, 0.8 + (np.arange(300) + 0.5) * 1.5 / 300)
    ray = np.stack([np.full_like(y, 6.3), y, z], axis=-1) - at
    far = np.linalg.norm(ray, axis=-1)
    ray /= far[..., None]
    pieces = 0.9 * luminance(ray, 0.0) * ray[..., 0] ** 2 / far**2 * (1.2 / 240) * (1.5 / 300)
    got = direct.straight(rig.row, at[None], facing[None], np.array([False]), np.full(1, -1))[0, rig.sky_source]
    assert got == pytest.approx(pieces.sum(), rel=5e-3)
    ways, share = sphere()
    wall_lx = np.sum(share * luminance(ways, 0.0) * np.maximum(ways[:, 0], 0.0))
    assert wall_lx == pytest.approx(SKY.wall_lx(250.0), rel=1e-3)
    table = particles.emitters(rig)
    assert table["lumens"].sum() > 0.9 * wall_lx * 1.2 * 1.5  # a bound from which particles are dealt
    camera = Camera(at=(5.0, 2.0, 1.0), aim=(6.3, 2.13, 1.26))
    sight = picture.sight_line(solve.light(setup(room, sky=SKY, camera=camera), "draft"), unit((1.0, 0.1, 0.2)))
    assert sight.surface_cd_m2 == pytest.approx(0.9 * luminance(unit((1.0, 0.1, 0.2)), 0.0), rel=1e-4)


def test_the_part_says_what_its_law_says():
    # DERIVED from the same law: along a bearing and a height, and never below nothing on the dark side.
    for bearing, height in ((250.0, 0.0), (70.0, 0.0), (160.0, 30.0), (250.0, 60.0)):
        turn, rise = np.radians([bearing - 160.0, height])
        way = np.array([np.sin(turn) * np.cos(rise), np.cos(turn) * np.cos(rise), np.sin(rise) + 1e-12])
        assert SKY.towards(bearing, height) == pytest.approx(float(luminance(way, 0.0)))
    with pytest.raises(ValueError, match="side_cd_m2 must be at most 3122 cd/m2 with this horizon and zenith, got 3200"):
        Sky(zenith_cd_m2=1_500.0, horizon_cd_m2=4_000.0, side_cd_m2=3_200.0)
    assert SKY.times(2.0).horizontal_lx == pytest.approx(2.0 * SKY.horizontal_lx) and SKY.times(2.0).side_cd_m2 == 6_000.0
