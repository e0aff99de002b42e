"""Picture, contours and the twin of the stage: the stops are where they should be, and the words readable."""

import matplotlib
import numpy as np
import pytest
from matplotlib.text import Text

from lightcalc.drawing import picture_figures
from lightcalc.engine.picture import Picture

import drawn_parts as parts
from drawn_parts import SETUPS
from drawn_words import boxes, clashes, new_axes, outside, place_words


def test_grey_scale_rises_by_whole_stops_through_the_same_curve():
    setup = parts.loft()
    ax = new_axes(4, 3, (0.05, 0.2, 0.9, 0.7))
    picture = parts.picture(setup)
    picture_figures.picture(ax, picture)
    strip = ax.child_axes[0].images[0].get_array()[0, :, 0].astype(int)
    assert len(strip) == 13 and np.all(np.diff(strip) >= 0) and strip[0] < strip[6] < strip[9]
    grey = Picture(np.full((1, 1), picture.reference_cd_m2, np.float32), picture.reference_cd_m2).rgba()[0, 0, 0]
    assert strip[6] == grey


def test_contours_lie_on_whole_stops():
    # DERIVED: a picture that gains one stop in ten columns crosses stop k at column 45 + 10 k.
    reference = 13.75
    ramp = np.repeat(reference * np.exp2((np.arange(91) - 45) / 10.0)[None], 40, axis=0).astype(np.float32)
    ax = new_axes(6, 3, (0.05, 0.2, 0.9, 0.7))
    picture_figures.contours(ax, Picture(ramp, reference))
    lines = next(c for c in ax.collections if hasattr(c, "levels"))
    for level, pieces in zip(lines.levels, lines.allsegs):
        assert np.concatenate(pieces)[:, 0] == pytest.approx(45 + 10 * level, abs=1e-3)
    assert list(lines.levels) == list(range(-4, 5))
    assert ax.images[0].get_cmap().name == "cividis"
    words = place_words(ax)
    assert {"grey", "+1", "−4"} <= {text for text, _ in words} and clashes(words) == []


def test_contours_of_a_black_picture_draw_nothing():
    ax = new_axes()
    picture_figures.contours(ax, Picture(np.zeros((9, 16), np.float32), 13.75))
    assert not [c for c in ax.collections if hasattr(c, "levels")]


@pytest.mark.parametrize("name", ["loft", "pans", "bare"])
@pytest.mark.slow
def test_twin_reads_at_900_pixels(name):
    # COMMON PRACTICE: below about 6 pixels of type height screens stop being readable.
    setup = SETUPS[name]()
    figure = picture_figures.stage_twin(setup, parts.readings(setup), parts.picture(setup))
    assert tuple(figure.get_size_inches()) == (11, 6)
    words = boxes(figure)
    assert clashes(words) == [] and outside(words, figure.bbox) == []
    smallest = min(t.get_fontsize() for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible())
    assert smallest / 72 * 900 / 11 >= 6


def test_drawing_leaves_pyplot_alone():
    import sys

    picture_figures.stage_twin(parts.bare(), parts.readings(parts.bare()), parts.picture(parts.bare()))
    pyplot = sys.modules.get("matplotlib.pyplot")
    assert pyplot is None or not pyplot.get_fignums()
    assert matplotlib.rcParams["pdf.fonttype"] == matplotlib.rcParamsDefault["pdf.fonttype"]
