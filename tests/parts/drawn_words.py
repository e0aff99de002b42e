"""What is really drawn: every word with its box, which words touch, which leave the paper."""

import itertools
from unittest import mock

from matplotlib.figure import Figure
from matplotlib.text import Text


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
    return list(ax.findobj(lambda a: a.get_gid() == gid))
