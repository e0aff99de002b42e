"""Straight light: against printed airlight, marching a hundred thousand steps, shadows by projection and double integrals."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad

from lightcalc.engine import direct, layout, rows
from lightcalc.kit.candela import Beam, Lambert, Photometry
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.scene import openings
from lightcalc.scene.parts import Board, Exterior, Flag, Frame, Haze, Light, Setup, Sky, Sun, Window

from light_parts import BLACK, CAMERA, beam_cd, henyey_greenstein, lamp, loft, setup, sides, unit

few = settings(max_examples=12, deadline=None, derandomize=True)
WHITE = Stuff(name="white", reflectance=0.85)
HALF = Diffusion(name="half", direct=0.35, diffuse=0.4)
NODES = direct.gauss_nodes(64)


def lux(rig, points, normals, dome=False):
    """Illuminance by source at receptors, (n, sources + 1)."""
    points = np.atleast_2d(np.asarray(points, float))
    normals = np.ascontiguousarray(np.broadcast_to(np.asarray(normals, float), points.shape))
    return direct.straight(rig.row, points, normals, np.full(len(points), dome), np.full(len(points), -1))


def air(rig, origins, ways, reach):
    """Single-scattered light by source along sight lines, (n, sources)."""
    origins, ways = np.atleast_2d(np.asarray(origins, float)), np.atleast_2d(np.asarray(ways, float))
    reach = np.ascontiguousarray(np.broadcast_to(np.asarray(reach, float), len(origins)))
    return direct.airlight(rig.row, direct.ALL, np.ascontiguousarray(origins), np.ascontiguousarray(ways), reach, *NODES)


# --- a bulb in open haze -------------------------------------------------------------------------------------

GROUND = Exterior(name="pans", width_m=40.0, depth_m=40.0)


def open_haze(haze, distance_m, angle_deg):
    """A 1000 cd bulb so far from the camera and so far off its line, level, 1.5 m above the ground."""
    turn = np.radians(angle_deg)
    at = (5.0 + distance_m * np.sin(turn), 5.0 + distance_m * np.cos(turn), 1.5)
    camera = dataclasses.replace(CAMERA, at=(5.0, 5.0, 1.5), aim=(5.0, 9.0, 1.5))
    return direct.prepare(Setup(name="b", title="Bulb", place=GROUND, camera=camera, lights=(lamp("bulb", at, 1000.0),), haze=haze))


def airlight_closed_form(sigma, distance_m, gamma):
    """Sun et al. 2005: A0 (F(A1, pi/2) - F(A1, gamma/2)), even scattering, endless ray."""
    a0 = sigma * 1000 * np.exp(-sigma * distance_m * np.cos(gamma)) / (2 * np.pi * distance_m * np.sin(gamma))
    a1 = sigma * distance_m * np.sin(gamma)
    return a0 * quad(lambda x: np.exp(-a1 * np.tan(x)), gamma / 2, np.pi / 2, epsabs=1e-13)[0]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sigma", "distance_m", "angle_deg", "cd_m2"),
    [(0.02, 5, 30, 1.328654), (0.05, 5, 30, 2.536094), (0.05, 5, 60, 1.009302), (0.1, 5, 90, 0.714608)],
)
def test_airlight_of_a_bulb_in_even_haze(sigma, distance_m, angle_deg, cd_m2):
    # PUBLISHED: Sun, Ramamoorthi, Narasimhan & Nayar 2005, single scattering from a point light (formula FROM
    # MEMORY; INDEPENDENT: it equals the direct integral to 1e-6). Nothing is left of the ray beyond 900 m.
    assert airlight_closed_form(sigma, distance_m, np.radians(angle_deg)) == pytest.approx(cd_m2, rel=1e-6)
    rig = open_haze(Haze(extinction_per_m=sigma, g=0.0), distance_m, angle_deg)
    assert air(rig, (5, 5, 1.5), (0, 1, 0), 900.0)[0, 0] == pytest.approx(cd_m2, rel=1e-4)


def test_airlight_of_the_first_eight_metres():
    # INDEPENDENT: direct quadrature of sigma I p exp(-sigma (t + r)) / r^2 over the stretch.
    rig = open_haze(Haze(extinction_per_m=0.05, g=0.0), 5, 30)
    assert air(rig, (5, 5, 1.5), (0, 1, 0), 8.0)[0, 0] == pytest.approx(2.244753, rel=1e-4)


@pytest.mark.parametrize(("sigma", "angle_deg", "cd_m2"), [(0.05, 30, 1.542822), (0.05, 60, 0.272199), (0.02, 30, 0.743226)])
def test_airlight_scattered_forward(sigma, angle_deg, cd_m2):
    # INDEPENDENT: direct quadrature with Henyey-Greenstein g 0.7, here and, to six figures, elsewhere.
    gamma = np.radians(angle_deg)

    def piece(t):
        x, y = t - 5 * np.cos(gamma), -5 * np.sin(gamma)
        r = np.hypot(x, y)
        return sigma * 1000 * henyey_greenstein(0.7, -x / r) * np.exp(-sigma * (t + r)) / r**2

    assert quad(piece, 0, 400, points=[5], limit=400)[0] == pytest.approx(cd_m2, rel=2e-6)
    rig = open_haze(Haze(extinction_per_m=sigma, g=0.7), 5, angle_deg)
    assert air(rig, (5, 5, 1.5), (0, 1, 0), 900.0)[0, 0] == pytest.approx(cd_m2, rel=1e-4)


def test_no_haze_no_airlight():
    # DERIVED: clear air sends nothing.
    assert air(open_haze(Haze(), 5, 30), (5, 5, 1.5), (0, 1, 0), 8.0)[0, 0] == 0.0


@pytest.mark.parametrize(
    ("g", "scatter_deg", "cd_m2"), [(0.0, 90, 4.7746), (0.7, 90, 1.3389), (0.7, 30, 33.304), (0.7, 150, 1.0962)]
)
def test_a_thin_even_beam_across_the_line(g, scatter_deg, cd_m2):
    # DERIVED: L = sigma p(theta) E w / sin(theta): 10 000 lx in a beam 0.3 m wide, 0.02 per metre, nothing lost on
    # the way. So little haze that nothing is: a millionth, times 20 000. The sun stands 0.001 degree high.
    window = Window(name="slot", wall="near", centre_m=3.1, sill_m=0.5, width_m=0.3, height_m=2.0)
    thin = setup(
        loft(window), sun=Sun(bearing_deg=180.0, elevation_deg=0.001, normal_lx=10_000.0), haze=Haze(extinction_per_m=1e-6, g=g)
    )
    turn = np.radians(scatter_deg)
    way = np.array([np.sin(turn), -np.cos(turn), 0.0])  # the light goes along +y; towards the lens is -way
    start = np.array([3.1, 2.3, 1.5]) - 1.5 * way
    assert air(direct.prepare(thin), start, way, 3.0)[0, 0] * 2e4 == pytest.approx(cd_m2, rel=1e-4)


# --- a shaft through a barred window -------------------------------------------------------------------------

BARRED = Window(
    name="door",
    wall="right",
    centre_m=2.6,
    sill_m=0.9,
    width_m=1.1,
    height_m=1.4,
    bars_upright=2,
    bars_across=1,
    bar_m=0.05,
    glass=0.8,
)
CUTTER = Flag(name="cutter", at=(5.2, 2.5, 1.9), aim=(5.7, 2.6, 2.1), width_m=0.3, height_m=0.5)
FINGER = Flag(name="finger", at=(7.0, 2.5, 2.1), aim=(7.4, 2.4, 2.4), width_m=0.1, height_m=0.9)  # outside, before the glass
SILK = Frame(name="silk", at=(4.6, 2.9, 1.2), aim=(5.2, 2.8, 1.4), width_m=0.7, height_m=0.6, diffusion=HALF)
LAMP_AT = (9.4, 2.9, 3.3)
WIDE = Light(name="key", at=LAMP_AT, aim=(5.6, 2.55, 1.3), distribution=Beam(peak_cd=60_000, beam_deg=24, field_deg=40))
NARROW = Light(name="key", at=LAMP_AT, aim=(5.6, 2.55, 1.3), distribution=Beam(peak_cd=60_000, beam_deg=9, field_deg=15))
SUN = Sun(bearing_deg=84.0, elevation_deg=31.0, normal_lx=50_000.0)
TO_SUN = np.array(
    [np.sin(np.radians(84)) * np.cos(np.radians(31)), np.cos(np.radians(84)) * np.cos(np.radians(31)), np.sin(np.radians(31))]
)


def on_a_bar(along, side, bars, width):
    """Bars of a width, evenly spaced in an opening."""
    clear = (side - bars * width) / (bars + 1)
    held = np.zeros(len(along), bool)
    for k in range(1, bars + 1):
        held |= (along > k * clear + (k - 1) * width) & (along < k * (clear + width))
    return held


def passing(points, towards, scene, sun):
    """Share of the light that gets to each point past bars, glass, flags and frames, and its way inside the room [m]."""
    window, wall_x = scene.place.windows[0], scene.place.width_m
    s = (wall_x - points[:, 0]) / towards[:, 0]
    u = points[:, 1] + s * towards[:, 1] - (window.centre_m - window.width_m / 2)
    v = points[:, 2] + s * towards[:, 2] - window.sill_m
    share = window.glass * ((u > 0) & (u < window.width_m) & (v > 0) & (v < window.height_m))
    share = share * ~on_a_bar(u, window.width_m, window.bars_upright, window.bar_m)
    share = share * ~on_a_bar(v, window.height_m, window.bars_across, window.bar_m)
    for facet in scene.flags + scene.frames:
        across, up, normal = sides(facet)
        t = (np.subtract(facet.at, points) @ normal) / (towards @ normal)
        away = points + t[:, None] * towards - facet.at
        hit = (
            (t > 0)
            & (t < (np.inf if sun else 1))
            & (abs(away @ across) < facet.width_m / 2)
            & (abs(away @ up) < facet.height_m / 2)
        )
        share = share * np.where(hit, getattr(getattr(facet, "diffusion", None), "direct", 0.0), 1.0)
    return share, s * np.linalg.norm(towards, axis=1)


def normal_lx(points, scene):
    """Illuminance square to the light at points in the room, and the unit ways to it."""
    sigma = scene.haze.extinction_per_m
    if scene.sun:
        towards = np.broadcast_to(TO_SUN, points.shape)
        share, inside_m = passing(points, towards, scene, True)
        return share * scene.sun.normal_lx * np.exp(-sigma * inside_m), towards
    light = scene.lights[0]
    towards = np.asarray(light.at) - points
    r = np.linalg.norm(towards, axis=1)
    share, inside_m = passing(points, towards, scene, False)
    cd = beam_cd(light.distribution, -(towards @ unit(np.subtract(light.aim, light.at))) / r)
    return share * cd / r**2 * np.exp(-sigma * inside_m), towards / r[:, None]


def march(scene, start, way, reach, steps=100_000):
    """Airlight by its definition, in steps from the lens on: is the point lit, and what does it send this way?"""
    t = (np.arange(steps) + 0.5) * reach / steps
    points = start + t[:, None] * way
    got_lx, towards = normal_lx(points, scene)
    lit = got_lx > 0
    phase = henyey_greenstein(scene.haze.g, towards[lit] @ way)  # light goes along -towards and leaves along -way
    sigma = scene.haze.extinction_per_m
    return np.sum(sigma * phase * got_lx[lit] * np.exp(-sigma * t[lit])) * reach / steps


def lines_across(count, seed, middle):
    """Sight lines from anywhere in the room through where the shaft is, to the wall."""
    rng = np.random.default_rng(seed)
    size = np.array(loft().size_m)
    starts = rng.uniform(0.05, 0.95, (count, 3)) * size
    ways = middle + rng.normal(size=(count, 3)) * (0.7, 0.4, 0.35) - starts
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    reach = np.where(ways > 0, (size - starts) / ways, -starts / ways).min(axis=1)
    return starts, ways, reach


SHAFTS = {
    "wide": dict(lights=(WIDE,)),
    "wide, cut by flags, through a frame": dict(lights=(WIDE,), flags=(CUTTER, FINGER), frames=(SILK,)),
    "narrow, cut by flags, through a frame": dict(lights=(NARROW,), flags=(CUTTER, FINGER), frames=(SILK,)),
    "sun, cut by flags, through a frame": dict(sun=SUN, flags=(CUTTER, FINGER), frames=(SILK,)),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", SHAFTS)
def test_shafts_against_marching(name):
    # INDEPENDENT: 100 000 steps along each of 200 lines, lit or not by whether the segment to the lamp crosses the
    # opening and misses bars and flags; haze inside only. It assumes single scattering, as that light is.
    # Tolerance: of the brightest line, for at each edge the march is off by up to a step, 6e-5 m, of whatever the
    # shaft holds, however little of the shaft the line meets.
    scene = setup(loft(BARRED), haze=Haze(extinction_per_m=0.06, g=0.7), **SHAFTS[name])
    starts, ways, reach = lines_across(200, 5, (4.9, 2.55, 1.4))
    got = air(direct.prepare(scene), starts, ways, reach)[:, scene.source_names.index("sun" if scene.sun else "key")]
    wanted = np.array([march(scene, *line) for line in zip(starts, ways, reach)])
    assert np.count_nonzero(wanted) > 120
    assert got == pytest.approx(wanted, abs=1e-4 * wanted.max(), rel=0)
    assert np.sum(got) == pytest.approx(np.sum(wanted), rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("name", SHAFTS)
def test_the_patch_a_window_throws(name):
    # INDEPENDENT: each of 6000 points of floor and walls is lit or dark as its segment to the lamp says; where lit,
    # I cos / d^2 past glass and haze. The candela table is linear between 2048 steps, which on a narrow beam's steep
    # flank is 8e-4 of what little is there, a thousandth of a stop; elsewhere 2e-5.
    scene = setup(loft(BARRED), haze=Haze(extinction_per_m=0.06), **SHAFTS[name])
    rng = np.random.default_rng(3)
    w, d, h = scene.place.size_m
    share = rng.uniform(0, 1, (3, 2, 2000))
    points = np.concatenate([
        np.column_stack([w * share[0, 0], d * share[0, 1], np.zeros(2000)]),
        np.column_stack([np.zeros(2000), d * share[1, 0], h * share[1, 1]]),
        np.column_stack([w * share[2, 0], np.full(2000, d), h * share[2, 1]]),
    ])  # fmt: skip
    inward = np.repeat([(0, 0, 1.0), (1.0, 0, 0), (0, -1.0, 0)], 2000, axis=0)
    want, towards = normal_lx(points, scene)
    source = scene.source_names.index("sun" if scene.sun else "key")
    rig = direct.prepare(scene)
    cosine = np.sum(towards * inward, axis=1)
    assert np.count_nonzero(want * np.maximum(cosine, 0) > 1) > 100
    for got, wanted in (
        (lux(rig, points, inward)[:, source], want * np.maximum(cosine, 0)),
        (lux(rig, points, inward, dome=True)[:, source], want * (1 + cosine) / 2),
    ):
        bright = wanted > 1e-4 * wanted.max()
        assert np.array_equal(got > 1e-4 * wanted.max(), bright)
        assert got[bright] == pytest.approx(wanted[bright], rel=1e-3 if name.startswith("narrow") else 2e-5)


# --- faces with a size ---------------------------------------------------------------------------------------

PANEL = Light(
    name="panel", at=(2.0, 4.0, 2.0), aim=(2.4, 2.0, 1.5), distribution=Lambert(peak_cd=1500.0), face_width_m=1.2, face_height_m=0.8
)
MARK, FACING = np.array([2.5, 2.2, 1.4]), unit((-0.4, 1.0, 0.3))


def from_face(facet, width, height, luminance, mark, facing, weight=lambda c: max(c, 0.0), u=(-0.5, 0.5)):
    """Illuminance from an even rectangle by double integral; `u` limits it across; luminance may depend on the place."""
    across, up, normal = sides(facet)

    def piece(v, s):
        place = np.asarray(facet.at) + s * width * across + v * height * up
        away = place - mark
        r2 = away @ away
        leaving = max(-(away @ normal), 0.0) / np.sqrt(r2)
        there = luminance(place) if callable(luminance) else luminance
        return there * leaving * weight(away @ facing / np.sqrt(r2)) / r2

    return width * height * dblquad(piece, *u, -0.5, 0.5, epsrel=1e-7, epsabs=1e-9)[0]


@pytest.mark.parametrize("mark", [MARK, (2.1, 3.6, 1.9), (4.8, 1.0, 0.4)])
def test_area_lamp_against_a_double_integral(mark):
    # INDEPENDENT: dblquad of L cos cos / r^2 over the face, L = I0 / area; near (0.4 m), middle and far.
    rig = direct.prepare(setup(lights=(PANEL,)))
    facing = unit(np.subtract(PANEL.at, mark) + (0.2, 0.1, 0.3))
    wanted = from_face(PANEL, 1.2, 0.8, 1500 / 0.96, np.asarray(mark), facing)
    assert lux(rig, mark, facing)[0, 0] == pytest.approx(wanted, rel=1e-4)
    dome = from_face(PANEL, 1.2, 0.8, 1500 / 0.96, np.asarray(mark), facing, weight=lambda c: 0.5 * (1 + c))
    assert lux(rig, mark, facing, dome=True)[0, 0] == pytest.approx(dome, rel=1e-4)
    assert lux(rig, np.asarray(PANEL.at) + (-0.2, 1.0, 0.25), -unit((-0.2, 1.0, 0.25)))[0, 0] == 0.0  # from behind


def test_a_face_turned_a_quarter_round_with_its_sides_exchanged_is_the_same():
    # DERIVED: the same rectangle, its corners counted from another one; tilted, and with a beam, so that its middle matters.
    look = dict(name="panel", at=(2.0, 3.9, 2.4), aim=(3.4, 1.4, 0.6), distribution=Beam(peak_cd=9000.0, beam_deg=30, field_deg=50))
    one = Light(face_width_m=1.2, face_height_m=0.7, roll_deg=20.0, **look)
    other = Light(face_width_m=0.7, face_height_m=1.2, roll_deg=110.0, **look)
    rigs = [direct.prepare(setup(lights=(light,))) for light in (one, other)]
    mark, facing = (3.9, 1.6, 1.0), unit((-0.5, 0.6, 0.4))
    assert lux(rigs[0], mark, facing)[0, 0] == pytest.approx(lux(rigs[1], mark, facing)[0, 0], rel=1e-9)
    assert lux(rigs[0], mark, facing)[0, 0] > 50.0


def test_a_flag_half_over_the_face():
    # INDEPENDENT: from the mark, a flag parallel to the face and s of the way to it hides the face beyond an edge
    # that similar triangles put at (edge across) / s; the double integral runs over the rest.
    across, up, normal = sides(PANEL)
    mark = np.asarray(PANEL.at) + 2.0 * normal + 0.13 * across - 0.08 * up
    s, edge_on_face = 0.4, 0.1  # the flag covers all of the face beyond 0.1 m right of its middle
    edge = mark + s * (np.asarray(PANEL.at) + edge_on_face * across - mark)
    middle = edge + 1.0 * across
    flag = Flag(name="half", at=tuple(middle), aim=tuple(middle + normal), width_m=2.0, height_m=2.4)
    rig = direct.prepare(setup(lights=(PANEL,), flags=(flag,)))
    facing = unit(-normal + (0.1, 0.2, 0.3))
    wanted = from_face(PANEL, 1.2, 0.8, 1500 / 0.96, mark, facing, u=(-0.5, edge_on_face / 1.2))
    assert 0.3 < wanted / from_face(PANEL, 1.2, 0.8, 1500 / 0.96, mark, facing) < 0.7
    assert lux(rig, mark, facing)[0, 0] == pytest.approx(wanted, rel=1e-4)


def test_what_two_stops_hide_is_hidden_once():
    # INDEPENDENT: double integral over what is left of the face, edges by similar triangles. Flags one behind the other,
    # the smaller shadow within the larger; a flag within cloth leaves the direct share of the rest; three alike are one.
    across, up, normal = sides(PANEL)
    mark = np.asarray(PANEL.at) + 2.0 * normal

    def cover(kind, name, s, edge_on_face, *cloth):
        """A facet s of the way from mark to face that hides the face beyond an edge."""
        middle = mark + s * (np.asarray(PANEL.at) + edge_on_face * across - mark) + 1.0 * across
        own = {"diffusion": cloth[0]} if cloth else {}
        return kind(name=name, at=tuple(middle), aim=tuple(middle + normal), width_m=2.0, height_m=2.4, **own)

    def left(**parts):
        return lux(direct.prepare(setup(lights=(PANEL,), **parts)), mark, -normal)[0, 0]

    def clear(edge_on_face):
        return from_face(PANEL, 1.2, 0.8, 1500 / 0.96, mark, -normal, u=(-0.5, edge_on_face / 1.2))

    small, large = cover(Flag, "small", 0.4, 0.1), cover(Flag, "large", 0.5, -0.2)
    assert left(flags=(small, large)) == pytest.approx(clear(-0.2), rel=1e-4)
    assert left(flags=(large, small)) == pytest.approx(clear(-0.2), rel=1e-4)
    third = cover(Flag, "third", 0.3, -0.2)
    assert left(flags=(large, small, third)) == pytest.approx(clear(-0.2), rel=1e-4)
    whole = cover(Frame, "whole", 0.3, -0.65, HALF)
    assert left(flags=(small,), frames=(whole,)) == pytest.approx(0.35 * clear(0.1), rel=1e-4)
    second = cover(Frame, "second", 0.35, -0.65, HALF)
    assert left(frames=(whole, second)) == pytest.approx(0.35**2 * clear(0.6), rel=1e-4)


def test_a_skew_flag_before_the_face():
    # INDEPENDENT: the face as 1000 x 1000 points, each seen or hidden. Points along the shadow's edge miss by up to
    # half a step, so 5e-4.
    flag = Flag(name="skew", at=(2.45, 3.0, 1.75), aim=(2.9, 2.4, 2.3), width_m=0.5, height_m=0.35)
    rig = direct.prepare(setup(lights=(PANEL,), flags=(flag,)))
    across, up, normal = sides(PANEL)
    s = (np.arange(1000) + 0.5) / 1000 - 0.5
    places = PANEL.at + (1.2 * s[:, None, None] * across + 0.8 * s[None, :, None] * up).reshape(-1, 3)
    away = places - MARK
    r = np.linalg.norm(away, axis=1)
    fa, fu, fn = sides(flag)
    t = (np.subtract(flag.at, MARK) @ fn) / (away @ fn)
    there = MARK + t[:, None] * away - flag.at
    clear = ~((t > 0) & (t < 1) & (abs(there @ fa) < 0.25) & (abs(there @ fu) < 0.175))
    assert 0.3 < clear.mean() < 0.9
    wanted = 1500 * np.mean(clear * np.maximum(-(away @ normal), 0) * np.maximum(away @ FACING, 0) / r**4)
    assert lux(rig, MARK, FACING)[0, 0] == pytest.approx(wanted, rel=5e-4)


def test_an_area_lamp_through_a_window():
    # INDEPENDENT: the face as 1000 x 1000 points; each counts when its segment to the mark crosses the glass and
    # misses the bars. Points along the edges miss by up to half a step: 1e-3. No haze.
    light = Light(
        name="panel",
        at=(8.0, 2.8, 2.4),
        aim=(5.0, 2.5, 1.4),
        distribution=Lambert(peak_cd=9000.0),
        face_width_m=1.6,
        face_height_m=1.2,
    )
    scene = setup(loft(BARRED), lights=(light,))
    mark, facing = np.array([4.4, 2.4, 1.1]), unit((1.0, 0.1, 0.4))
    across, up, normal = sides(light)
    s = (np.arange(1000) + 0.5) / 1000 - 0.5
    places = light.at + (1.6 * s[:, None, None] * across + 1.2 * s[None, :, None] * up).reshape(-1, 3)
    away = places - mark
    share, _ = passing(np.broadcast_to(mark, places.shape), away, scene, False)
    r = np.linalg.norm(away, axis=1)
    wanted = 9000 * np.mean(share * np.maximum(-(away @ normal), 0) * np.maximum(away @ facing, 0) / r**4)
    assert 0.1 < np.mean(share) < 0.7
    assert lux(direct.prepare(scene), mark, facing)[0, 0] == pytest.approx(wanted, rel=1e-3)


def test_a_frame_before_the_face():
    # DERIVED: cloth over the whole face leaves its direct share of the light, over half of it half as much less.
    across, up, normal = sides(PANEL)
    mark = np.asarray(PANEL.at) + 2.0 * normal
    middle = np.asarray(PANEL.at) + 0.5 * normal
    bare = lux(direct.prepare(setup(lights=(PANEL,))), mark, -normal)[0, 0]
    for sideways, share in ((0.0, 0.35), (1.0, 0.675)):
        silk = Frame(
            name="silk",
            at=tuple(middle + sideways * across),
            aim=tuple(middle + sideways * across + normal),
            width_m=2.0,
            height_m=2.0,
            diffusion=HALF,
        )
        got = lux(direct.prepare(setup(lights=(PANEL,), frames=(silk,))), mark, -normal)[0, 0]
        assert got == pytest.approx(share * bare, rel=1e-9)


def test_a_lamp_that_is_not_the_same_all_round():
    # DERIVED: I cos / d^2 with the table's candela at the angle from the axis and at the angle about it, from the lamp's
    # right anticlockwise as seen from behind; rolled, the table turns clockwise with the lamp. Planes 5 degrees
    # apart joined by straight lines: rel 1e-3.
    down, round_ = (0.0, 30.0, 60.0, 90.0), tuple(range(0, 361, 15))
    table = tuple(
        tuple(1000 * np.cos(np.radians(v)) * (1 + 0.6 * np.sin(np.radians(h)) + 0.2 * np.cos(np.radians(h))) for v in down)
        for h in round_
    )
    odd = Photometry(vertical_deg=down, horizontal_deg=round_, candela=table)
    at = np.array([3.0, 2.4, 2.2])
    for roll_deg in (0.0, 40.0):
        light = Light(
            name="odd", at=tuple(at), aim=(3.0, 4.4, 2.2), distribution=odd, roll_deg=roll_deg
        )  # facing +y: right is +x, up is +z
        rig = direct.prepare(setup(lights=(light,)))
        for turn_deg, off_deg in ((20.0, 25.0), (110.0, 40.0), (200.0, 10.0), (305.0, 55.0)):
            turn, off = np.radians(turn_deg), np.radians(off_deg)
            way = np.array([np.sin(off) * np.cos(turn), np.cos(off), np.sin(off) * np.sin(turn)])
            wanted = odd.intensity_cd(off, np.radians(turn_deg + roll_deg)) / 1.7**2
            assert lux(rig, at + 1.7 * way, -way)[0, 0] == pytest.approx(wanted, rel=1e-3)


# --- boards and frames ---------------------------------------------------------------------------------------

BOARD = Board(name="board", at=(1.0, 3.0, 1.3), aim=(2.2, 1.9, 1.2), width_m=1.2, height_m=1.0, stuff=WHITE)


def shining(rig, occluder, luminance, side=0):
    """The rig with one board evenly bright on one side."""
    cells = rig.cells.copy()
    facet = rig.facets[rig.occluders[occluder]["facet"][side]]
    cells["luminance"][facet["first"] : facet["first"] + facet["cells"]] = luminance
    return rig.replace(cells=cells)


@pytest.mark.parametrize("mark", [(1.5, 2.4, 1.1), (5.9, 0.4, 0.6)])  # within its cells' reach, and beyond it
def test_an_even_board_against_a_double_integral(mark):
    # INDEPENDENT: dblquad over the board; bare, and half hidden by a flag set by similar triangles.
    across, up, normal = sides(BOARD)
    mark, facing = np.asarray(mark), unit(np.subtract(BOARD.at, mark) + (0.1, 0.3, 0.2))
    wanted = from_face(BOARD, 1.2, 1.0, 300.0, mark, facing)
    assert lux(shining(layout.lay_out(setup(boards=(BOARD,))), 0, 300.0), mark, facing)[0, 0] == pytest.approx(wanted, rel=1e-4)
    edge = mark + 0.5 * (np.asarray(BOARD.at) + 0.15 * across - mark)
    flag = Flag(name="half", at=tuple(edge + 1.5 * across), aim=tuple(edge + 1.5 * across + normal), width_m=3.0, height_m=3.0)
    rig = shining(layout.lay_out(setup(boards=(BOARD,), flags=(flag,))), 0, 300.0)
    wanted = from_face(BOARD, 1.2, 1.0, 300.0, mark, facing, u=(-0.5, 0.15 / 1.2))
    assert lux(rig, mark, facing)[0, 0] == pytest.approx(wanted, rel=1e-4)


def lit_by_bulb(facet, cd, lamp_at, share, side=1.0):
    """Luminance of each place of a facet: share / pi times I cos / d^2 on the side that faces the lamp."""
    _, _, normal = sides(facet)

    def luminance(place):
        to = np.asarray(lamp_at) - place
        return share / np.pi * cd * max(side * (to @ normal), 0.0) / np.linalg.norm(to) ** 3

    return luminance


def test_a_board_lit_by_a_lamp(monkeypatch):
    # INDEPENDENT: own double integral over the board of (rho / pi) E L-cosines. Its cells hold it to 1 %, though the
    # lamp is near and the hot spot small; finer cells hold it better.
    at, mark = (1.9, 2.9, 1.6), np.array([2.0, 1.6, 1.2])
    facing = unit(np.subtract(BOARD.at, mark) + (0.0, 0.2, 0.1))
    scene = setup(boards=(BOARD,), lights=(lamp("lamp", at, 700.0),))
    wanted = from_face(BOARD, 1.2, 1.0, lit_by_bulb(BOARD, 700.0, at, 0.85), mark, facing)
    source = scene.source_names.index("board")
    assert lux(direct.prepare(scene), mark, facing)[0, source] == pytest.approx(wanted, rel=0.01)
    split, errors = layout.split, []
    for n in (2, 4, 8):
        monkeypatch.setattr(layout, "split", lambda quad, *_, n=n: split(quad, n, n))
        errors.append(abs(lux(direct.prepare(scene), mark, facing)[0, source] / wanted - 1))
    assert errors[2] < errors[1] < errors[0]
    assert errors[2] < 0.1 * errors[0]


@pytest.mark.parametrize("across_m", [-0.31, -0.2, -0.07, 0.04, 0.15])
def test_a_torch_off_a_board(across_m):
    # INDEPENDENT: I cos / d^2 summed over 600 x 600 points of the board. The torch's spot, 0.13 m to half, is smaller
    # than the board's cells of 0.3 m; wherever it falls its flux may not be missed or doubled. Two per cent of the
    # flux; the mark's own light is within 0.15 stop, for a cell is even.
    across, up, normal = sides(BOARD)
    spot = np.asarray(BOARD.at) + across_m * across + 0.11 * up
    at = spot + 0.9 * normal + 0.12 * across
    torch = Light(name="torch", at=tuple(at), aim=tuple(spot), distribution=Beam(peak_cd=8000, beam_deg=8, field_deg=14))
    s = (np.arange(600) + 0.5) / 600 - 0.5
    places = BOARD.at + (1.2 * s[:, None, None] * across + 1.0 * s[None, :, None] * up).reshape(-1, 3)
    to = at - places
    r = np.linalg.norm(to, axis=1)
    landing = beam_cd(torch.distribution, to @ unit(at - spot) / r) * (to @ normal) / r**3
    rig = direct.prepare(setup(boards=(BOARD,), lights=(torch,)))
    front = rig.facets[rig.occluders[0]["facet"][0]]
    cells = rig.cells[front["first"] : front["first"] + front["cells"]]
    assert np.pi / 0.85 * cells["luminance"].mean() == pytest.approx(landing.mean(), rel=0.02)
    mark = np.asarray(BOARD.at) + 1.5 * normal + 0.3 * across
    away = mark - places
    wanted = 0.85 / np.pi * 1.2 * np.mean(landing * (away @ normal) ** 2 / np.linalg.norm(away, axis=1) ** 4)
    assert abs(np.log2(lux(rig, mark, -normal)[0, 1] / wanted)) < 0.15


def test_the_back_of_a_board_has_its_own_reflectance():
    # DERIVED: lit from behind, only the back sends light, and only backwards; black stuff sends none.
    at, behind, before = (0.2, 4.4, 1.7), np.array([0.4, 4.1, 1.2]), np.array([1.6, 2.4, 1.2])
    two_faced = dataclasses.replace(BOARD, stuff=Stuff(name="duck", reflectance=0.8, back=0.2))
    rig = direct.prepare(setup(boards=(two_faced,), lights=(lamp("lamp", at, 700.0),)))
    facing = unit(np.subtract(BOARD.at, behind))
    turned = dataclasses.replace(BOARD, aim=tuple(2 * np.subtract(BOARD.at, BOARD.aim) + BOARD.aim))
    wanted = from_face(turned, 1.2, 1.0, lit_by_bulb(turned, 700.0, at, 0.2), behind, facing)
    assert lux(rig, behind, facing)[0, 1] == pytest.approx(wanted, rel=0.01)
    assert lux(rig, before, unit(np.subtract(BOARD.at, before)))[0].tolist() == [0.0, 0.0, 0.0]


def test_a_frame_passes_part_and_spreads_part():
    # DERIVED: the direct share of I / d^2; INDEPENDENT: double integral of diffuse / pi times the far side's lux.
    frame = Frame(name="frame", at=(2.0, 3.0, 1.5), aim=(2.6, 1.8, 1.3), width_m=1.2, height_m=1.2, diffusion=HALF)
    at, mark = (1.7, 3.9, 1.7), np.array([2.3, 1.9, 1.3])
    facing = unit(np.subtract(at, mark))
    rig = direct.prepare(setup(frames=(frame,), lights=(lamp("lamp", at, 700.0),)))
    got = lux(rig, mark, facing)[0]
    r2 = np.sum(np.square(np.subtract(at, mark)))
    assert got[0] == pytest.approx(0.35 * 700 / r2, rel=1e-6)
    wanted = from_face(frame, 1.2, 1.2, lit_by_bulb(frame, 700.0, at, 0.4, side=-1.0), mark, facing)
    assert got[1] == pytest.approx(wanted, rel=0.01)
    lamp_side = np.array([1.5, 4.3, 1.6])
    assert lux(rig, lamp_side, unit(np.subtract(frame.at, lamp_side)))[0, 1] == 0.0


def test_a_book_light():
    # INDEPENDENT: lamp, board, frame, mark: three sums over 40 x 40 points each of the chain of inverse squares, the lamp
    # itself hidden from frame and mark by a flag. The board is near the frame: 2 %.
    board = Board(name="board", at=(1.0, 3.0, 1.5), aim=(2.0, 3.0, 1.5), width_m=1.2, height_m=1.2, stuff=WHITE)
    silk = Frame(name="silk", at=(1.9, 3.0, 1.5), aim=(3.0, 3.0, 1.5), width_m=1.2, height_m=1.2, diffusion=HALF)
    at, mark = np.array([1.6, 4.1, 1.5]), np.array([3.3, 2.7, 1.4])
    shade = Flag(
        name="shade", at=(1.75, 3.95, 1.5), aim=(2.5, 3.2, 1.5), width_m=0.9, height_m=1.4
    )  # between the lamp and the frame
    scene = setup(boards=(board,), frames=(silk,), lights=(lamp("lamp", tuple(at), 700.0),), flags=(shade,))
    s = (np.arange(40) + 0.5) / 40 * 1.2 - 0.6

    def grid(facet):
        across, up, _ = sides(facet)
        return (facet.at + s[:, None, None] * across + s[None, :, None] * up).reshape(-1, 3)

    on_board, on_silk, area = grid(board), grid(silk), 1.44 / 1600
    to = at - on_board
    board_cd_m2 = 0.85 / np.pi * 700 * to[:, 0] / np.linalg.norm(to, axis=1) ** 3
    gap = on_silk[:, None] - on_board[None]
    r2 = np.sum(gap**2, axis=2)
    silk_lx = (board_cd_m2 * gap[..., 0] ** 2 / r2**2).sum(axis=1) * area
    away = mark - on_silk
    wanted = (0.4 / np.pi * silk_lx * away[:, 0] ** 2 / np.sum(away**2, axis=1) ** 2).sum() * area
    got = lux(direct.prepare(scene), mark, (-1.0, 0, 0))[0]
    assert got[0] == 0.0  # the lamp
    assert got[scene.source_names.index("silk")] == pytest.approx(wanted, rel=0.02)


def test_reciprocity_of_two_small_patches():
    # DERIVED: the light one patch gives the other, per lux and area, is the same both ways: E_b / A_a = E_a / A_b.
    a = Board(name="a", at=(1.0, 3.0, 1.3), aim=(2.2, 1.9, 1.2), width_m=0.05, height_m=0.07, stuff=WHITE)
    b = Board(name="b", at=(2.4, 2.1, 0.9), aim=(1.4, 3.4, 1.8), width_m=0.06, height_m=0.04, stuff=WHITE)
    rig = layout.lay_out(setup(boards=(a, b)))
    at_b = lux(shining(rig, 0, 300.0), np.asarray(b.at) + 1e-5 * sides(b)[2], sides(b)[2])[0, 0]
    at_a = lux(shining(rig, 1, 300.0), np.asarray(a.at) + 1e-5 * sides(a)[2], sides(a)[2])[0, 1]
    assert at_b / (0.05 * 0.07) == pytest.approx(at_a / (0.06 * 0.04), rel=2e-3)  # sides 0.04 of the gap: 0.04^2
    assert at_b > 0.1


# --- silver boards -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("lobe_deg", "rel"), [(0.1, 1e-6), (6.0, 0.01)])
def test_a_silver_board_shows_the_lamp_behind_itself(lobe_deg, rel):
    # DERIVED: rho I cos / (d1 + d2)^2 from the lamp's mirror image, where the board's outline lets it be seen; a
    # lobe spreads it without changing the middle by much (its disc's edge is 3 degrees off: cos and d by 0.3 %).
    silver = Board(
        name="silver",
        at=(1.0, 3.0, 1.3),
        aim=(2.2, 1.9, 1.2),
        width_m=1.2,
        height_m=1.0,
        stuff=Stuff(name="s", reflectance=0.9, gloss=1.0, lobe_deg=lobe_deg),
    )
    across, up, normal = sides(silver)
    at = np.asarray(silver.at) + 1.2 * normal + 0.5 * across + 0.2 * up
    mark = np.asarray(silver.at) + 1.6 * normal - 0.6 * across - 0.3 * up
    image = np.asarray(silver.at) - 1.2 * normal + 0.5 * across + 0.2 * up
    facing = unit(np.asarray(silver.at) - mark)
    light = lamp("lamp", tuple(at), 700.0)
    shade = Flag(
        name="shade", at=tuple(at + 0.05 * (mark - at)), aim=tuple(mark), width_m=0.1, height_m=0.1
    )  # the lamp itself is hidden from the mark
    rig = direct.prepare(setup(boards=(silver,), lights=(light,), flags=(shade,)))
    away = image - mark
    wanted = 0.9 * 700 * (unit(away) @ facing) / (away @ away)
    got = lux(rig, mark, facing)[0]
    assert got[0] == pytest.approx(wanted, rel=rel)
    assert got[1] == 0.0
    beyond = mark - 2.0 * across  # from here the image lies outside the outline
    assert lux(rig, beyond, unit(np.asarray(silver.at) - beyond))[0, 0] < 1e-9


@pytest.mark.parametrize("shift", [0.0, 0.11, 0.13, 0.3])
def test_a_flag_on_the_way_to_a_silver_board_cuts_its_image(shift):
    # DERIVED: by the mirror's law light from the lamp reaches the mark by one point of the board. A flag 0.24 m wide on the
    # way there cuts it where that way meets it, and nowhere else; the sight line through the reflected beam shows the same.
    silver = Board(
        name="silver",
        at=(1.0, 3.0, 1.3),
        aim=(2.2, 1.9, 1.2),
        width_m=1.2,
        height_m=1.0,
        stuff=Stuff(name="s", reflectance=0.9, gloss=1.0, lobe_deg=0.1),
    )
    across, _, normal = sides(silver)
    at = np.asarray(silver.at) + 1.2 * normal + 0.5 * across
    mark = np.asarray(silver.at) + 1.6 * normal - 0.6 * across
    hit = np.asarray(silver.at) + (0.5 - 1.1 * 1.2 / 2.8) * across  # heights 1.2 and 1.6 off the board share the way
    middle = 0.5 * (at + hit) + shift * across
    cut = Flag(name="cut", at=tuple(middle), aim=tuple(middle + normal), width_m=0.24, height_m=0.5)
    given = dict(lights=(lamp("lamp", tuple(at), 700.0),), haze=Haze(extinction_per_m=0.05, g=0.5))
    alone, bare = direct.prepare(setup(**given)), direct.prepare(setup(boards=(silver,), **given))
    flagged = direct.prepare(setup(boards=(silver,), flags=(cut,), **given))
    facing = unit(hit - mark)
    straight, shines, left = (lux(rig, mark, facing)[0, 0] for rig in (alone, bare, flagged))
    assert shines > straight + 20.0
    assert left == pytest.approx(straight if shift < 0.12 else shines, rel=1e-9)
    line = mark + 0.5 * (hit - mark) - (0, 0, 0.01)  # 2 cm up through the reflected ray
    straight, shines, left = (air(rig, [line], [(0.0, 0.0, 1.0)], [0.02])[0, 0] for rig in (alone, bare, flagged))
    assert shines > 1.1 * straight
    assert left == pytest.approx(straight if shift < 0.12 else shines, rel=1e-6)


# --- sheers, sky ---------------------------------------------------------------------------------------------


def gauss_over_walls(room, n=48):
    """Points, inward normals and areas of floor, ceiling and all walls but the right one, for integrals over them."""
    x, w = np.polynomial.legendre.leggauss(n)
    x, w = 0.5 * (x + 1), 0.5 * w
    u, v, area = np.repeat(x, n), np.tile(x, n), np.outer(w, w).ravel()
    width, depth, height = room.size_m
    zero = np.zeros(n * n)
    walls = [
        (np.column_stack([zero, u * depth, v * height]), (1.0, 0, 0), depth * height),
        (np.column_stack([u * width, zero, v * height]), (0, 1.0, 0), width * height),
        (np.column_stack([u * width, zero + depth, v * height]), (0, -1.0, 0), width * height),
        (np.column_stack([u * width, v * depth, zero]), (0, 0, 1.0), width * depth),
        (np.column_stack([u * width, v * depth, zero + height]), (0, 0, -1.0), width * depth),
    ]
    return [np.concatenate(part) for part in zip(*[(p, np.tile(k, (n * n, 1)), a * area) for p, k, a in walls])]


def test_a_sheer_takes_from_the_beam_and_gives_the_room_the_rest():
    # DERIVED: the direct share is what is left of the beam at every point; the rest lands on the walls, and adds up
    # to the diffuse share of what comes in. INDEPENDENT: that is I cos / d^2 by double integral over the opening.
    # The opening is held as four patches of 4 x 4 points, each wall as 48 x 48 points: 1 %.
    sheer = Diffusion(name="voile", direct=0.02, diffuse=0.5)
    bare = Window(name="door", wall="right", centre_m=2.6, sill_m=0.9, width_m=1.1, height_m=1.4, glass=0.8)
    clear = setup(loft(bare), lights=(WIDE,))
    hung = setup(loft(dataclasses.replace(bare, sheer=sheer)), lights=(WIDE,))
    points, inward, area = gauss_over_walls(clear.place)
    plain, soft = lux(direct.prepare(clear), points, inward)[:, 0], lux(direct.prepare(hung), points, inward)[:, 0]
    diffuse_lx = soft - 0.02 * plain
    assert diffuse_lx.min() >= 0.0
    axis = unit(np.subtract(WIDE.aim, WIDE.at))

    def landing(z, y):
        to = np.array([6.3, y, z]) - LAMP_AT
        return beam_cd(WIDE.distribution, to @ axis / np.linalg.norm(to)) * -to[0] / np.linalg.norm(to) ** 3

    lumens = 0.8 * dblquad(landing, 2.05, 3.15, 0.9, 2.3, epsrel=1e-6)[0]
    assert area @ diffuse_lx == pytest.approx(0.5 * lumens, rel=0.01)
    assert soft[plain.argmax()] < plain.max() / 8  # three stops down where the beam was
    # DERIVED: in haze the shaft keeps the direct share
    haze = dict(haze=Haze(extinction_per_m=0.05))
    lines = lines_across(20, 9, (4.9, 2.55, 1.4))
    with_, without = (air(direct.prepare(dataclasses.replace(s, **haze)), *lines)[:, 0] for s in (hung, clear))
    assert without.max() > 0
    assert with_ == pytest.approx(0.02 * without, rel=1e-9)


def test_an_even_sky_through_bars():
    # INDEPENDENT: double integral of L cos cos / r^2 over each pane; sky above the mark's horizon, ground below.
    scene = setup(loft(BARRED), sky=Sky(zenith_cd_m2=2000.0, horizon_cd_m2=2000.0))
    mark, facing = np.array([4.4, 2.1, 1.3]), unit((1.0, 0.2, 0.3))
    ground = 0.2 * 2000.0  # rho E / pi, E = pi L
    pane_w, pane_h, total = (1.1 - 2 * 0.05) / 3, (1.4 - 0.05) / 2, 0.0
    for i in range(3):
        for j in range(2):
            y0, z0 = 2.05 + i * (pane_w + 0.05), 0.9 + j * (pane_h + 0.05)

            def piece(z, y, luminance):
                away = np.array([6.3, y, z]) - mark
                return luminance * 0.8 * away[0] * max(away @ facing, 0.0) / (away @ away) ** 2

            for luminance, low, high in ((ground, z0, min(z0 + pane_h, 1.3)), (2000.0, max(z0, 1.3), z0 + pane_h)):
                if high > low:
                    total += dblquad(piece, y0, y0 + pane_w, low, high, args=(luminance,), epsrel=1e-7)[0]
    assert lux(direct.prepare(scene), mark, facing)[0, 0] == pytest.approx(total, rel=1e-4)


def test_open_ground_under_an_overcast_sky():
    # PUBLISHED: CIE overcast sky, L = Lz (1 + 2 sin h) / 3, gives 7 pi / 9 Lz on the level (CIE S 011:2003). Seen by
    # a wall-facing receptor: INDEPENDENT, half the sky and half the ground by double integral.
    scene = Setup(name="pans", title="Pans", place=GROUND, camera=CAMERA, sky=Sky(zenith_cd_m2=3000.0, horizon_cd_m2=1000.0))
    rig = direct.prepare(scene)
    assert lux(rig, (5, 5, 1.2), (0, 0, 1.0))[0, 0] == pytest.approx(7 * np.pi / 9 * 3000.0, rel=1e-4)
    sky = dblquad(lambda h, t: 1000 * (1 + 2 * np.sin(h)) * np.cos(h) ** 2 * np.cos(t), -np.pi / 2, np.pi / 2, 0, np.pi / 2)[0]
    ground = 0.2 * 7 * np.pi / 9 * 3000.0 / np.pi * np.pi / 2
    assert lux(rig, (5, 5, 1.2), (0, 1.0, 0))[0, 0] == pytest.approx(sky + ground, rel=1e-3)


# --- properties ----------------------------------------------------------------------------------------------

WHOLE = dict(
    lights=(WIDE, dataclasses.replace(PANEL, aim=(3.0, 2.0, 1.0)), lamp("bulb", (3.2, 0.8, 2.4), 300.0)),
    boards=(BOARD,), flags=(CUTTER,), frames=(SILK,), sun=Sun(bearing_deg=90.0, elevation_deg=25.0, normal_lx=30_000.0), haze=Haze(extinction_per_m=0.05, g=0.6),
)  # fmt: skip
spots = st.integers(0, 10_000)


def somewhere(seed):
    """Places in the loft and unit ways, out of the way of its boards."""
    rng = np.random.default_rng(seed)
    points = np.array([2.6, 1.0, 0.3]) + rng.uniform(0, 1, (6, 3)) * (1.2, 1.2, 2.0)
    ways = rng.normal(size=(6, 3))
    return points, ways / np.linalg.norm(ways, axis=1)[:, None]


def turned(scene, place, point):
    """The scene in another frame: places and aims by `point`, the room as given."""

    def moved(part):
        return dataclasses.replace(part, at=tuple(point(part.at)), aim=tuple(point(part.aim)))

    kinds = {kind: tuple(moved(part) for part in getattr(scene, kind)) for kind in ("lights", "boards", "flags", "frames", "marks")}
    return dataclasses.replace(scene, place=place, camera=moved(scene.camera), **kinds)


def same_light(scene, other, points, ways, point, way):
    """Both scenes give the same light, at receptors of both kinds and along sight lines."""
    here, there = direct.prepare(scene), direct.prepare(other)
    moved, facing = np.array([point(p) for p in points]), np.array([way(w) for w in ways])
    for dome in (False, True):
        wanted = lux(here, points, ways, dome)
        assert lux(there, moved, facing, dome) == pytest.approx(wanted, rel=1e-6, abs=1e-7 * wanted.max())
    wanted = air(here, points, ways, 1.5)
    assert air(there, moved, facing, 1.5) == pytest.approx(wanted, rel=1e-6, abs=1e-7 * wanted.max())
    assert wanted.max() > 0


@few
@given(spots)
def test_a_mirrored_room_holds_mirrored_light(seed):
    # DERIVED: left and right changed, nothing else may. Tolerance: rounding.
    scene = setup(loft(BARRED), **WHOLE)
    place = dataclasses.replace(scene.place, windows=(dataclasses.replace(BARRED, wall="left"),))
    flip = np.array([-1.0, 1.0, 1.0])
    other = turned(scene, place, lambda p: flip * p + (6.3, 0, 0))
    other = dataclasses.replace(other, sun=dataclasses.replace(scene.sun, bearing_deg=-90.0))
    points, ways = somewhere(seed)
    same_light(scene, other, points, ways, lambda p: flip * p + (6.3, 0, 0), lambda w: flip * w)


@few
@given(spots)
def test_a_room_turned_a_quarter_holds_the_same_light(seed):
    # DERIVED: x, y become depth - y, x: the right wall becomes the far one. Tolerance: rounding.
    scene = setup(loft(BARRED), **WHOLE)
    window = dataclasses.replace(BARRED, wall="far", centre_m=4.7 - BARRED.centre_m)
    place = dataclasses.replace(scene.place, width_m=4.7, depth_m=6.3, windows=(window,), bearing_deg=90.0)
    points, ways = somewhere(seed)

    def turn(vector):
        return np.array([-vector[1], vector[0], vector[2]])

    def point(place_m):
        return turn(place_m) + (4.7, 0, 0)

    same_light(scene, turned(scene, place, point), points, ways, point, turn)


@few
@given(spots)
def test_lights_add_up_and_dim(seed):
    # DERIVED: light is additive: all together is each alone, summed; a dimmed lamp gives its share, board and all.
    points, ways = somewhere(seed)
    parts = WHOLE | dict(sun=None, frames=())
    together = direct.prepare(setup(loft(BARRED), **parts))
    alone = [direct.prepare(setup(loft(BARRED), **parts | dict(lights=(light,)))) for light in parts["lights"]]
    assert lux(together, points, ways).sum(axis=1) == pytest.approx(sum(lux(r, points, ways).sum(axis=1) for r in alone), rel=1e-9)
    assert air(together, points, ways, 1.5).sum(axis=1) == pytest.approx(
        sum(air(r, points, ways, 1.5).sum(axis=1) for r in alone), rel=1e-9
    )
    dim = dataclasses.replace(parts["lights"][0], dim=0.37)
    dimmed = direct.prepare(setup(loft(BARRED), **parts | dict(lights=(dim,))))
    assert lux(dimmed, points, ways) == pytest.approx(0.37 * lux(alone[0], points, ways), rel=1e-9)
    assert air(dimmed, points, ways, 1.5) == pytest.approx(0.37 * air(alone[0], points, ways, 1.5), rel=1e-9)


@few
@given(spots, st.floats(0.4, 2.5))
def test_only_shape_matters_not_the_length_of_a_metre(seed, k):
    # DERIVED: every length times k, candela times k^2, haze over k: the same lux, the same cd/m2.
    points, ways = somewhere(seed)
    scene = setup(loft(BARRED), **WHOLE | dict(boards=(), frames=(), sun=None))
    lights = tuple(
        dataclasses.replace(
            light, at=tuple(k * np.array(light.at)), aim=tuple(k * np.array(light.aim)), face_width_m=k * light.face_width_m,
            face_height_m=k * light.face_height_m, distribution=stronger(light.distribution, k * k),
        )
        for light in scene.lights
    )  # fmt: skip
    flag = dataclasses.replace(
        CUTTER, at=tuple(k * np.array(CUTTER.at)), aim=tuple(k * np.array(CUTTER.aim)), width_m=k * 0.3, height_m=k * 0.5
    )
    window = dataclasses.replace(
        BARRED, **{f: k * getattr(BARRED, f) for f in ("centre_m", "sill_m", "width_m", "height_m", "bar_m")}
    )
    place = dataclasses.replace(scene.place, width_m=k * 6.3, depth_m=k * 4.7, height_m=k * 3.1, windows=(window,))
    camera = dataclasses.replace(CAMERA, at=tuple(k * np.array(CAMERA.at)), aim=tuple(k * np.array(CAMERA.aim)))
    other = setup(place, camera=camera, lights=lights, flags=(flag,), haze=Haze(extinction_per_m=0.05 / k, g=0.6))
    here, there = direct.prepare(scene), direct.prepare(other)
    assert lux(there, k * points, ways) == pytest.approx(lux(here, points, ways), rel=1e-9, abs=1e-9)
    assert air(there, k * points, ways, k * 1.5) == pytest.approx(air(here, points, ways, 1.5), rel=1e-9, abs=1e-12)


def stronger(distribution, times):
    if hasattr(distribution, "candela"):
        return dataclasses.replace(distribution, candela=tuple(tuple(times * cd for cd in row) for row in distribution.candela))
    return dataclasses.replace(distribution, peak_cd=times * distribution.peak_cd)


# --- layout --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("wall", ["left", "right", "near", "far"])
def test_panes_between_bars(wall):
    # DERIVED: (1.1 - 2 x 0.05) (1.4 - 0.05) of clear glass, in six panes; each faces into the room.
    window = dataclasses.replace(BARRED, wall=wall)
    room = dataclasses.replace(loft(), windows=(window,))
    panes = openings.window_panes(window, room)
    normals = np.cross(panes[:, 1] - panes[:, 0], panes[:, 3] - panes[:, 0])
    assert len(panes) == 6
    assert np.linalg.norm(normals, axis=1).sum() == pytest.approx(1.0 * 1.35)
    inward = {"left": (1, 0, 0), "right": (-1, 0, 0), "near": (0, 1, 0), "far": (0, -1, 0)}[wall]
    assert normals / np.linalg.norm(normals, axis=1)[:, None] == pytest.approx(np.tile(inward, (6, 1)))


def test_a_lamp_outside_with_no_window_on_its_side_gives_nothing():
    # DERIVED: walls are black and whole but for the window; above the ceiling there is no way in.
    for at in ((-2.0, 2.0, 1.5), (3.0, 9.0, 1.5), (3.0, 2.0, 4.0)):
        rig = direct.prepare(setup(loft(BARRED), lights=(lamp("out", at, 9e4),), haze=Haze(extinction_per_m=0.05)))
        assert lux(rig, (3.0, 2.0, 1.5), unit(np.subtract(at, (3.0, 2.0, 1.5))))[0].tolist() == [0.0, 0.0]
        assert air(rig, (3.0, 2.0, 1.5), (1.0, 0, 0), 3.0)[0, 0] == 0.0


def test_the_mean_cosine_of_the_haze():
    # DERIVED: Henyey-Greenstein's Legendre moments are g^l; the table is fine enough for 1e-4.
    rig = layout.lay_out(setup(haze=Haze(extinction_per_m=0.05, g=0.7)))
    assert rig.legendre == pytest.approx([1.0, 0.7, 0.49, 0.343], rel=1e-4)
    assert BLACK.keys() == set(rows.SURFACE_ORDER)
