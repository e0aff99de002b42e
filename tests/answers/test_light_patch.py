"""Where beams land: against straight lines drawn one by one, closed forms, and what a tape would say."""

import re
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lightcalc.answers.light_patch import Patch, beams, lamp_beam, lamp_beam_deg, patch_words, sun_beam
from lightcalc.drawing.outlines import hulls
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Board, Camera, Exterior, Flag, Frame, Light, Mark, Piece, Room, Setup, Sun, Window
from lightcalc.scene.solids import solids

DEMO = shoot_file.load(shoot_file.demo_path())
SIDES = {"left": (0, 0), "right": (0, 1), "near": (1, 0), "far": (1, 1), "floor": (2, 0), "ceiling": (2, 1)}
SPOT = Beam(peak_cd=50_000, beam_deg=26, field_deg=40)
WIDE = Beam(peak_cd=5_000, beam_deg=70, field_deg=100)
BULB = Lambert(peak_cd=300)
WHITE, SILK, GRID = (
    Stuff(name="white", reflectance=0.8),
    Diffusion(name="half", direct=0.3, diffuse=0.35),
    Diffusion(name="grid", direct=0.01, diffuse=0.2),
)


def kitchen(**changes):
    """A room of odd lengths with a barred window in one wall, a plain one in the next, a curtained one in the third."""
    windows = (
        Window(
            name="barred",
            wall="right",
            centre_m=2.7,
            sill_m=0.85,
            width_m=1.6,
            height_m=1.3,
            bars_upright=2,
            bars_across=1,
            bar_m=0.07,
        ),
        Window(name="plain", wall="far", centre_m=3.1, sill_m=1.1, width_m=0.9, height_m=1.2),
        Window(name="curtained", wall="near", centre_m=2.0, sill_m=1.0, width_m=1.0, height_m=1.0, sheer=GRID),
    )
    parts = dict(name="k", title="", place=Room(name="kitchen", width_m=5.3, depth_m=4.7, height_m=2.9, windows=windows, bearing_deg=25.0),
                 camera=Camera(at=(1.0, 0.5, 1.4), aim=(3.0, 3.0, 1.2)))  # fmt: skip
    return Setup(**(parts | changes))


IN_THE_WAY = dict(
    flags=(
        Flag(name="inside", at=(3.9, 2.6, 1.2), aim=(5.3, 2.7, 1.9), width_m=0.5, height_m=0.7, roll_deg=20),
        Flag(name="outside", at=(5.9, 2.9, 2.1), aim=(8.0, 3.0, 3.0), width_m=0.4, height_m=0.3),
        Flag(name="half through the window", at=(5.3, 2.2, 1.5), aim=(5.3, 3.0, 2.0), width_m=1.0, height_m=0.5),
        Flag(name="behind the house", at=(-1.0, 2.0, 1.0), aim=(1.0, 2.0, 1.2), width_m=3.0, height_m=3.0),
    ),
    boards=(
        Board(name="on the floor", at=(2.6, 2.4, 0.4), aim=(2.7, 2.5, 2.0), width_m=0.9, height_m=0.6, stuff=WHITE),
        Board(name="into the floor", at=(1.6, 3.2, 0.2), aim=(3.0, 3.0, 0.6), width_m=0.8, height_m=1.0, stuff=WHITE),
        Board(name="against the first", at=(3.9, 2.7, 1.1), aim=(5.3, 3.6, 1.6), width_m=0.8, height_m=0.4, stuff=WHITE),
    ),
    frames=(
        Frame(name="lets it on", at=(3.4, 2.2, 1.0), aim=(5.0, 2.5, 1.5), width_m=1.0, height_m=1.0, diffusion=SILK),
        Frame(name="ends it", at=(2.2, 1.6, 0.9), aim=(5.0, 2.3, 1.5), width_m=0.5, height_m=0.5, diffusion=GRID),
    ),
)
LAMPS = {
    "outside, before the bars": Light(name="a", at=(8.4, 3.3, 3.4), aim=(3.4, 2.3, 0.6), distribution=SPOT),
    "outside, at the corner": Light(name="b", at=(7.1, 6.4, 2.2), aim=(3.6, 2.6, 0.8), distribution=WIDE),
    "outside, all round": Light(name="c", at=(6.4, 2.2, 1.5), aim=(5.0, 2.4, 1.2), distribution=BULB, diffusion=SILK),
    "inside, a spot": Light(name="d", at=(0.7, 0.6, 2.3), aim=(3.0, 2.7, 0.9), distribution=SPOT),
    "inside, wide": Light(name="e", at=(4.6, 4.2, 1.9), aim=(2.5, 2.2, 1.0), distribution=WIDE),
    "inside, straight down": Light(name="f", at=(2.5, 2.6, 2.6), aim=(2.5, 2.6, 0.0), distribution=WIDE),
}


# ---- straight lines, one by one: shares no code with the polygons -------------------------------------------------


def crosses(start, points, part):
    """Whether the straight line from a place to each point goes through a rectangle, by its own right and up."""
    forward = np.subtract(part.aim, part.at) / np.linalg.norm(np.subtract(part.aim, part.at))
    right = np.array([forward[1], -forward[0], 0.0]) / np.hypot(*forward[:2])
    up, turn = np.cross(right, forward), np.radians(part.roll_deg)
    right, up = np.cos(turn) * right - np.sin(turn) * up, np.sin(turn) * right + np.cos(turn) * up
    way = points - start
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (np.subtract(part.at, start) @ forward) / (way @ forward)
        off = start + share[:, None] * way - part.at
        return (share > 0) & (share < 1 - 1e-9) & (abs(off @ right) < part.width_m / 2) & (abs(off @ up) < part.height_m / 2)


def by_the_window(start, points, room):
    """Whether a line from outside comes in through glass: where it crosses a wall's plane is in a window, and not on a bar."""
    free, way = np.zeros(len(points), dtype=bool), points - start
    for window in room.windows:
        axis, high = SIDES[window.wall]
        flat, along = room.size_m[axis] * high, 1 - axis
        if (start[0, axis] - flat) * (1 if high else -1) <= 0 or (window.sheer and window.sheer.direct < 0.1):
            continue
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (flat - start[:, axis]) / way[:, axis]
            cross = start + share[:, None] * way
        u, v = cross[:, along] - window.centre_m + window.width_m / 2, cross[:, 2] - window.sill_m
        opens = unbarred(u, window.width_m, window.bars_upright, window.bar_m)
        free |= opens & unbarred(v, window.height_m, window.bars_across, window.bar_m) & (share < 1 - 1e-9)  # glass is no wall
    return free


def unbarred(place, size, bars, bar_m):
    pitch = (size - bars * bar_m) / (bars + 1) + bar_m
    return (place > 0) & (place < size) & (np.mod(place, pitch) < pitch - bar_m)


def lit(setup, points, *, start, light=None):
    """Whether the beam reaches each point."""
    room, lamp_in = setup.place, all(0 <= p <= s for p, s in zip(start[0], setup.place.size_m)) and light is not None
    reached = np.ones(len(points), dtype=bool)
    if light is not None and lamp_beam_deg(light) is not None:
        axis, way = np.subtract(light.aim, light.at), points - light.at
        cosine = way @ axis / np.linalg.norm(axis) / np.linalg.norm(way, axis=1)
        reached &= np.degrees(np.arccos(np.clip(cosine, -1, 1))) < lamp_beam_deg(light) / 2
    for part in setup.flags + setup.boards + tuple(frame for frame in setup.frames if frame.diffusion.direct < 0.1):
        reached &= ~crosses(start, points, part)
    return reached & (lamp_in | by_the_window(start, points, room))


def beside(patches, surface, points):
    """Whether each point lies in a patch, and how far it is from the nearest edge of one. [m]"""
    flat = [k for k in range(3) if k != SIDES[surface][0]]
    inside, edge = np.zeros(len(points), dtype=bool), np.full(len(points), np.inf)
    for patch in (patch for patch in patches if patch.surface == surface):
        a = patch.corners_m[:, flat]
        way = np.roll(a, -1, axis=0) - a
        keep = np.linalg.norm(way, axis=1) > 1e-9
        a, way = a[keep], way[keep]
        off = points[:, None, :][..., flat] - a
        side = way[:, 0] * off[..., 1] - way[:, 1] * off[..., 0]
        inside |= (side > 0).all(axis=1) | (side < 0).all(axis=1)
        share = np.clip((off * way).sum(axis=2) / (way**2).sum(axis=1), 0, 1)
        edge = np.minimum(edge, np.linalg.norm(off - share[..., None] * way, axis=2).min(axis=1))
    return inside, edge


def spread(room, rng, count):
    """Random points of floor and walls, by area, with the surface each lies on."""
    names = list(SIDES)
    sides = [np.delete(room.size_m, SIDES[name][0]) for name in names]
    areas = np.array([a * b for a, b in sides])
    points, which = rng.uniform(0, room.size_m, (count, 3)), rng.choice(len(names), count, p=areas / areas.sum())
    for k, name in enumerate(names):
        axis, high = SIDES[name]
        points[which == k, axis] = room.size_m[axis] * high
    return points, np.array(names)[which]


def hold_against(setup, patches, start, light=None, least=100):
    points, on = spread(setup.place, np.random.default_rng(11), 10_000)
    start = start(points) if callable(start) else np.broadcast_to(start, points.shape)
    truth, found = lit(setup, points, start=start, light=light), 0
    for surface in SIDES:
        here = on == surface
        inside, edge = beside(patches, surface, points[here])
        clear = edge > 1e-3
        assert np.array_equal(inside[clear], truth[here][clear]), surface
        found += int((inside & clear).sum())
    assert found >= least, "the test must see light"


@pytest.mark.parametrize("way", [{}, IN_THE_WAY], ids=["free", "in the way"])
@pytest.mark.parametrize("name", LAMPS)
@pytest.mark.slow
def test_ten_thousand_straight_lines_to_a_lamp(name, way):
    # INDEPENDENT: each point of floor, walls and ceiling is joined to the lamp by a straight line, which is asked for its
    # angle to the axis, for the place where it crosses a wall, and for every rectangle in its way. Half a peak is half a
    # peak: the angle itself is held against the candela below.
    light = LAMPS[name]
    setup = kitchen(lights=(light,), **way)
    hold_against(setup, lamp_beam(setup, light).patches, np.array(light.at), light, least=60)


@pytest.mark.parametrize("way", [{}, IN_THE_WAY], ids=["free", "in the way"])
@pytest.mark.parametrize(("bearing", "elevation"), [(95.0, 24.0), (45.0, 38.0), (130.0, 7.0)])
def test_ten_thousand_straight_lines_to_the_sun(bearing, elevation, way):
    # INDEPENDENT: the same lines, all one way, drawn to 1 km.
    sun = Sun(bearing_deg=bearing, elevation_deg=elevation, normal_lx=60_000)
    setup = kitchen(sun=sun, **way)
    turn, height = np.radians(bearing - 25.0), np.radians(elevation)
    to = np.array([np.sin(turn) * np.cos(height), np.cos(turn) * np.cos(height), np.sin(height)])
    hold_against(setup, beams(setup)[-1].patches, lambda points: points + 1e3 * to)


@pytest.mark.parametrize("name", ["1", "2", "8"])
def test_ten_thousand_lines_in_the_film_s_rooms(name):
    # INDEPENDENT: as above.
    setup = DEMO.setup(name)
    for light in setup.lights:
        hold_against(setup, lamp_beam(setup, light).patches, np.array(light.at), light)


# ---- shafts -------------------------------------------------------------------------------------------------------


def inside_hull(outline, points):
    way = np.roll(outline, -1, axis=0) - outline
    off = points[:, None] - outline
    return (way[:, 0] * off[..., 1] - way[:, 1] * off[..., 0] >= -1e-6).all(axis=1)


def behind(start, points, things, steps=600):
    """
    Whether anything stands on the straight line from each point to its source, by steps along it, and whether that is near to call.
    """
    hidden, grazes = np.zeros(len(points), dtype=bool), np.zeros(len(points), dtype=bool)
    share = (np.arange(steps) + 0.5) / steps
    for solid in things:
        into = solid.axes / solid.half[:, None]
        a, b = (points - solid.middle) @ into.T, (start - solid.middle) @ into.T
        at = a[:, None] + share[:, None] * (b - a)[:, None]
        size = (np.linalg.norm(at, axis=2) if solid.shape == "ball" else np.abs(at).max(axis=2)).min(axis=1)
        hidden |= size < 1.0
        grazes |= np.abs(size - 1.0) < 0.03
    return hidden, grazes


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("at", [(2.6, 3.3, 0.3), (2.6, 3.1, 0.37), (1.2, 1.0, 0.725)])
def test_a_lamp_in_a_sack_or_a_table_top_throws_no_shadow_of_it(at):
    # its very middle, a place inside, and the middle of the top: `check` says that it cannot stand there; nothing breaks
    sack = Piece(name="sack", what="sack", at=(2.6, 3.3, 0.3), aim=(3.6, 3.3, 0.3), width_m=0.6, depth_m=0.6, height_m=0.6)
    table = Piece(name="table", what="table", at=(1.2, 1.0, 0.0), aim=(1.2, 2.0, 0.0), height_m=0.75)
    light = Light(name="lost", at=at, aim=(2.5, 2.2, 0.1), distribution=WIDE)
    setup = kitchen(lights=(light,), pieces=(sack, table))
    (beam,) = beams(setup)
    assert beam.patches and all(np.isfinite(patch.corners_m).all() for patch in beam.shadows)


SUN = Sun(bearing_deg=95.0, elevation_deg=24.0, normal_lx=60_000)
FURNISHED = dict(
    marks=(Mark(name="clerk", at=(3.2, 2.5, 1.25), aim=(1.0, 2.0, 1.2), figure=True, pose="seated"),),
    pieces=(
        Piece(name="table", what="table", at=(2.5, 2.0, 0.0), aim=(2.5, 3.0, 0.0)),
        Piece(name="door", what="door", at=(3.6, 1.4, 0.0), aim=(4.2, 2.2, 0.0)),
        Piece(name="sack", what="sack", at=(1.6, 3.0, 0.3), aim=(2.6, 3.3, 0.3), width_m=0.6, depth_m=0.4, height_m=0.5),
    ),
)


# so near that it sees far less than half of the sack: the circle it touches is smaller than the sack's own
HARD_BY = Light(name="g", at=(1.6, 3.05, 1.0), aim=(1.7, 2.9, 0.0), distribution=WIDE)


@pytest.mark.slow
@pytest.mark.parametrize("name", [*LAMPS, "hard by", "sun"])
def test_what_people_and_furniture_keep_dark_of_it(name):
    # INDEPENDENT: lines from places in the patches to the lamp, marched in steps of a centimetre through each solid's own frame.
    # Ellipsoids' outlines have twenty corners and marching has steps: a line within 3 % of a skin is left out.
    if name == "sun":
        setup = kitchen(sun=SUN, **FURNISHED)
        beam, to = beams(setup)[-1], SUN.direction(setup.place.bearing_deg)
        start = lambda points: points + 6.0 * np.asarray(to)
    else:
        light = LAMPS.get(name, HARD_BY)
        setup = kitchen(lights=(light,), **FURNISHED)
        beam, start = beams(setup)[0], lambda points: np.broadcast_to(np.array(light.at), points.shape)
    points, on = spread(setup.place, np.random.default_rng(3), 9000)
    dark = bright = 0
    for surface in dict.fromkeys(patch.surface for patch in beam.patches):
        here = points[on == surface]
        lands, edge = beside(beam.patches, surface, here)
        here = here[lands & (edge > 1e-3)]
        shaded, _ = beside(beam.shadows, surface, here) if beam.shadows else (np.zeros(len(here), dtype=bool), None)
        truth, grazes = behind(start(here), here, solids(setup))
        assert np.array_equal(shaded[~grazes], truth[~grazes]), surface
        dark, bright = dark + int(shaded.sum()), bright + int((~shaded).sum())
    assert bright > 20 and (dark > 5 or name == "outside, at the corner"), "the test must see both"


@pytest.mark.parametrize("name", ["outside, before the bars", "outside, at the corner", "inside, a spot"])
@pytest.mark.slow
def test_the_shaft_on_plan_and_from_the_side_is_that_of_the_lit_air(name):
    # INDEPENDENT: straight lines to 60,000 points of the air. All that are lit lie in the outline; and of the outline nearly
    # every small square has a lit point over it.
    light, rng = LAMPS[name], np.random.default_rng(3)
    setup = kitchen(lights=(light,), **IN_THE_WAY)
    points = rng.uniform(1e-6, np.subtract(setup.place.size_m, 1e-6), (60_000, 3))
    truth = lit(setup, points, start=np.broadcast_to(light.at, points.shape), light=light)
    assert truth.sum() > 500
    for axes in ([0, 1], [0, 2], [1, 2]):
        pieces = hulls(lamp_beam(setup, light).shaft, axes)
        grown = [
            piece + 2e-3 * (piece - piece.mean(axis=0)) / np.linalg.norm(piece - piece.mean(axis=0), axis=1)[:, None]
            for piece in pieces
        ]
        assert np.any([inside_hull(piece, points[truth][:, axes]) for piece in grown], axis=0).all()
        covered = np.any([inside_hull(piece, points[:, axes]) for piece in pieces], axis=0)
        squares = lambda which: set(map(tuple, (points[which][:, axes] // 0.25).astype(int).tolist()))
        assert len(squares(covered) - squares(truth)) <= 0.12 * len(squares(covered)), axes  # squares at the rim are seldom hit


def test_light_outside_reaches_the_walls_and_what_stands_before_them():
    # DERIVED: the lamp is 3.1 m off the right wall, and lower than the walls' top by its aim: every stretch starts at the lamp
    # and ends no further in than the wall.
    setup = kitchen(lights=(LAMPS["outside, before the bars"],), **IN_THE_WAY)
    (beam,) = beams(setup)
    assert beam.through_windows and {wall for wall, _ in beam.approach} == {"right"}
    for _, stretch in beam.approach:
        assert np.array_equal(stretch[0], (8.4, 3.3, 3.4)) and stretch[:, 0].min() > 5.3 - 1e-9


# ---- closed forms -------------------------------------------------------------------------------------------------------


def test_a_spot_straight_down_is_a_disc():
    # DERIVED: half angle 35 degrees from 2.6 m: radius 2.6 tan 35 = 1.8205 m, area pi r^2 (room enough on every side).
    light = Light(name="f", at=(2.6, 2.3, 2.6), aim=(2.6, 2.3, 0.0), distribution=WIDE)
    (patch,) = lamp_beam(kitchen(), light).patches
    radius = 2.6 * np.tan(np.radians(35.0))
    assert patch.area_m2 == pytest.approx(np.pi * radius**2, rel=1e-3) and patch.surface == "floor"
    assert np.hypot(*(patch.corners_m[:, :2] - (2.6, 2.3)).T) == pytest.approx(np.full(len(patch.corners_m), radius), abs=2e-4)


@pytest.mark.parametrize("light", [SPOT, WIDE, BULB])
@pytest.mark.parametrize("diffusion", [None, SILK, GRID])
def test_the_beam_ends_where_the_candela_have_fallen_to_half(light, diffusion):
    # DERIVED: what goes straight on, and what leaves the cloth by Lambert's law, lumens / pi on its axis. The angle is found
    # to 0.05 degrees, where the spot loses 0.004 of its peak.
    angle = np.radians(lamp_beam_deg(Light(name="x", at=(0, 0, 1), aim=(1, 0, 1), distribution=light, diffusion=diffusion)) / 2)
    direct, diffuse = (1.0, 0.0) if diffusion is None else (diffusion.direct, diffusion.diffuse)
    send = lambda theta: direct * light.intensity_cd(theta) + diffuse * light.lumens() / np.pi * np.cos(theta)
    assert send(angle) / send(0.0) == pytest.approx(0.5, abs=4e-3)


def test_the_sun_s_patch_to_the_centimetre():
    # DERIVED: +y of the room bears 25, so a sun at 141 stands 26 degrees towards the near wall from square on the right one
    # (bearing 115). A corner of the plain window (y 2 to 3, z 1 to 2) at height z lands z / tan h / ... : along x by
    # z cos 26 / tan h, along y by z sin 26 / tan h (to +y, away from the sun).
    plain = Window(name="w", wall="right", centre_m=2.5, sill_m=1.0, width_m=1.0, height_m=1.0)
    room = replace(kitchen().place, windows=(plain,))
    (patch,) = sun_beam(room, (plain,), Sun(bearing_deg=141.0, elevation_deg=40.0, normal_lx=50_000)).patches
    far = np.array([1.0, 2.0]) / np.tan(np.radians(40.0))
    x, y = 5.3 - far * np.cos(np.radians(26.0)), far * np.sin(np.radians(26.0))
    wanted = [(x[0], 2 + y[0]), (x[0], 3 + y[0]), (x[1], 3 + y[1]), (x[1], 2 + y[1])]
    assert patch.surface == "floor" and len(patch.corners_m) == 4
    for corner in wanted:
        assert np.linalg.norm(patch.corners_m[:, :2] - corner, axis=1).min() < 0.01


def test_open_ground_and_a_sail():
    # DERIVED: 2 m up, straight down, 26 degrees: a disc of radius 2 tan 13. A flag under half of it takes that half away.
    field = Exterior(name="field", width_m=20.0, depth_m=20.0)
    down = Light(name="d", at=(10.0, 10.0, 2.0), aim=(10.0, 10.0, 0.0), distribution=SPOT)
    setup = kitchen(place=field, lights=(down,))
    disc = np.pi * (2 * np.tan(np.radians(13.0))) ** 2
    (beam,) = beams(setup)
    assert sum(patch.area_m2 for patch in beam.patches) == pytest.approx(disc, rel=1e-3)
    assert np.concatenate(beam.shaft)[:, 2].min() == pytest.approx(0.0, abs=1e-9)
    half = Flag(name="half", at=(11.0, 10.0, 1.0), aim=(11.0, 10.0, 2.0), width_m=2.0, height_m=4.0)
    (cut,) = beams(replace(setup, flags=(half,)))
    assert sum(patch.area_m2 for patch in cut.patches) == pytest.approx(disc / 2, rel=1e-3)
    # DERIVED: the torch of setup 4 lands on the sail or passes it; no lit air behind the sail's plane, none under the ground.
    night = DEMO.setup("4")
    (torch,) = beams(night)
    air = np.concatenate(torch.shaft)
    assert air[:, 2].min() > 0 and ((air - night.boards[0].at) @ np.subtract(night.boards[0].aim, night.boards[0].at)).min() > -1e-9


def test_no_light_says_why():
    room_only = kitchen()
    off = Light(name="off", at=(8.4, 3.3, 3.4), aim=(3.4, 2.3, 0.6), distribution=SPOT, dim=0.0)
    assert lamp_beam(room_only, off).patches == () and lamp_beam(room_only, off).approach == ()
    beside = Light(name="b", at=(8.4, 3.3, 3.4), aim=(5.3, 0.4, 2.5), distribution=Beam(peak_cd=1e4, beam_deg=5, field_deg=9))
    assert lamp_beam(room_only, beside).note == "its beam meets no window" and lamp_beam(room_only, beside).approach
    curtain = Light(name="c", at=(2.0, -3.0, 2.0), aim=(2.0, 1.0, 1.2), distribution=SPOT)
    assert lamp_beam(room_only, curtain).note == "what hangs in 'curtained' spreads it"
    shut = kitchen(flags=(Flag(name="shutter", at=(5.4, 2.7, 1.5), aim=(9.0, 2.7, 1.5), width_m=2.0, height_m=2.0),))
    assert lamp_beam(shut, LAMPS["outside, before the bars"]).note == "flags or boards stop it"
    assert (
        sun_beam(room_only.place, room_only.place.windows, Sun(bearing_deg=115.0, elevation_deg=-2.0, normal_lx=100)).patches == ()
    )
    assert (
        sun_beam(room_only.place, room_only.place.windows, Sun(bearing_deg=205.0, elevation_deg=20.0, normal_lx=5e4)).patches == ()
    ), "only the curtain's wall"


# ---- in words, and what it costs ----------------------------------------------------------------------------------------


def spans(text):
    """(low, high, from or up) of each stretch in a sentence, in metres."""
    length = r"(?:\d+' \d+\"|\d+(?:\.\d+)?(?: m)?)"
    found = re.findall(rf"({length}) to ({length}) (from the \w+ wall|up)", text)
    return [(metres(low), metres(high), where) for low, high, where in found]


def metres(text):
    feet = re.fullmatch(r"(\d+)' (\d+)\"", text)
    return (int(feet[1]) * 12 + int(feet[2])) * 0.0254 if feet else float(text.removesuffix(" m"))


@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("name", LAMPS)
def test_printed_extents_are_those_of_the_polygons(name, units):
    # DERIVED: the box round all corners of a surface, measured from the walls that are named, to the last printed digit.
    setup, step = kitchen(**IN_THE_WAY), {"metric": 0.01, "feet": 0.0254}[units]
    patches, (w, d, _) = lamp_beam(setup, LAMPS[name]).patches, setup.place.size_m
    sentences = patch_words(setup.place, patches, units=units).split("; ")
    assert len(sentences) == len({patch.surface for patch in patches}) > 0
    place = {"from the left wall": lambda p: p[:, 0], "from the right wall": lambda p: w - p[:, 0], "up": lambda p: p[:, 2],
             "from the near wall": lambda p: p[:, 1], "from the far wall": lambda p: d - p[:, 1]}  # fmt: skip
    for sentence in sentences:
        surface = re.match(r"on the (\w+)", sentence)[1]
        corners = np.concatenate([patch.corners_m for patch in patches if patch.surface == surface])
        said = spans(sentence)
        assert len(said) == 2 and len({where for _, _, where in said}) == 2, sentence
        for low, high, where in said:
            along = place[where](corners)
            assert abs(low - along.min()) <= step / 2 + 1e-9 and abs(high - along.max()) <= step / 2 + 1e-9, sentence
            assert where == "up" or low + high <= {"left": w, "right": w, "near": d, "far": d}[where.split()[2]] + step, (
                "the nearer"
            )


def test_words_for_what_is_taped():
    room = Room(name="loft", width_m=6.4, depth_m=9.2, height_m=3.4)
    wall = Patch("left", np.array([[0, 8.0, 0.5], [0, 9.0, 0.5], [0, 9.0, 1.25], [0, 8.0, 1.25]]))
    assert patch_words(room, (wall,)) == "on the left wall, 0.2 to 1.2 m from the far wall and 0.5 to 1.25 m up"
    assert (
        patch_words(room, (wall,), units="feet") == "on the left wall, 0' 8\" to 3' 11\" from the far wall and 1' 8\" to 4' 1\" up"
    )
    assert patch_words(room, ()) == ""


def test_it_is_cheap_and_needs_no_engine():
    # COMMON PRACTICE: a draft follows the hand in 50 ms; a lamp's beam is to cost it next to nothing. Best of many, CPU time.
    code = "import sys, lightcalc.answers.light_patch; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=Path(__file__).parents[2]).returncode == 0
    setup, took = DEMO.setup("1"), []
    for k in range(40):
        light = replace(setup.lights[0], at=(10.2 + 1e-3 * k, 7.4, 4.4))  # never the one that is kept
        start = time.process_time()
        assert lamp_beam(setup, light, corners=48).patches
        took.append(time.process_time() - start)
    assert min(took) < 4e-3
