"""Drawings of a day: what is drawn is what was asked, axes say quantity and unit, hours are the clock's."""

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Polygon

from lightcalc.answers import day_course, haze_course, haze_plan, window_sun
from lightcalc.drawing import day_curves
from lightcalc.scene import shoot_file, sun_and_sky
from lightcalc.sky.clock import LocalDay

DEMO = shoot_file.load(shoot_file.demo_path())
CLOCK = sun_and_sky.Clock(DEMO.where, DEMO.dates[0], tuple(range(1080, 1261, 20)))


@pytest.fixture
def ax():
    return Figure(figsize=(7, 4), layout="constrained").subplots()


def curve():
    """A made-up fall of two marks."""
    fall = np.linspace(2.0, -6.0, len(CLOCK.minutes))
    return day_course.DayCurve(
        DEMO.setup("3"), CLOCK, np.linspace(20, -5, len(fall)), ("raker", "sky"), np.stack([fall, fall + 2], axis=1), ()
    )


def words(ax):
    ax.figure.draw_without_rendering()
    return [text.get_text() for text in ax.texts] + [t.get_text() for t in ax.get_xticklabels()]


def test_levels_are_the_curve_and_hours_are_the_clock(ax):
    drawn = curve()
    ride = drawn.ride("raker", at_stops=0.0, from_minute=1100, to_minute=1130)
    day_curves.levels(ax, drawn, band=(-0.7, 0.0), ride=ride)
    assert ax.lines[0].get_ydata() == pytest.approx(drawn.of("raker")) and ax.lines[1].get_ydata() == pytest.approx(drawn.of("sky"))
    said = words(ax)
    assert "18:00" in said and "20:00" in said and [t for t in said if t.startswith("T")] == [f"T{s.label:g}" for s in ride]
    assert "(stops)" in ax.get_ylabel() and "2028-08-20" in ax.get_xlabel() and "Europe/Berlin" in ax.get_xlabel()
    assert len({line.get_linestyle() for line in ax.lines[:2]}) == 2  # grey print keeps them apart


def test_height_of_the_sun_stands_over_its_hour(ax):
    day_curves.levels(ax, curve())
    ax.figure.draw_without_rendering()
    (top,) = list(ax.child_axes)
    assert "degrees" in top.get_xlabel()
    heights = {place: text.get_text() for place, text in zip(top.get_xticks(), top.get_xticklabels())}
    assert heights[1080.0] == "20°" and heights[1260.0] == "-5°"


def test_a_figure_against_the_sky(ax):
    seen = day_course.Silhouette(
        np.array(CLOCK.minutes, float), np.linspace(5, 1, 10), np.linspace(2, -2, 10), np.linspace(0, -4, 10)
    )
    day_curves.against_sky(ax, seen, CLOCK)
    assert [line.get_label() for line in ax.lines] == ["sky behind", "face", "body"]
    assert ax.lines[1].get_ydata() == pytest.approx(seen.face_stops) and "(stops)" in ax.get_ylabel()


def test_patches_on_plan_and_elevation_are_those_of_the_sun():
    setup = DEMO.setup("1")
    today, window = LocalDay(DEMO.dates[0], DEMO.time_zone), window_sun.window_of(setup.place, "barred")
    stops = window_sun.patch_walk(DEMO.where, setup.place, window, today, [today.minute("07:30"), today.minute("10:00")])
    plan_ax, side_ax = Figure(figsize=(10, 5)).subplots(1, 2)
    day_curves.window_sun(plan_ax, side_ax, setup, stops)
    wanted = [patch.corners_m for stop in stops for patch in stop.patches]
    for ax, axes in ((plan_ax, [0, 1]), (side_ax, [0, 2])):
        shapes = [shape.get_xy() for shape in ax.patches if isinstance(shape, Polygon)]
        for corners in wanted:
            assert any(len(s) >= len(corners) and np.allclose(s[: len(corners)], corners[:, axes]) for s in shapes)
        assert {"07:30", "10:00"} <= set(words(ax))
    assert not any("lamp" in text for text in words(plan_ax)), "lamps are left out"


def test_the_plans_words_keep_off_the_patches():
    # The hours lie on their patches; what else is named on the plan lies beside them where there is room, as here.
    setup, hours = DEMO.setup("1"), ("07:00", "08:30", "10:00", "12:00")
    today, window = LocalDay(DEMO.dates[0], DEMO.time_zone), window_sun.window_of(setup.place, "barred")
    stops = window_sun.patch_walk(DEMO.where, setup.place, window, today, [today.minute(text) for text in hours])
    figure = Figure(figsize=(8, 4))
    figure.subplots_adjust(left=0.07, right=0.99, bottom=0.12, top=0.91, wspace=0.15)
    plan_ax, side_ax = figure.subplots(1, 2)
    day_curves.window_sun(plan_ax, side_ax, setup, stops)
    (label,) = [text for text in plan_ax.texts if text.get_text().startswith("barred")]
    box = label.get_window_extent()
    for patch in (patch for stop in stops for patch in stop.patches):
        low, high = (plan_ax.transData.transform(end(patch.corners_m, axis=0)[:2]) for end in (np.min, np.max))
        assert box.x1 < low[0] or box.x0 > high[0] or box.y1 < low[1] or box.y0 > high[1], label.get_text()


def test_air_over_hours(ax):
    plan = haze_plan.air_plan(DEMO, DEMO.setup("1"))
    cues = [haze_course.Cue(0, 18), haze_course.Cue(60, 40, on_min=5, off_min=15)]
    run = haze_course.course(
        plan.box,
        plan.machine,
        cues,
        minutes=200.0,
        doors=[haze_course.Door(150, 20, exchange_m3_h=900)],
        other=haze_course.Box(60, 2.5, 2.0),
    )
    day_curves.air_hours(ax, run, band=(0.03, 0.05), cues=cues)
    assert ax.lines[0].get_ydata() == pytest.approx(run.extinction_per_m) and ax.lines[0].get_xdata()[-1] == pytest.approx(200 / 60)
    # DERIVED: the right axis is the left one over the mass extinction.
    assert ax.lines[1].get_ydata() == pytest.approx(run.other_mg_m3 * run.mass_extinction_m2_g / 1000)
    (right,) = list(ax.child_axes)
    ax.figure.draw_without_rendering()
    low, high = ax.get_ylim()
    assert right.get_ylim() == pytest.approx((1000 * low / run.mass_extinction_m2_g, 1000 * high / run.mass_extinction_m2_g))
    assert "(1/m)" in ax.get_ylabel() and "(mg/m³)" in right.get_ylabel() and "(h)" in ax.get_xlabel()
    bars = [bar for bar in ax.collections if bar.get_label() == "machine on"]
    assert len(bars[0].get_paths()) == 3  # one long, two pulses
