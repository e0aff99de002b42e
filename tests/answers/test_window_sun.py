"""Sun through a window: against the light engine, which finds its own shadows, and against a hand-drawn ray."""

from dataclasses import replace

import numpy as np
import pytest

from lightcalc.answers.window_sun import patch_walk, sun_patches, sun_through, window_of
from lightcalc.engine.solve import light
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Room, Sky, Sun, Window
from lightcalc.sky.clock import LocalDay

DEMO = shoot_file.load(shoot_file.demo_path())
LOFT = DEMO.setup("1").place
BARRED = window_of(LOFT, "barred")
DAY = LocalDay(DEMO.dates[0], DEMO.time_zone)
INWARD = {"floor": (0, 0, 1), "left": (1, 0, 0), "right": (-1, 0, 0), "near": (0, 1, 0), "far": (0, -1, 0)}


def bare(**over):
    return Room(name="box", width_m=6.0, depth_m=8.0, height_m=3.0, windows=(Window(name="w", **{"wall": "right", "centre_m": 4.0, "sill_m": 1.0, "width_m": 1.0,
                                                             "height_m": 1.5} | over),))  # fmt: skip


def test_a_ray_by_hand():
    # DERIVED: sun square on the right wall (x = 6), 45 degrees up: a pane from 1.0 to 2.5 m high lands on the floor 1.0 to
    # 2.5 m in from the wall, as wide as it is; 10,000 lx sin 45 on the floor.
    (patch,) = sun_patches(bare(), bare().windows[0], Sun(bearing_deg=90.0, elevation_deg=45.0, normal_lx=10_000))
    assert patch.surface == "floor" and patch.illuminance_lx == pytest.approx(7071.07, rel=1e-5)
    assert patch.corners_m.min(axis=0) == pytest.approx([3.5, 3.5, 0.0], abs=1e-9)
    assert patch.corners_m.max(axis=0) == pytest.approx([5.0, 4.5, 0.0], abs=1e-9)
    assert patch.area_m2 == pytest.approx(1.5)


def test_a_low_sun_climbs_the_far_side_and_keeps_its_light():
    # DERIVED: 10 degrees up, 6 m of room: the ray drops 1.058 m, so the patch stands on the left wall from 0 to 1.44 m, and
    # the rest of it on the floor. Light through the opening = light on the surfaces, lumen for lumen.
    room = bare()
    patches = sun_patches(room, room.windows[0], Sun(bearing_deg=90.0, elevation_deg=10.0, normal_lx=10_000))
    assert {p.surface for p in patches} == {"left", "floor"}
    wall = next(p for p in patches if p.surface == "left")
    assert wall.corners_m[:, 2].max() == pytest.approx(2.5 - 6 * np.tan(np.radians(10)), rel=1e-9)
    landed = sum(p.area_m2 * p.illuminance_lx for p in patches)
    assert landed == pytest.approx(1.5 * 10_000 * np.cos(np.radians(10)), rel=1e-9)


@pytest.mark.parametrize(("bearing", "elevation"), [(110.0, 14.0), (70.0, 25.0), (160.0, 38.0), (110.0, 4.0)])
def test_lumens_through_the_bars_are_lumens_on_the_surfaces(bearing, elevation):
    # DERIVED: panes' own area: (1.2 - 2 x .12) x (1.4 - .12) = 1.2288 m2, times lux square on, times the cosine.
    sun = Sun(bearing_deg=bearing, elevation_deg=elevation, normal_lx=30_000)
    cosine = -float(sun.direction(LOFT.bearing_deg) @ (-1, 0, 0))
    landed = sum(p.area_m2 * p.illuminance_lx for p in sun_patches(LOFT, BARRED, sun))
    assert landed == pytest.approx(1.2288 * 30_000 * cosine, rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize(("bearing", "elevation"), [(112.0, 27.0), (80.0, 12.0), (135.0, 40.0)])
def test_engine_finds_sun_in_the_patches_and_nowhere_else(bearing, elevation):
    # INDEPENDENT: the light engine traces its own shadows through the panes; 300 points of each surface, in and out.
    sun = Sun(bearing_deg=bearing, elevation_deg=elevation, normal_lx=30_000)
    bare_setup = replace(DEMO.setup("1"), lights=(), boards=(), marks=(), spots=(), targets=(), key=(), sun=sun,
                         sky=Sky(zenith_cd_m2=10, horizon_cd_m2=10), haze=replace(DEMO.setup("1").haze, extinction_per_m=0.0))  # fmt: skip
    lit, rng = light(bare_setup, "draft"), np.random.default_rng(5)
    patches, hits = sun_patches(LOFT, BARRED, sun), 0
    for surface, normal in INWARD.items():
        axis = int(np.argmax(np.abs(normal)))
        mine = [p for p in patches if p.surface == surface]
        points = rng.uniform(0, LOFT.size_m, (300, 3))
        points[:150] = (
            np.concatenate([p.corners_m for p in mine]).mean(axis=0) + rng.normal(0, 0.4, (150, 3)) if mine else points[:150]
        )
        points = np.clip(points, 1e-3, np.subtract(LOFT.size_m, 1e-3))
        points[:, axis] = 1e-4 if normal[axis] > 0 else LOFT.size_m[axis] - 1e-4
        lux = lit.illuminance_lx(points, np.tile(normal, (300, 1)))[:, 0]
        edge = np.array([min([np.inf] + [_edge(p.corners_m, q, axis) for p in mine], key=abs) for q in points])
        clear = np.abs(edge) > 0.01  # within a centimetre of an edge either may be right
        assert np.array_equal(lux[clear] > 0, edge[clear] < 0), surface
        inside = clear & (edge < 0)
        hits += inside.sum()
        if mine:
            assert lux[inside] == pytest.approx(mine[0].illuminance_lx, rel=1e-3)
    assert hits > 30


def _edge(corners, point, axis):
    """Distance of a point outside (plus) or inside (minus) a convex outline on a surface, roughly."""
    flat = [i for i in range(3) if i != axis]
    a, b, p = corners[:, flat], np.roll(corners, -1, axis=0)[:, flat], point[flat]
    turn = np.sign(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
    side = turn * ((b - a)[:, 0] * (p - a)[:, 1] - (b - a)[:, 1] * (p - a)[:, 0]) / np.linalg.norm(b - a, axis=1)
    return -float(side.min())


def test_when_the_sun_comes_in_and_goes():
    # DERIVED: the window looks to 110 degrees, so the sun is in it while its bearing is under 200 and it is up: from when
    # it clears the trees (06:20, its bearing 69) till its rays graze the wall.
    ((start, end),) = sun_through(DEMO.where, LOFT, BARRED, DAY)
    assert DAY.text(start) == "06:20"
    last = patch_walk(DEMO.where, LOFT, BARRED, DAY, [end - 1.0, end + 1.0])
    assert [stop.minute for stop in last] == [end - 1.0] and last[0].bearing_deg == pytest.approx(200.0, abs=1.0)
    # DERIVED: turned half round, the same window has the evening.
    west = replace(LOFT, bearing_deg=200.0)
    ((_, evening),) = sun_through(DEMO.where, west, window_of(west, "barred"), DAY)
    assert DAY.text(evening) == "20:42"  # the sun goes behind the horizon line


def test_no_patch_without_sun():
    for sun in (
        Sun(bearing_deg=110.0, elevation_deg=-3.0, normal_lx=1000),
        Sun(bearing_deg=290.0, elevation_deg=20.0, normal_lx=50_000),
        Sun(bearing_deg=110.0, elevation_deg=20.0, normal_lx=0.0),
    ):
        assert sun_patches(LOFT, BARRED, sun) == ()
    curtained = DEMO.setup("7").place
    assert sun_patches(curtained, curtained.windows[0], Sun(bearing_deg=110.0, elevation_deg=20.0, normal_lx=50_000)) == ()
    assert patch_walk(DEMO.where, LOFT, BARRED, DAY, [0, 1200]) == ()


def test_glass_takes_its_share():
    room = bare(glass=0.8)
    assert sun_patches(room, room.windows[0], Sun(bearing_deg=90.0, elevation_deg=45.0, normal_lx=10_000))[
        0
    ].illuminance_lx == pytest.approx(0.8 * 7071.07, rel=1e-5)


def test_no_such_window():
    with pytest.raises(ValueError, match="'loft': window must be one of barred, got 'round'"):
        window_of(LOFT, "round")
    with pytest.raises(ValueError, match="'pans': window must be one of none, got 'round'"):
        window_of(DEMO.setup("3").place, "round")
