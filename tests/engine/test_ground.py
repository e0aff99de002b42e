from dataclasses import replace

import numpy as np
import pytest

from lightcalc.answers import readings
from lightcalc.engine import ground, solve
from lightcalc.engine.picture import picture, sight_line
from lightcalc.kit.candela import Beam
from lightcalc.kit.materials import Stuff
from lightcalc.scene.parts import Board, Camera, Exterior, Flag, Haze, Light, Mark, Setup, Sky, Sun, basis
from lightcalc.scene.solids import person

from light_parts import henyey_greenstein

CAMERA = Camera(at=(20.0, 4.0, 1.6), aim=(20.0, 15.0, 1.2))
LANTERN = Light(
    name="lantern", at=(19.65, 15.3, 1.1), aim=(21.3, 15.3, 1.1), distribution=Beam(peak_cd=60, beam_deg=150, field_deg=175)
)


def yard(width_m=40.0, depth_m=30.0, reflectance=0.2, **more):
    return Setup(
        name="yard",
        title="",
        place=Exterior(name="yard", width_m=width_m, depth_m=depth_m, ground=reflectance),
        camera=CAMERA,
        haze=Haze(extinction_per_m=0.0),
        **more,
    )


def flat_lx(setup, at, facing, quality="final"):
    return solve.light(setup, quality).illuminance_lx([at], [facing])[0]


def off_the_ground_lx(light, at, facing, reflectance, half_m=25.0, n=2500):
    """A lamp's light by way of matte ground to a receptor: both inverse squares, summed over small squares. [lx]"""
    step = ((np.arange(n) + 0.5) / n - 0.5) * 2 * half_m
    x, y = np.meshgrid(light.at[0] + step, light.at[1] + step)
    down = np.stack([x - light.at[0], y - light.at[1], np.full_like(x, -light.at[2])], axis=-1)
    d2 = (down**2).sum(axis=-1)
    theta = np.arccos(np.clip(down @ basis(light.at, light.aim)[2] / np.sqrt(d2), -1, 1))
    lx = light.distribution.mean_cd(theta) * light.at[2] / d2**1.5
    up = np.stack([x - at[0], y - at[1], np.full_like(x, -at[2])], axis=-1)
    r2 = (up**2).sum(axis=-1)
    taken = np.maximum(up @ (np.array(facing) / np.linalg.norm(facing)), 0.0) * at[2] / r2**2
    return reflectance / np.pi * (lx * taken).sum() * (2 * half_m / n) ** 2


@pytest.mark.slow
@pytest.mark.parametrize("quality, within", [("final", 0.02), ("draft", 0.05)])
@pytest.mark.parametrize("width_m", [20.0, 40.0, 100.0])
@pytest.mark.parametrize("facing", [(-1.0, -0.4, -0.3), (1.0, 0.4, 0.3), (0.0, 0.0, -1.0)])
def test_a_lanterns_light_comes_back_off_the_ground(width_m, facing, quality, within):
    # INDEPENDENT: a sum over 2 cm squares, which knows the two inverse squares and Lambert's law. It must not matter how
    # much ground the plan shows: on 24 x 24 even cells of 100 x 80 m the lit side read a quarter of this, the shade side twice.
    light = Light(
        name="lantern", at=(width_m / 2 - 0.35, 10.3, 1.1), aim=(width_m / 2 + 1.3, 10.3, 1.1), distribution=LANTERN.distribution
    )
    at = (width_m / 2 + 1.15, 10.9, 1.6)
    bounced = flat_lx(yard(width_m, width_m * 0.8, lights=(light,)), at, facing, quality)[-1]
    assert bounced == pytest.approx(off_the_ground_lx(light, at, facing, 0.2), rel=within)


@pytest.mark.parametrize("height_m", [0.4, 1.2])
def test_shade_on_the_ground_is_missed_from_above(height_m):
    # DERIVED: sun straight down on a level flag of side s leaves a square of s in shade. What faces down over its middle
    # takes rho E (1 - F), F = 4 / (2 pi) [2 X / sqrt(1 + X^2) atan(X / sqrt(1 + X^2))], X = s / 2h: the factor of a
    # rectangle over its corner (Siegel & Howell, configuration B-3), four times.
    side, sun_lx, rho = 2.0, 80_000.0, 0.3
    flag = Flag(name="roof", at=(20.0, 15.0, 3.0), aim=(20.0, 15.0, 0.0), width_m=side, height_m=side, reflectance=0.0)
    setup = yard(reflectance=rho, flags=(flag,), sun=Sun(bearing_deg=180.0, elevation_deg=89.99, normal_lx=sun_lx))
    x = side / 2 / height_m
    factor = 4 / np.pi * x / np.hypot(1, x) * np.arctan(x / np.hypot(1, x))
    lux = flat_lx(setup, (20.0, 15.0, height_m), (0, 0, -1))
    assert lux.sum() == pytest.approx(rho * sun_lx * (1 - factor), rel=0.02)  # its edge is found to a twelfth of a metre


def test_shade_is_taken_from_the_sky_not_from_the_lamps():
    # DERIVED: no source may read less than nothing, and the lamps' own light does not change when the sun comes out.
    flag = Flag(name="roof", at=(20.0, 15.0, 3.0), aim=(20.0, 15.0, 0.0), width_m=2.0, height_m=2.0)
    dark = yard(lights=(LANTERN,), flags=(flag,))
    bright = yard(
        lights=(LANTERN,),
        flags=(flag,),
        sun=Sun(bearing_deg=180.0, elevation_deg=60.0, normal_lx=60_000.0),
        sky=Sky(zenith_cd_m2=3_000.0, horizon_cd_m2=3_000.0),
    )
    at, facing = (20.0, 16.7, 0.5), (0.3, 0.0, -1.0)  # in the shade
    night, day = flat_lx(dark, at, facing), flat_lx(bright, at, facing)
    names = bright.source_names
    assert (day >= 0).all()
    assert day[names.index("lantern")] == pytest.approx(night[dark.source_names.index("lantern")], rel=1e-9)
    assert day[-1] == pytest.approx(night[-1], rel=0.02)  # the squares are laid out anew for the flag's shade
    open_ground = flat_lx(
        yard(
            sun=Sun(bearing_deg=180.0, elevation_deg=60.0, normal_lx=60_000.0), sky=Sky(zenith_cd_m2=3_000.0, horizon_cd_m2=3_000.0)
        ),
        at,
        facing,
    )
    assert day[names.index("sky")] < 0.8 * open_ground[-2]


def test_readings_call_it_ground():
    mark = Mark(name="face", at=(21.3, 15.3, 1.6), aim=(21.3, 15.3, 0.0))
    reading = readings.readings(yard(lights=(LANTERN,), marks=(mark,))).marks[0]
    assert list(reading.by_source) == ["lantern", "ground"] and reading.by_source["ground"] > 0
    assert reading.fill_lx == pytest.approx(reading.by_source["ground"])


@pytest.mark.slow
def test_ground_lights_a_board_from_below():
    # INDEPENDENT: the same sum, to a board that no straight light meets; it sends rho / pi of it on.
    white = Stuff(name="white", reflectance=0.8, gloss=0.0, back=0.0)
    board = Board(name="white", at=(21.2, 15.3, 1.3), aim=(21.2, 15.3, 0.0), width_m=0.3, height_m=0.3, stuff=white)  # faces down
    lamp = Light(
        name="lantern", at=(19.65, 15.3, 1.4), aim=(21.3, 15.3, 0.2), distribution=Beam(peak_cd=60, beam_deg=40, field_deg=50)
    )
    rig = solve.light(yard(lights=(lamp,), boards=(board,))).rig
    wanted = off_the_ground_lx(lamp, board.at, (0, 0, -1), 0.2)
    assert np.mean([cell["bounced"] for cell in rig.cells[: rig.facets[0]["cells"]]]) == pytest.approx(wanted, rel=0.03)


def test_drawn_figure_shows_the_light_that_its_mark_reads():
    # DERIVED: a matte head of reflectance r sends r / pi of what its surface gets; the far cheek here has the ground alone.
    mark = Mark(name="face", at=(21.3, 15.3, 1.6), aim=(20.0, 4.0, 1.6), figure=True)
    lamp = Light(name="lantern", at=(19.65, 17.3, 1.1), aim=(21.3, 15.3, 1.4), distribution=LANTERN.distribution)
    light = solve.light(yard(lights=(lamp,), marks=(mark,)))
    head = light.rig.figures[0]
    ray = head["lit_at"] - np.array(CAMERA.at) + [0.0, 0.0, -0.03]
    ray /= np.linalg.norm(ray)
    seen = sight_line(light, ray)
    place = np.array(CAMERA.at) + seen.reach_m * ray
    there = next(one for one in person(mark) if one.shape == "ball")
    normal = ((place - there.middle) @ there.axes.T / there.half**2) @ there.axes  # of an ellipsoid
    normal /= np.linalg.norm(normal)
    lux = light.illuminance_lx([place + 1e-4 * normal], [normal])[0].sum()
    assert seen.surface_cd_m2 == pytest.approx(mark.reflectance / np.pi * lux, rel=0.03)


@pytest.mark.parametrize(
    "setup", [yard(), yard(reflectance=0.0, lights=(LANTERN,)), yard(sky=Sky(zenith_cd_m2=100.0, horizon_cd_m2=100.0))]
)
def test_even_ground_needs_no_squares(setup):
    assert not len(solve.light(setup).rig.patches)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("reflectance", [0.0, 0.3])
def test_haze_over_black_ground_and_a_lamp_far_away(reflectance):
    # DERIVED: no source gives less than nothing, nor anything that is no number.
    moon = Light(name="moon lamp", at=(900, 900, 400), aim=(20, 12, 0), distribution=Beam(peak_cd=1e7, beam_deg=10, field_deg=20))
    white = Board(
        name="white",
        at=(22.0, 12.0, 1.4),
        aim=(20.0, 12.0, 1.4),
        width_m=1.2,
        height_m=1.2,
        stuff=Stuff(name="white", reflectance=0.85, gloss=0.0, back=0.05),
    )
    for lights in ((moon,), (LANTERN,)):
        setup = replace(yard(reflectance=reflectance, lights=lights, boards=(white,)), haze=Haze(extinction_per_m=0.05, g=0.75))
        light = solve.light(setup, "draft")
        lux = light.illuminance_lx([(20, 12, 1.6), (20, 12, 1.6)], [(0, -1, 0), (0, 0, 1)])
        seen = picture(setup, width=64, lit=light).luminance_cd_m2
        assert (lux >= 0).all() and np.isfinite(lux).all() and (seen >= 0).all() and np.isfinite(seen).all()


def test_squares_stay_bounded(monkeypatch):
    # The last split makes four of each square, in two rows at most; unbounded, twelve lamps near the ground take far more.
    lamps = tuple(
        Light(name=f"l{i}", at=(float(x), float(y), 0.05), aim=(x + 1.0, y, 0.0), distribution=LANTERN.distribution)
        for i, (x, y) in enumerate(np.random.default_rng(3).uniform(2, 28, (12, 2)))
    )
    free = len(solve.light(yard(lights=lamps)).rig.patches)
    monkeypatch.setattr(ground, "MOST_SQUARES", 200)
    held = len(solve.light(yard(lights=lamps)).rig.patches)
    assert 100 < held < 2 * 5 * 200 < free


@pytest.mark.parametrize("g", [-0.5, 0.6, 0.9])
@pytest.mark.slow
def test_open_air_turns_the_sky_by_the_phase_function(g):
    # INDEPENDENT: the whole sphere of sky and open ground summed direction by direction, each times the phase function of its
    # angle. A dark zenith over a bright horizon, the hardest: three harmonics swing below zero there.
    setup = Setup(
        name="open", title="", place=Exterior(name="field", width_m=20.0, depth_m=20.0, ground=0.1), camera=CAMERA,
        sky=Sky(zenith_cd_m2=0.0, horizon_cd_m2=5000.0), haze=Haze(extinction_per_m=0.05, g=g),
    )  # fmt: skip
    rig = solve.light(setup, "draft").rig
    height, weight = np.polynomial.legendre.leggauss(600)
    turn = (np.arange(720) + 0.5) * 2 * np.pi / 720
    luminance = np.where(height > 0, 5000.0 * (1 - height), rig.ground_luminance)
    for rise in (-0.9, -0.2, 0.0, 0.05, 0.6, 1.0):
        cosine = -(height[:, None] * rise + np.sqrt(1 - height[:, None] ** 2) * np.sqrt(1 - rise**2) * np.cos(turn))
        wanted = np.sum(weight * luminance * henyey_greenstein(g, cosine).sum(axis=1)) * 2 * np.pi / 720
        got = np.interp(rise, np.linspace(-1, 1, rig.open_air.shape[1]), rig.open_air[0])
        assert got == pytest.approx(wanted, rel=0.02, abs=2.0), rise
