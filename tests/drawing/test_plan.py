"""Plan and elevation: to scale, true to the scene, and readable (nothing cut off, no word on a word)."""

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from lightcalc.answers.light_patch import beams
from lightcalc.drawing import palette, plan, symbols
from lightcalc.kit.candela import Beam
from lightcalc.scene import shoot_file
from lightcalc.scene.parts import Light, Sun

import drawn_parts as parts
from drawn_parts import SETUPS
from drawn_words import boxes, by_gid, clashes, new_axes, outside, place_words


def metres(text):
    """A length as printed, in metres, and the step of its last digit."""
    feet = re.fullmatch(r"(\d+)' (\d+)\"", text)
    if feet:
        return (int(feet[1]) * 12 + int(feet[2])) * 0.0254, 0.0254
    number = re.fullmatch(r"(\d+(?:\.(\d+))?) m", text)
    return float(number[1]), 0.01


# --- plan ------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("name", SETUPS)
def test_plan_words_neither_touch_nor_leave_the_axes(name, units):
    # INDEPENDENT: boxes measured again by the renderer, not by the placer.
    ax = new_axes()
    plan.plan(ax, SETUPS[name](), units=units)
    words = place_words(ax)
    assert clashes(words) == []
    assert outside(words, ax.get_window_extent()) == []
    assert outside(boxes(ax.figure), ax.figure.bbox) == []


@pytest.mark.parametrize("name", [s.name for s in shoot_file.load(shoot_file.demo_path()).setups])
def test_the_film_s_plans_and_elevations_are_readable(name):
    # INDEPENDENT: boxes measured again by the renderer.
    setup = shoot_file.load(shoot_file.demo_path()).setup(name)
    for draw in (plan.plan, plan.elevation):
        ax = new_axes()
        draw(ax, setup)
        assert clashes(place_words(ax)) == []
        assert outside(place_words(ax), ax.get_window_extent()) == []


@pytest.mark.parametrize("units", ["metric", "feet"])
def test_dimension_figures_equal_the_scene_to_the_printed_digit(units):
    # DERIVED: distance along the floor from the coordinates, by Pythagoras.
    setup, ax = parts.loft(), new_axes()
    plan.plan(ax, setup, units=units)
    printed = {t.get_gid().split("|", 1)[1]: t.get_text() for t in ax.texts if str(t.get_gid()).startswith("dimension|")}
    wanted = {"room|width": 6.3, "room|depth": 4.7}
    ends = {"camera": (5.6, 0.7), "hard through window": (-2.3, 2.0), "folded sail": (3.9, 1.5)}
    wanted |= {f"{name}|raker face": np.hypot(x - 2.4, y - 2.4) for name, (x, y) in ends.items()}
    assert set(printed) == set(wanted)
    for name, text in printed.items():
        value, step = metres(text)
        assert abs(value - wanted[name]) <= step / 2 + 1e-9, name


@pytest.mark.slow
def test_dimensions_can_be_left_out():
    ax = new_axes()
    plan.plan(ax, parts.loft(), dimensions=False)
    assert not [t for t in ax.texts if str(t.get_gid()).startswith("dimension|")]


@pytest.mark.parametrize("scale", [50, 96, 125])
def test_plan_is_to_the_scale_asked_for_both_ways(scale):
    # DERIVED: 1 m at 1 : n is 1000 / n mm, a millimetre dpi / 25.4 pixels.
    ax = new_axes(9, 7, dpi=130)
    assert plan.plan(ax, parts.loft(), scale=scale) == pytest.approx(scale, rel=1e-9)
    ax.figure.draw_without_rendering()  # aspect and limits as they are printed
    corner, right, up = ax.transData.transform([(0, 0), (1, 0), (0, 1)])
    wanted = 1000 / scale * 130 / 25.4
    assert right[0] - corner[0] == pytest.approx(wanted, rel=1e-6)
    assert up[1] - corner[1] == pytest.approx(wanted, rel=1e-6)


def test_plan_that_fills_its_axes_says_its_scale():
    ax = new_axes()
    scale = plan.plan(ax, parts.pans())
    corner, right = ax.transData.transform([(0, 0), (1, 0)])
    assert (right[0] - corner[0]) * 25.4 / 100 == pytest.approx(1000 / scale, rel=1e-6)


def test_bars_leave_even_gaps():
    # DERIVED: 3 bars of 0.03 m in 1.2 m leave four gaps of 0.2775 m; bar k is centred at 0.3075 k - 0.015 m.
    ax = new_axes()
    plan.plan(ax, parts.loft())
    centres = sorted(patch.get_xy()[:-1, 1].mean() for patch in by_gid(ax, "bar|loft window"))
    assert centres == pytest.approx([2.1 - 0.6 + 0.3075 * k - 0.015 for k in (1, 2, 3)])


def test_lights_and_marks_stand_where_they_stand():
    ax = new_axes()
    plan.plan(ax, parts.loft())
    points = {tuple(np.round(line.get_xydata()[0], 6)) for line in ax.lines if len(line.get_xydata()) == 1}
    assert {(-2.3, 2.0), (5.2, 3.8), (2.4, 2.4), (1.1, 3.6), (3.0, 4.7)} <= points


def test_camera_wedge_holds_the_angle_of_view():
    # DERIVED: 2 atan(24.9 / (2 x 35)) = 39.16 deg.
    ax = new_axes()
    plan.plan(ax, parts.loft())
    rays = [line.get_xydata() for line in ax.lines if line.get_color() == palette.PURPLE]
    first, second = (ray[1] - ray[0] for ray in rays)
    cosine = first @ second / np.linalg.norm(first) / np.linalg.norm(second)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(39.16, abs=0.005)


def filled(ax, color):
    """Outlines of what is filled in a colour, beams first; without the sun's and the board's."""
    return [patch for patch in ax.patches if isinstance(patch, PathPatch) and to_hex(patch.get_facecolor()) == color.lower()]


@pytest.mark.parametrize("draw", [plan.plan, plan.elevation])
def test_no_light_is_drawn_through_masonry(draw):
    # DERIVED: the lamp stands left of the left wall. Inside, light has come through the window (y 1.5 to 2.7, z 0.9 to 2.3): on
    # the wall's line nothing is filled but there; and behind the far end of the room nothing is filled at all.
    setup, ax = replace(parts.loft(), sun=None), new_axes()
    draw(ax, replace(setup, lights=setup.lights[:1]))
    shapes = [patch.get_path() for patch in filled(ax, palette.ORANGE)]
    low, high = (1.5, 2.7) if draw is plan.plan else (0.9, 2.3)
    over = np.linspace(-1, 5, 601)
    for x, first, last in ((1e-3, low, high), (6.31, 0, 0)):
        lit = np.any([path.contains_points(np.column_stack([np.full(601, x), over])) for path in shapes], axis=0)
        assert np.all((over[lit] > first - 1e-3) & (over[lit] < last + 1e-3))
    assert any(path.contains_point((-1.0, 2.05 if draw is plan.plan else 2.5)) for path in shapes), "outside it is drawn too"


def test_light_on_the_floor_is_drawn_where_it_lands():
    # INDEPENDENT of the drawing: points of the floor in and out of the polygons that other tests hold against straight lines.
    setup = shoot_file.load(shoot_file.demo_path()).setup("1")
    setup = replace(setup, sun=Sun(bearing_deg=115, elevation_deg=22, normal_lx=30_000))
    ax, rng = new_axes(), np.random.default_rng(2)
    plan.plan(ax, setup)
    points = np.column_stack([rng.uniform(0, (6.4, 9.2), (4000, 2)), np.zeros(4000)])
    for beam in beams(setup):
        (drawn,) = (a for a in by_gid(ax, f"lands|{beam.source}|floor") if isinstance(a, PathPatch))
        inside = np.any(
            [Path(p.corners_m[:, :2]).contains_points(points[:, :2]) for p in beam.patches if p.surface == "floor"], axis=0
        )
        assert 50 < inside.sum() < 2000 and np.mean(drawn.get_path().contains_points(points[:, :2]) != inside) < 2e-3
        assert by_gid(ax, f"lands|{beam.source}|left"), "light on a wall is a line along it"


@pytest.mark.parametrize(("bearing", "falls"), [(0, (0, -1)), (90, (-1, 0)), (180, (0, 1)), (225, (np.sqrt(0.5), np.sqrt(0.5)))])
def test_sun_falls_away_from_its_bearing(bearing, falls):
    # DERIVED: with +y to the north, a sun in the east sends its light towards -x, one in the south towards +y.
    setup = parts.pans()
    setup = replace(
        setup, place=replace(setup.place, bearing_deg=0), sun=Sun(bearing_deg=bearing, elevation_deg=20, normal_lx=1_000)
    )
    ax = new_axes()
    plan.plan(ax, setup)
    start, end = by_gid(ax, "sun")[0].get_xydata()
    assert (end - start) / np.linalg.norm(end - start) == pytest.approx(falls, abs=1e-9)


def test_north_turns_with_the_room():
    # DERIVED: +y bears 35 deg, so north lies 35 deg anticlockwise of it on the plan: (-sin 35, cos 35).
    ax = new_axes()
    plan.plan(ax, parts.loft())
    start, end = by_gid(ax, "north")[0].get_xydata()
    way = (end - start) / np.linalg.norm(end - start)
    assert way == pytest.approx((-np.sin(np.radians(35)), np.cos(np.radians(35))))


def test_a_lamp_far_off_is_pointed_at_with_its_distance():
    # DERIVED: x = 60.15 m, the right wall at 6.3 m: 53.85 m out, along the floor as a tape lies.
    setup, ax = parts.loft(), new_axes()
    far_spot = Light(
        name="far spot", at=(60.15, 2.35, 8.0), aim=(2.4, 2.4, 1.5), distribution=Beam(peak_cd=1e6, beam_deg=10, field_deg=20)
    )
    plan.plan(ax, replace(setup, lights=setup.lights + (far_spot,)))
    assert any("far spot" in text and "53.85 m from the right" in text for text, _ in place_words(ax))
    assert ax.get_xlim()[1] < 20


def test_what_the_plan_shows_the_side_view_shows():
    # DERIVED: a room of 5 x 7 x 2.7 m, a lamp 3.9 m out: under 0.6 x 7 m, over 0.6 x 5 m.
    setup = parts.loft()
    room = replace(setup.place, width_m=5.0, depth_m=7.0, height_m=2.7, windows=())
    lamp = Light(name="out", at=(8.9, 2.0, 2.9), aim=(2.4, 2.4, 1.5), distribution=Beam(peak_cd=1e4, beam_deg=10, field_deg=20))
    camera = replace(setup.camera, at=(4.6, 0.7, 1.45))
    setup = replace(setup, place=room, camera=camera, lights=(lamp,), boards=(), flags=(), frames=(), key=(), spots=(), targets=())
    for axes in ((0, 1), (0, 2)):
        low, high = symbols.extent(setup, axes)
        assert (low[0], high[0]) == (0.0, 8.9), axes


@pytest.mark.slow
def test_labels_without_room_are_counted():
    ax = new_axes(1.6, 1.3, (0.2, 0.2, 0.75, 0.75))
    plan.plan(ax, parts.crowd())
    words = place_words(ax)
    assert clashes(words) == [] and outside(words, ax.get_window_extent()) == []


@pytest.mark.slow
def test_someones_words_are_not_read_as_formulas():
    setup, ax = parts.loft(), new_axes()
    setup = replace(setup, lights=(setup.lights[0], replace(setup.lights[1], name="cost $5 or $6 {x}")))
    plan.plan(ax, setup)
    assert any("$5 or $6" in text for text, _ in place_words(ax))
    assert boxes(ax.figure)  # draws without choking on the dollars


# --- elevation -------------------------------------------------------------------------------------


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("name", SETUPS)
@pytest.mark.slow
def test_elevation_words_neither_touch_nor_leave_the_axes(name, along):
    ax = new_axes()
    plan.elevation(ax, SETUPS[name](), along=along)
    assert clashes(place_words(ax)) == []
    assert outside(place_words(ax), ax.get_window_extent()) == []


def test_elevation_shows_heights_where_they_are():
    ax = new_axes()
    plan.elevation(ax, parts.loft(), along="y")
    points = {tuple(np.round(line.get_xydata()[0], 6)) for line in ax.lines if len(line.get_xydata()) == 1}
    assert {(2.0, 3.1), (3.8, 2.0), (2.4, 1.55), (3.6, 1.1)} <= points  # y and z of lights and marks
    text = " ".join(text for text, _ in place_words(ax))
    assert "h 3.1 m" in text and "h 1.45 m" in text


def test_elevation_runs_along_a_floor_axis():
    with pytest.raises(ValueError, match="along must be one of x, y, got 'z'"):
        plan.elevation(new_axes(), parts.loft(), along="z")
