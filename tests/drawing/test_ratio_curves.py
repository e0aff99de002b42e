"""Drawings of ratios: the lines are the numbers given, the shaded stretch ends where the rule of thumb is good."""

import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure

from lightcalc.answers.board_distance import RatioCurve
from lightcalc.drawing import ratio_curves
from lightcalc.units import FT

matplotlib.use("agg")
FAR = np.geomspace(0.6, 4.8, 7)
CURVE = RatioCurve(FAR, np.full(7, 300.0), 60.0 + 200.0 / FAR**2, 200.0 / FAR**2, 200.0 / FAR**2 * (1 + 1 / FAR**2), False)


def drawn(draw, *args, **more):
    ax = Figure(figsize=(6, 4)).add_subplot()
    draw(ax, *args, **more)
    ax.figure.canvas.draw()
    return ax, {line.get_label(): np.asarray(line.get_xydata()) for line in ax.lines}


@pytest.mark.parametrize("units, metre", [("metric", 1.0), ("feet", 1 / FT)])
def test_both_ratios_and_both_formulas(units, metre):
    # DERIVED: the ratio by hand, (K + F)/F and K/F, at every distance; point formula with its own fill.
    ax, lines = drawn(ratio_curves.ratio_against_distance, CURVE, units=units, wanted=4.0)
    fill, point = 60.0 + 200.0 / FAR**2, 60.0 + 200.0 / FAR**2 * (1 + 1 / FAR**2)
    assert lines["(key + fill) : fill"] == pytest.approx(np.c_[FAR * metre, 300 / fill + 1])
    assert lines["key : fill"] == pytest.approx(np.c_[FAR * metre, 300 / fill])
    assert lines["key : fill, board as a point"] == pytest.approx(np.c_[FAR * metre, 300 / point])
    assert lines["wanted, 4.0 : 1"][0, 1] == 4.0 and ax.get_yscale() == "log"
    assert ("(m)" if units == "metric" else "(ft)") in ax.get_xlabel()


def test_the_shade_ends_where_the_rule_is_good():
    # DERIVED: 1 + 1/d^2 is 2^(1/3) at d = 1.96 m.
    ax, _ = drawn(ratio_curves.ratio_against_distance, CURVE)
    box = ax.patches[0].get_extents().transformed(ax.transData.inverted())
    assert box.x1 == pytest.approx(1 / np.sqrt(2 ** (1 / 3) - 1), rel=0.03) and box.x0 == pytest.approx(0.6)
    good = RatioCurve(FAR, CURVE.key_lx, CURVE.fill_lx, CURVE.board_lx, CURVE.board_lx, False)
    assert not drawn(ratio_curves.ratio_against_distance, good)[0].patches


def test_ratios_are_written_to_one():
    ax, _ = drawn(ratio_curves.ratio_against_distance, CURVE)
    words = [text.get_text() for text in ax.get_yticklabels()]
    assert {"1 : 1", "2 : 1", "1 : 2"} <= set(words)


@pytest.mark.parametrize("draw", [ratio_curves.falloff_curves, ratio_curves.contrast_in_haze])
def test_a_line_for_each_name(draw):
    ax, lines = drawn(draw, FAR, {"small": -FAR, "large": -FAR / 2}, units="feet")
    assert lines["small"] == pytest.approx(np.c_[FAR / FT, -FAR]) and lines["large"][:, 1] == pytest.approx(-FAR / 2)
    assert len({line.get_linestyle() for line in ax.lines}) == 2, "a second cue beside the colour"
    assert "stops" in ax.get_ylabel() and "(ft)" in ax.get_xlabel()
    with pytest.raises(ValueError, match="units"):
        drawn(draw, FAR, {}, units="yards")


def test_a_figure_with_the_board_as_it_stands():
    from lightcalc.answers.readings import readings
    from lightcalc.scene.shoot_file import demo_path, load

    setup = load(demo_path()).setup("3")
    figure = ratio_curves.board_figure(setup, board="sun board", mark="raker", steps=7, wanted=1.5)
    (ax,) = figure.axes
    x, y = next(line.get_xydata()[0] for line in ax.lines if line.get_marker() == "o" and len(line.get_xydata()) == 1)
    # DERIVED: the ring is on the curve at the board's own distance, so it is the setup's own reading; 2 %: between points.
    assert x == pytest.approx(np.linalg.norm(np.subtract(setup.part("sun board").at, setup.part("raker").at)))
    assert y == pytest.approx(readings(setup).marks[0].ratio, rel=0.02)
    assert "sun board" in ax.get_title(loc="left")
