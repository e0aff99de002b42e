"""Drawings: to scale, true to the scene, and readable (nothing cut off, no word on a word)."""

import itertools
import re
from dataclasses import replace
from unittest import mock

import drawn_parts as parts
import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from lightcalc import figures, shootfile
from lightcalc.fixtures import Beam, Lambert, Photometry
from lightcalc.meter import TargetReading, Tick
from lightcalc.scene import Light, Sun
from lightcalc.view import Picture

SETUPS = {"loft": parts.loft, "crowd": parts.crowd, "pans": parts.pans, "bare": parts.bare}


def new_axes(width_in=7.0, height_in=5.0, place=(0.09, 0.1, 0.88, 0.86), dpi=100):
    return Figure(figsize=(width_in, height_in), dpi=dpi).add_axes(place)


def boxes(figure):
    """Every word that is really drawn (matplotlib keeps spare tick labels) with its box in pixels."""
    drawn, draw = [], Text.draw

    def note(text, renderer, *args, **kwargs):
        if text.get_visible() and text.get_text().strip():
            drawn.append((text.get_text(), text.get_window_extent(renderer)))
        return draw(text, renderer, *args, **kwargs)

    with mock.patch.object(Text, "draw", note):
        figure.draw_without_rendering()
    return drawn


def clashes(words, slack_px=0.5):
    """Pairs of words whose boxes overlap by more than half a pixel both ways."""
    found = []
    for (a, p), (b, q) in itertools.combinations(words, 2):
        wide, high = min(p.x1, q.x1) - max(p.x0, q.x0), min(p.y1, q.y1) - max(p.y0, q.y0)
        if wide > slack_px and high > slack_px:
            found.append((a, b))
    return found


def outside(words, box, slack_px=0.5):
    return [
        text for text, b in words
        if b.x0 < box.x0 - slack_px or b.x1 > box.x1 + slack_px or b.y0 < box.y0 - slack_px or b.y1 > box.y1 + slack_px
    ]  # fmt: skip


def place_words(ax):
    """Words in the axes, without its ticks and axis labels."""
    return [(t.get_text(), t.get_window_extent()) for t in ax.texts if t.get_text().strip()]


def by_gid(ax, gid):
    return [artist for artist in ax.findobj(lambda a: a.get_gid() == gid)]


def metres(text):
    """A length as printed, in metres, and the step of its last digit."""
    feet = re.fullmatch(r"(\d+)' (\d+)\"", text)
    if feet:
        return (int(feet[1]) * 12 + int(feet[2])) * 0.0254, 0.0254
    number = re.fullmatch(r"(\d+(?:\.(\d+))?) m", text)
    return float(number[1]), 0.01


# --- numbers in words ------------------------------------------------------------------------------


def test_lengths_in_feet_are_exact_inches():
    # PUBLISHED: international foot 0.3048 m (1959), so an inch is 25.4 mm.
    assert figures.length_text(2.54, units="feet") == "8' 4\""
    assert figures.length_text(0.3048 * 3 - 0.0001, units="feet") == "3' 0\""  # never 2' 12"
    assert figures.length_text(-0.61, units="feet") == "-2' 0\""


def test_numbers_keep_three_figures_and_never_an_exponent():
    # DERIVED: rounding by hand.
    wanted = {123_456.0: "123000", 0.000012345: "0.0000123", 60.0: "60", 1.005: "1", 0.0: "0", -2.345: "-2.35", 1e-30: "0"}
    assert {value: figures.number_text(value) for value in wanted} == wanted
    assert figures.number_text(np.inf) == "–"


def test_stops_have_a_true_minus_and_no_minus_zero():
    # DERIVED: rounding by hand.
    assert [figures.stops_text(v) for v in (-0.04, 0.04, -1.26, np.nan, -np.inf)] == ["0.0", "0.0", "−1.3", "–", "no light"]


@pytest.mark.parametrize("bad", ["ft", "", None])
def test_units_are_named(bad):
    with pytest.raises(ValueError, match="units must be one of metric, feet"):
        figures.length_text(1.0, units=bad)


def test_someones_words_stay_on_one_line_and_are_not_read_as_formulas():
    assert figures.one_line("a\n b\t\x00c") == "a b c"
    setup, ax = parts.loft(), new_axes()
    setup = replace(setup, lights=(setup.lights[0], replace(setup.lights[1], name="cost $5 or $6 {x}")))
    figures.plan(ax, setup)
    assert any("$5 or $6" in text for text, _ in place_words(ax))
    assert boxes(ax.figure)  # draws without choking on the dollars


# --- what belongs to what --------------------------------------------------------------------------


def test_every_part_has_its_own_sign():
    signs = figures.call_signs(parts.crowd())
    assert [signs[light.name] for light in parts.crowd().lights] == [str(i) for i in range(1, 13)]
    assert len(set(signs.values())) == len(signs) == 12 + 5 + 1 + 4
    assert figures._letters(25) == "Z" and figures._letters(26) == "AA" and figures._letters(52) == "BA"


def test_beam_angle_is_where_half_is_left():
    # DERIVED: cos 60 deg = 1/2, so a Lambert face has 120 deg; a lamp that is the same all round has no half.
    assert figures.beam_angle_deg(Lambert(peak_cd=10)) == pytest.approx(120, abs=0.11)  # grid of 0.05 deg, both sides
    assert figures.beam_angle_deg(Beam(peak_cd=1, beam_deg=23, field_deg=40)) == 23
    bulb = Photometry(vertical_deg=(0, 180), horizontal_deg=(0,), candela=((60, 60),))
    assert figures.beam_angle_deg(bulb) == 360


def test_dimensions_run_from_key_camera_and_board_to_their_marks():
    rows = {name: (mark, start, end) for name, mark, start, end in figures.dimensions_of(parts.loft())}
    assert set(rows) == {"camera", "hard through window", "folded sail"}
    assert all(mark == "raker face" for mark, _, _ in rows.values())
    assert rows["camera"][1:] == ((5.6, 0.7, 1.45), (2.4, 2.4, 1.55))
    assert figures.dimensions_of(parts.bare()) == []


# --- plan ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["metric", "feet"])
@pytest.mark.parametrize("name", SETUPS)
def test_plan_words_neither_touch_nor_leave_the_axes(name, units):
    # INDEPENDENT: boxes measured again by the renderer, not by the placer.
    ax = new_axes()
    figures.plan(ax, SETUPS[name](), units=units)
    words = place_words(ax)
    assert clashes(words) == []
    assert outside(words, ax.get_window_extent()) == []
    assert outside(boxes(ax.figure), ax.figure.bbox) == []


@pytest.mark.parametrize("name", [s.name for s in shootfile.load(shootfile.demo_path()).setups])
def test_the_film_s_plans_and_elevations_are_readable(name):
    # INDEPENDENT: boxes measured again by the renderer.
    setup = shootfile.load(shootfile.demo_path()).setup(name)
    for draw in (figures.plan, figures.elevation):
        ax = new_axes()
        draw(ax, setup)
        assert clashes(place_words(ax)) == []
        assert outside(place_words(ax), ax.get_window_extent()) == []


@pytest.mark.parametrize("units", ["metric", "feet"])
def test_dimension_figures_equal_the_scene_to_the_printed_digit(units):
    # DERIVED: distance along the floor from the coordinates, by Pythagoras.
    setup, ax = parts.loft(), new_axes()
    figures.plan(ax, setup, units=units)
    printed = {t.get_gid().split("|", 1)[1]: t.get_text() for t in ax.texts if str(t.get_gid()).startswith("dimension|")}
    wanted = {"room|width": 6.3, "room|depth": 4.7}
    ends = {"camera": (5.6, 0.7), "hard through window": (-2.3, 2.0), "folded sail": (3.9, 1.5)}
    wanted |= {f"{name}|raker face": np.hypot(x - 2.4, y - 2.4) for name, (x, y) in ends.items()}
    assert set(printed) == set(wanted)
    for name, text in printed.items():
        value, step = metres(text)
        assert abs(value - wanted[name]) <= step / 2 + 1e-9, name


def test_dimensions_can_be_left_out():
    ax = new_axes()
    figures.plan(ax, parts.loft(), dimensions=False)
    assert not [t for t in ax.texts if str(t.get_gid()).startswith("dimension|")]


@pytest.mark.parametrize("scale", [50, 96, 125])
def test_plan_is_to_the_scale_asked_for_both_ways(scale):
    # DERIVED: 1 m at 1 : n is 1000 / n mm, a millimetre dpi / 25.4 pixels.
    ax = new_axes(9, 7, dpi=130)
    assert figures.plan(ax, parts.loft(), scale=scale) == pytest.approx(scale, rel=1e-9)
    ax.figure.draw_without_rendering()  # aspect and limits as they are printed
    corner, right, up = ax.transData.transform([(0, 0), (1, 0), (0, 1)])
    wanted = 1000 / scale * 130 / 25.4
    assert right[0] - corner[0] == pytest.approx(wanted, rel=1e-6)
    assert up[1] - corner[1] == pytest.approx(wanted, rel=1e-6)


def test_plan_that_fills_its_axes_says_its_scale():
    ax = new_axes()
    scale = figures.plan(ax, parts.pans())
    corner, right = ax.transData.transform([(0, 0), (1, 0)])
    assert (right[0] - corner[0]) * 25.4 / 100 == pytest.approx(1000 / scale, rel=1e-6)


def test_bars_leave_even_gaps():
    # DERIVED: 3 bars of 0.03 m in 1.2 m leave four gaps of 0.2775 m; bar k is centred at 0.3075 k - 0.015 m.
    ax = new_axes()
    figures.plan(ax, parts.loft())
    centres = sorted(patch.get_xy()[:-1, 1].mean() for patch in by_gid(ax, "bar|loft window"))
    assert centres == pytest.approx([2.1 - 0.6 + 0.3075 * k - 0.015 for k in (1, 2, 3)])


def test_lights_and_marks_stand_where_they_stand():
    ax = new_axes()
    figures.plan(ax, parts.loft())
    points = {tuple(np.round(line.get_xydata()[0], 6)) for line in ax.lines if len(line.get_xydata()) == 1}
    assert {(-2.3, 2.0), (5.2, 3.8), (2.4, 2.4), (1.1, 3.6), (3.0, 4.7)} <= points


def test_camera_wedge_holds_the_angle_of_view():
    # DERIVED: 2 atan(24.9 / (2 x 35)) = 39.16 deg.
    ax = new_axes()
    figures.plan(ax, parts.loft())
    rays = [line.get_xydata() for line in ax.lines if line.get_color() == figures.PURPLE]
    first, second = (ray[1] - ray[0] for ray in rays)
    cosine = first @ second / np.linalg.norm(first) / np.linalg.norm(second)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(39.16, abs=0.005)


@pytest.mark.parametrize(("bearing", "falls"), [(0, (0, -1)), (90, (-1, 0)), (180, (0, 1)), (225, (np.sqrt(0.5), np.sqrt(0.5)))])
def test_sun_falls_away_from_its_bearing(bearing, falls):
    # DERIVED: with +y to the north, a sun in the east sends its light towards -x, one in the south towards +y.
    setup = parts.pans()
    setup = replace(setup, place=replace(setup.place, bearing_deg=0), sun=Sun(bearing, 20, 1_000))
    ax = new_axes()
    figures.plan(ax, setup)
    start, end = by_gid(ax, "sun")[0].get_xydata()
    assert (end - start) / np.linalg.norm(end - start) == pytest.approx(falls, abs=1e-9)


def test_north_turns_with_the_room():
    # DERIVED: +y bears 35 deg, so north lies 35 deg anticlockwise of it on the plan: (-sin 35, cos 35).
    ax = new_axes()
    figures.plan(ax, parts.loft())
    start, end = by_gid(ax, "north")[0].get_xydata()
    way = (end - start) / np.linalg.norm(end - start)
    assert way == pytest.approx((-np.sin(np.radians(35)), np.cos(np.radians(35))))


def test_a_lamp_far_off_is_pointed_at_with_its_distance():
    # DERIVED: (60.15, 2.35) from the middle of the floor (3.15, 2.35) at height 8: hypot(57, 8) = 57.56 m.
    setup, ax = parts.loft(), new_axes()
    moon = Light("moon", (60.15, 2.35, 8.0), (2.4, 2.4, 1.5), Beam(peak_cd=1e6, beam_deg=10, field_deg=20))
    figures.plan(ax, replace(setup, lights=setup.lights + (moon,)))
    assert any("moon" in text and "57.56 m off" in text for text, _ in place_words(ax))
    assert ax.get_xlim()[1] < 20


def test_labels_without_room_are_counted():
    ax = new_axes(1.6, 1.3, (0.2, 0.2, 0.75, 0.75))
    figures.plan(ax, parts.crowd())
    words = place_words(ax)
    assert clashes(words) == [] and outside(words, ax.get_window_extent()) == []


# --- elevation -------------------------------------------------------------------------------------


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("name", SETUPS)
def test_elevation_words_neither_touch_nor_leave_the_axes(name, along):
    ax = new_axes()
    figures.elevation(ax, SETUPS[name](), along=along)
    assert clashes(place_words(ax)) == []
    assert outside(place_words(ax), ax.get_window_extent()) == []


def test_elevation_shows_heights_where_they_are():
    ax = new_axes()
    figures.elevation(ax, parts.loft(), along="y")
    points = {tuple(np.round(line.get_xydata()[0], 6)) for line in ax.lines if len(line.get_xydata()) == 1}
    assert {(2.0, 3.1), (3.8, 2.0), (2.4, 1.55), (3.6, 1.1)} <= points  # y and z of lights and marks
    text = " ".join(text for text, _ in place_words(ax))
    assert "h 3.1 m" in text and "h 1.45 m" in text


def test_elevation_runs_along_a_floor_axis():
    with pytest.raises(ValueError, match="along must be one of x, y, got 'z'"):
        figures.elevation(new_axes(), parts.loft(), along="z")


# --- ladder ----------------------------------------------------------------------------------------


def ladder_axes(dpi=100):
    return new_axes(10, 2.4, (0.02, 0.25, 0.96, 0.62), dpi)


@pytest.mark.parametrize("name", SETUPS)
def test_every_tick_is_labelled_and_no_label_touches(name):
    # INDEPENDENT: boxes measured again by the renderer.
    setup, ax = SETUPS[name](), ladder_axes()
    seen = parts.readings(setup)
    figures.ladder(ax, seen, setup)
    words = place_words(ax)
    for tick in seen.ladder():
        assert any(text.startswith(f"{tick.label} {figures.stops_text(tick.stops)}") for text, _ in words), tick
    assert clashes(words) == []
    assert outside(words, ax.get_window_extent()) == []
    assert outside(boxes(ax.figure), ax.figure.bbox) == []


class Bare:
    """Readings with ticks of one's own."""

    def __init__(self, ticks, targets=()):
        self.ticks, self.targets, self.marks, self.spots = ticks, targets, (), ()
        self.reference_lx, self.reference_cd_m2 = 240.0, 13.75

    def ladder(self):
        return self.ticks


def test_ticks_at_one_place_still_read():
    ax = ladder_axes()
    figures.ladder(ax, Bare([Tick(f"face {i}", -1.0, "mark") for i in range(6)]), parts.loft())
    assert len(place_words(ax)) == 6 and clashes(place_words(ax)) == []


def test_no_pole_strikes_through_a_word():
    # DERIVED: a pole is upright, so it may touch only words whose box holds its x, above where it ends.
    setup, ax = parts.crowd(), ladder_axes()
    figures.ladder(ax, parts.readings(setup), setup)
    poles = [line.get_xydata() for line in ax.lines if len(line.get_xydata()) == 2 and np.ptp(line.get_xydata()[:, 0]) == 0]
    poles = [ax.transData.transform(p) for p in poles if p[0, 1] == 0 and p[1, 1] != 0]
    assert len(poles) >= 20
    for text, box in place_words(ax):
        for (x, y0), (_, y1) in poles:
            through = box.x0 + 0.5 < x < box.x1 - 0.5 and min(y0, y1) < box.y1 - 1 and max(y0, y1) > box.y0 + 1
            assert not through, text


def test_ticks_sit_at_their_stops_and_the_range_is_the_sensor_s():
    setup, ax = parts.loft(), ladder_axes()
    seen = parts.readings(setup)
    figures.ladder(ax, seen, setup)
    places = sorted(line.get_xdata()[0] for line in ax.lines if len(line.get_xydata()) == 1)
    assert places == pytest.approx(sorted(t.stops for t in seen.ladder()))
    shade = ax.patches[0].get_extents().transformed(ax.transData.inverted())
    assert (shade.x0, shade.x1) == pytest.approx((-7, 6))
    assert ax.get_xlim()[0] <= -8 and ax.get_xlim()[1] >= 7  # a stop either side, so that the ends are seen


def test_targets_are_brackets_round_the_wanted_place():
    # DERIVED: level at -0.33; fill 2 stops under a face at -0.3 is -2.3; the beam 1.5 over -0.6 is +0.9.
    setup, ax = parts.loft(), ladder_axes()
    figures.ladder(ax, parts.readings(setup), setup)
    lips = [line for line in ax.lines if line.get_color() in (figures.GREEN, figures.VERMILLION) and len(line.get_xydata()) == 4]
    pairs = {(round(a.get_xdata()[1], 6), round(b.get_xdata()[1], 6)): a for a, b in zip(lips[::2], lips[1::2])}
    third = 1 / 3
    wanted = {(round(c - third, 6), round(c + third, 6)) for c in (-0.33, -2.3, 0.9)}
    assert set(pairs) == wanted
    looks = {key: (a.get_color(), a.get_linestyle()) for key, a in pairs.items()}
    assert looks[(round(0.9 - third, 6), round(0.9 + third, 6))] == (figures.VERMILLION, "--")  # missed: dashed too
    assert looks[(round(-0.33 - third, 6), round(-0.33 + third, 6))] == (figures.GREEN, "-")


def test_a_tick_off_the_end_says_so_and_no_light_has_no_tick():
    ax = ladder_axes()
    figures.ladder(ax, Bare([Tick("moonlit wall", -30.0, "spot"), Tick("void", -np.inf, "spot")]), parts.loft())
    words = [text for text, _ in place_words(ax)]
    assert words == ["moonlit wall −30.0, off the end"]
    low, high = ax.get_xlim()
    assert low < -8 and high - low < 40


def test_contrast_lost_to_the_air_is_written_not_drawn():
    target = TargetReading("raker face", "veil", 0.3, 0.2, 0.9, False, 0.6)
    setup, ax = parts.loft(), ladder_axes()
    figures.ladder(ax, replace(parts.readings(setup), targets=(target,)), setup)
    assert "Contrast lost to the air at raker face: 0.9 stops, wanted 0.3: missed by +0.6" in ax.get_xlabel()


@pytest.mark.parametrize(("units", "text"), [("metric", "120 lx (11.1 fc)"), ("feet", "11.1 fc (120 lx)")])
def test_ladder_names_middle_grey_in_both_units(units, text):
    # DERIVED: 250 x 8 x 48 / 800 = 120 lx; 120 x 0.3048^2 = 11.148 fc.
    setup, ax = parts.loft(), ladder_axes()
    figures.ladder(ax, parts.readings(setup), setup, units=units)
    assert text in ax.get_xlabel()


# --- picture, contours, twin -----------------------------------------------------------------------


def test_grey_scale_rises_by_whole_stops_through_the_same_curve():
    setup = parts.loft()
    ax = new_axes(4, 3, (0.05, 0.2, 0.9, 0.7))
    picture = parts.picture(setup)
    figures.picture(ax, picture)
    strip = ax.child_axes[0].images[0].get_array()[0, :, 0].astype(int)
    assert len(strip) == 13 and np.all(np.diff(strip) >= 0) and strip[0] < strip[6] < strip[9]
    grey = Picture(np.full((1, 1), picture.reference_cd_m2, np.float32), picture.reference_cd_m2).rgba()[0, 0, 0]
    assert strip[6] == grey


def test_contours_lie_on_whole_stops():
    # DERIVED: a picture that gains one stop in ten columns crosses stop k at column 45 + 10 k.
    reference = 13.75
    ramp = np.repeat(reference * np.exp2((np.arange(91) - 45) / 10.0)[None], 40, axis=0).astype(np.float32)
    ax = new_axes(6, 3, (0.05, 0.2, 0.9, 0.7))
    figures.contours(ax, Picture(ramp, reference))
    lines = next(c for c in ax.collections if hasattr(c, "levels"))
    for level, pieces in zip(lines.levels, lines.allsegs):
        assert np.concatenate(pieces)[:, 0] == pytest.approx(45 + 10 * level, abs=1e-3)
    assert list(lines.levels) == list(range(-4, 5))
    assert ax.images[0].get_cmap().name == "cividis"
    words = place_words(ax)
    assert {"grey", "+1", "−4"} <= {text for text, _ in words} and clashes(words) == []


def test_contours_of_a_black_picture_draw_nothing():
    ax = new_axes()
    figures.contours(ax, Picture(np.zeros((9, 16), np.float32), 13.75))
    assert not [c for c in ax.collections if hasattr(c, "levels")]


@pytest.mark.parametrize("name", ["loft", "pans", "bare"])
def test_twin_reads_at_900_pixels(name):
    # COMMON PRACTICE: below about 6 pixels of type height screens stop being readable.
    setup = SETUPS[name]()
    figure = figures.stage_twin(setup, parts.readings(setup), parts.picture(setup))
    assert tuple(figure.get_size_inches()) == (11, 6)
    words = boxes(figure)
    assert clashes(words) == [] and outside(words, figure.bbox) == []
    smallest = min(t.get_fontsize() for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible())
    assert smallest / 72 * 900 / 11 >= 6


def test_drawing_leaves_pyplot_alone():
    import sys

    figures.stage_twin(parts.bare(), parts.readings(parts.bare()), parts.picture(parts.bare()))
    pyplot = sys.modules.get("matplotlib.pyplot")
    assert pyplot is None or not pyplot.get_fignums()
    assert matplotlib.rcParams["pdf.fonttype"] == matplotlib.rcParamsDefault["pdf.fonttype"]
