"""The ladder: every tick has its words, at its stops, and no word or pole strikes another."""

from dataclasses import replace

import numpy as np
import pytest

from lightcalc import wording
from lightcalc.answers.readings import TargetReading, Tick
from lightcalc.drawing import ladder as ladder_figures
from lightcalc.drawing import palette

import drawn_parts as parts
from drawn_parts import SETUPS
from drawn_words import boxes, clashes, new_axes, outside, place_words


def ladder_axes(dpi=100):
    return new_axes(10, 2.4, (0.02, 0.25, 0.96, 0.62), dpi)


@pytest.mark.parametrize("name", SETUPS)
def test_every_tick_is_labelled_and_no_label_touches(name):
    # INDEPENDENT: boxes measured again by the renderer.
    setup, ax = SETUPS[name](), ladder_axes()
    seen = parts.readings(setup)
    ladder_figures.ladder(ax, seen, setup)
    words = place_words(ax)
    for tick in seen.ladder():
        assert any(text.startswith(f"{tick.label} {wording.stops_text(tick.stops)}") for text, _ in words), tick
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
    ladder_figures.ladder(ax, Bare([Tick(f"face {i}", -1.0, "mark") for i in range(6)]), parts.loft())
    assert len(place_words(ax)) == 6 and clashes(place_words(ax)) == []


def test_no_pole_strikes_through_a_word():
    # DERIVED: a pole is upright, so it may touch only words whose box holds its x, above where it ends.
    setup, ax = parts.crowd(), ladder_axes()
    ladder_figures.ladder(ax, parts.readings(setup), setup)
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
    ladder_figures.ladder(ax, seen, setup)
    places = sorted(line.get_xdata()[0] for line in ax.lines if len(line.get_xydata()) == 1)
    assert places == pytest.approx(sorted(t.stops for t in seen.ladder()))
    shade = ax.patches[0].get_extents().transformed(ax.transData.inverted())
    assert (shade.x0, shade.x1) == pytest.approx((-7, 6))
    assert ax.get_xlim()[0] <= -8 and ax.get_xlim()[1] >= 7  # a stop either side, so that the ends are seen


def test_targets_are_brackets_round_the_wanted_place():
    # DERIVED: level at -0.33; fill 2 stops under a face at -0.3 is -2.3; the beam 1.5 over -0.6 is +0.9.
    setup, ax = parts.loft(), ladder_axes()
    ladder_figures.ladder(ax, parts.readings(setup), setup)
    lips = [line for line in ax.lines if line.get_color() in (palette.GREEN, palette.VERMILLION) and len(line.get_xydata()) == 4]
    pairs = {(round(a.get_xdata()[1], 6), round(b.get_xdata()[1], 6)): a for a, b in zip(lips[::2], lips[1::2])}
    third = 1 / 3
    wanted = {(round(c - third, 6), round(c + third, 6)) for c in (-0.33, -2.3, 0.9)}
    assert set(pairs) == wanted
    looks = {key: (a.get_color(), a.get_linestyle()) for key, a in pairs.items()}
    assert looks[(round(0.9 - third, 6), round(0.9 + third, 6))] == (palette.VERMILLION, "--")  # missed: dashed too
    assert looks[(round(-0.33 - third, 6), round(-0.33 + third, 6))] == (palette.GREEN, "-")


def test_a_tick_off_the_end_says_so_and_no_light_has_no_tick():
    ax = ladder_axes()
    ladder_figures.ladder(ax, Bare([Tick("moonlit wall", -30.0, "spot"), Tick("void", -np.inf, "spot")]), parts.loft())
    words = [text for text, _ in place_words(ax)]
    assert words == ["moonlit wall −30.0, off the end"]
    low, high = ax.get_xlim()
    assert low < -8 and high - low < 40


def test_a_veil_is_a_level_with_a_place_of_its_own():
    # DERIVED: a veil is wanted, and lies, in stops from middle grey, whatever it reads; never a loss.
    target = TargetReading("raker face", "veil", -3.0, 0.2, -4.1, False, -1.1)
    setup, ax = parts.loft(), ladder_axes()
    seen = replace(parts.readings(setup), targets=(target,))
    ladder_figures.ladder(ax, seen, setup)
    assert "want raker face veil −3.0: missed by −1.1" in [text for text, _ in place_words(ax)]
    assert ladder_figures.place_of_target(target, seen) == -3.0 and "lost" not in ax.get_xlabel()


@pytest.mark.parametrize("bound, edges", [("about", {-3.2, -2.8}), ("at least", {-3.0}), ("at most", {-3.0})])
def test_a_target_with_one_end_has_half_a_bracket(bound, edges):
    # DERIVED: the bracket's upright strokes stand at the ends that the target has; its lips point to where it is met.
    target = TargetReading("raker face", "veil", -3.0, 0.2, -4.1, False, -1.1, bound)
    setup, ax = parts.loft(), ladder_axes()
    ladder_figures.ladder(ax, replace(parts.readings(setup), targets=(target,)), setup)
    strokes = [line.get_xdata() for line in ax.lines if len(line.get_xdata()) == 4]
    assert {round(float(x[1]), 6) for x in strokes} == edges and all(x[1] == x[2] for x in strokes)
    assert bound == "about" or (strokes[0][0] > strokes[0][1]) == (bound == "at least")


@pytest.mark.parametrize(("units", "text"), [("metric", "120 lx (11.1 fc)"), ("feet", "11.1 fc (120 lx)")])
def test_ladder_names_middle_grey_in_both_units(units, text):
    # DERIVED: 250 x 8 x 48 / 800 = 120 lx; 120 x 0.3048^2 = 11.148 fc.
    setup, ax = parts.loft(), ladder_axes()
    ladder_figures.ladder(ax, parts.readings(setup), setup, units=units)
    assert text in ax.get_xlabel()
