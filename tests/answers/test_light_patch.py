"""Where beams land: against straight lines drawn one by one, closed forms, and what a tape would say."""

import subprocess
import sys
import time
from dataclasses import replace

import numpy as np
import pytest

from lightcalc.answers.light_patch import Patch, beams, lamp_beam, lamp_beam_deg, patch_words, sun_beam
from lightcalc.kit.candela import Beam, Lambert
from lightcalc.kit.materials import Diffusion, Stuff
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Board, Camera, Exterior, Flag, Frame, Light, Room, Setup, Sun, Window

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
        Window("barred", "right", 2.7, 0.85, 1.6, 1.3, bars_upright=2, bars_across=1, bar_m=0.07),
        Window("plain", "far", 3.1, 1.1, 0.9, 1.2),
        Window("curtained", "near", 2.0, 1.0, 1.0, 1.0, sheer=GRID),
    )
    parts = dict(name="k", title="", place=Room("kitchen", 5.3, 4.7, 2.9, windows=windows, bearing_deg=25.0),
                 camera=Camera((1.0, 0.5, 1.4), (3.0, 3.0, 1.2)))  # fmt: skip
    return Setup(**(parts | changes))


IN_THE_WAY = dict(
    flags=(
        Flag("inside", (3.9, 2.6, 1.2), (5.3, 2.7, 1.9), 0.5, 0.7, roll_deg=20),
        Flag("outside", (5.9, 2.9, 2.1), (8.0, 3.0, 3.0), 0.4, 0.3),
        Flag("half through the window", (5.3, 2.2, 1.5), (5.3, 3.0, 2.0), 1.0, 0.5),
        Flag("behind the house", (-1.0, 2.0, 1.0), (1.0, 2.0, 1.2), 3.0, 3.0),
    ),
    boards=(
        Board("on the floor", (2.6, 2.4, 0.4), (2.7, 2.5, 2.0), 0.9, 0.6, WHITE),
        Board("into the floor", (1.6, 3.2, 0.2), (3.0, 3.0, 0.6), 0.8, 1.0, WHITE),
        Board("against the first", (3.9, 2.7, 1.1), (5.3, 3.6, 1.6), 0.8, 0.4, WHITE),
    ),
    frames=(
        Frame("lets it on", (3.4, 2.2, 1.0), (5.0, 2.5, 1.5), 1.0, 1.0, SILK),
        Frame("ends it", (2.2, 1.6, 0.9), (5.0, 2.3, 1.5), 0.5, 0.5, GRID),
    ),
)
LAMPS = {
    "outside, before the bars": Light("a", (8.4, 3.3, 3.4), (3.4, 2.3, 0.6), SPOT),
    "outside, at the corner": Light("b", (7.1, 6.4, 2.2), (3.6, 2.6, 0.8), WIDE),
    "outside, all round": Light("c", (6.4, 2.2, 1.5), (5.0, 2.4, 1.2), BULB, diffusion=SILK),
    "inside, a spot": Light("d", (0.7, 0.6, 2.3), (3.0, 2.7, 0.9), SPOT),
    "inside, wide": Light("e", (4.6, 4.2, 1.9), (2.5, 2.2, 1.0), WIDE),
    "inside, straight down": Light("f", (2.5, 2.6, 2.6), (2.5, 2.6, 0.0), WIDE),
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
    sun = Sun(bearing, elevation, 60_000)
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
