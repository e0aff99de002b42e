"""The colours of the drawings, and words on them that keep out of each other's way."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text
    from numpy.typing import ArrayLike

    from lightcalc.units import Numbers

# Okabe & Ito 2008, "Color universal design": they stay apart for colour-blind eyes. A shape, dash or hatch says the same
# again, so a grey print loses nothing.
BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, VERMILLION, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
PAPER, FAINT, QUIET = "#FFFFFF", "#D8D8D8", "#555555"


@cache
def _ruler(dpi):
    """What measures words at so many dots to the inch, as a figure's own would, which makes itself a whole page of dots each time."""
    from matplotlib.backends.backend_agg import RendererAgg

    return RendererAgg(1, 1, dpi)


class Words:
    """
    Places words on an axes: never over other words or the edge, over lines only if it must.

    Works in pixels of the figure as it stands: words are placed when they are asked for, for the size the
    axes have then, so lay the figure out first. A word far from its point gets a thin leader.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size.
    size : float
        Type size. [pt]
    """

    RINGS = (4, 10, 18, 28, 40, 55, 75, 100, 130, 165)  # hundredths of an inch
    TURNS = np.radians([0, 180, 25, -25, 155, -155, 50, -50, 130, -130, 90, -90, 75, -75, 105, -105])
    SHORTER = 60.0  # what giving up part of a label costs, in hundredths of an inch of distance

    def __init__(self, ax: Axes, size: float) -> None:
        self.ax, self.size = ax, size
        self.unit = ax.figure.dpi / 100
        self.edge = ax.get_window_extent()
        self.cell = 4 * self.unit
        shape = np.ceil(np.array([self.edge.width, self.edge.height]) / self.cell).astype(int) + 1
        self.ink = np.zeros(shape)  # how much is drawn in each cell
        self.taken = np.empty((0, 4))  # boxes of words: x0, y0, x1, y1
        self.dropped: list = []

    def pixels(self, points: ArrayLike) -> np.ndarray:
        """Points in data coordinates, in pixels of the figure."""
        return self.ax.transData.transform(np.atleast_2d(np.asarray(points, dtype=float)))

    def avoid(self, points: Numbers, closed: bool = False) -> None:
        """
        Words had better not lie on this line.

        Parameters
        ----------
        points : array of shape (n, 2)
            Its corners in data coordinates.
        closed : bool, default False
            Whether it runs back to its start.
        """
        line = self.pixels(points)
        self._draw(np.vstack([line, line[:1]]) if closed else line)

    def avoid_area(self, corners: ArrayLike) -> None:
        """Nor inside this four-cornered part."""
        a, b, c, d = self.pixels(corners)
        for share in np.linspace(0, 1, 9):
            self._draw(np.array([a + share * (b - a), d + share * (c - d)]))

    def _draw(self, line):
        low = np.array([self.edge.x0, self.edge.y0])
        for a, b in zip(line[:-1], line[1:]):
            count = int(min(2_000, np.ceil(np.linalg.norm(b - a) / self.cell))) + 1
            cells = ((a + (b - a) * np.linspace(0, 1, count)[:, None] - low) // self.cell).astype(int)
            cells = cells[np.all((cells >= 0) & (cells < self.ink.shape), axis=1)]
            np.add.at(self.ink, tuple(cells.T), 1.0)

    def ink_in(self, boxes: np.ndarray) -> np.ndarray:
        """What is drawn inside each box, from a summed-area table (Crow 1984)."""
        table = np.pad(self.ink, ((1, 0), (1, 0))).cumsum(0).cumsum(1)
        low = np.array([self.edge.x0, self.edge.y0])
        first = np.clip(((boxes[:, :2] - low) // self.cell).astype(int), 0, np.array(self.ink.shape))
        last = np.clip(((boxes[:, 2:] - low) // self.cell).astype(int) + 1, 0, np.array(self.ink.shape))
        (x0, y0), (x1, y1) = first.T, last.T
        return table[x1, y1] - table[x0, y1] - table[x1, y0] + table[x0, y0]

    def measure(self, text: str, **style: Any) -> tuple[float, float]:
        """
        Width and height of a word, with a hair of air.

        Parameters
        ----------
        text : str
        **style
            Further looks of a matplotlib text.

        Returns
        -------
        (float, float)
            [pixels]
        """
        word = self.ax.text(0, 0, text, fontsize=self.size, parse_math=False, **style)
        box = word.get_window_extent(_ruler(self.ax.figure.dpi))
        word.remove()
        return box.width + 3 * self.unit, box.height + 2 * self.unit

    def cost(self, boxes: Numbers, price: Numbers, ink_price: float) -> Numbers:
        """
        What each box costs; infinite over words or past the edge.

        Parameters
        ----------
        boxes : array of shape (n, 4)
            x0, y0, x1, y1 of each. [pixels]
        price : array of shape (n,)
            What it costs already. [hundredths of an inch]
        ink_price : float
            What each stroke under it costs. [hundredths of an inch]

        Returns
        -------
        array of shape (n,)
            [hundredths of an inch]
        """
        e, m = self.edge, 2 * self.unit
        out = (boxes[:, 0] < e.x0 + m) | (boxes[:, 1] < e.y0 + m) | (boxes[:, 2] > e.x1 - m) | (boxes[:, 3] > e.y1 - m)
        return np.where(out | self.meets(boxes), np.inf, price + ink_price * self.ink_in(boxes))

    def meets(self, boxes: np.ndarray) -> np.ndarray:
        """Whether each box (pixels) lies over a word."""
        b, t = boxes[:, None, :], self.taken[None]
        hit = (b[..., 0] < t[..., 2]) & (b[..., 2] > t[..., 0]) & (b[..., 1] < t[..., 3]) & (b[..., 3] > t[..., 1])
        return np.any(hit, axis=1)

    def _struck(self, start, ends):
        """How many words each leader would strike through."""
        along = start + (ends - start)[:, None, :] * np.linspace(0.1, 0.95, 12)[None, :, None]
        x, y, t = along[..., 0, None], along[..., 1, None], self.taken
        return ((x > t[:, 0]) & (x < t[:, 2]) & (y > t[:, 1]) & (y < t[:, 3])).any(1).sum(1)

    def beside(
        self, point: Numbers, versions: Sequence[str], *, radius: float = 4.0, color: str = BLACK, must: bool = True, **style: Any
    ) -> Text | None:
        """
        The first version of a label that sits well near a point; one with no room is remembered.

        Parameters
        ----------
        point : array of shape (2,)
            In data coordinates.
        versions : sequence of str
            The fullest first.
        radius : float, default 4
            Free round the point. [hundredths of an inch]
        color : str, default BLACK
        must : bool, default True
            Whether it counts as dropped where there is no room.
        **style
            Further looks of a matplotlib text.

        Returns
        -------
        matplotlib Text or None
            None where there is no room.
        """
        anchor, best = self.pixels(point)[0], None
        for rank, text in enumerate(versions):
            found = self.nearest(anchor, text, radius, style)
            if found and (best is None or found[0] + self.SHORTER * rank < best[0]):
                best = (found[0] + self.SHORTER * rank, text, *found[1:])
            if best and best[0] < self.SHORTER * (rank + 1):
                break
        if best is None:
            self.dropped += [versions[0]] * must
            return None
        _, text, box, distance = best
        if distance > 9:
            self._leader(anchor, np.clip(anchor, box[:2], box[2:]), color)
        return self.write(text, box, color, style)

    def nearest(self, anchor: Numbers, text: str, radius: float, style: dict) -> tuple | None:
        """
        Cost, box and distance of the best place for a word.

        Parameters
        ----------
        anchor : array of shape (2,)
            The point it belongs to. [pixels]
        text : str
        radius : float
            Free round the point. [hundredths of an inch]
        style : dict
            Further looks of a matplotlib text.

        Returns
        -------
        (float, array of shape (4,), float) or None
            [hundredths of an inch; pixels; hundredths of an inch]. None if there is no place.
        """
        size = np.array(self.measure(text, **style))
        ring = np.repeat(np.array(self.RINGS) + radius, len(self.TURNS)) * self.unit
        turn = np.tile(self.TURNS, len(self.RINGS))
        centre = anchor + np.c_[np.cos(turn), np.sin(turn)] * (ring[:, None] + size / 2)
        boxes = np.c_[centre - size / 2, centre + size / 2]
        ends = np.clip(anchor, boxes[:, :2], boxes[:, 2:])
        price = ring / self.unit + 3 * np.abs(np.sin(turn)) + 40 * self._struck(anchor, ends)
        cost = self.cost(boxes, price, ink_price=4.0)
        best = int(np.argmin(cost))
        return (cost[best], boxes[best], ring[best] / self.unit - radius) if np.isfinite(cost[best]) else None

    def _leader(self, anchor, end, color):
        line = self.ax.transData.inverted().transform([anchor, end])
        self.ax.plot(*line.T, color=color, lw=0.5, zorder=8, solid_capstyle="butt")
        self._draw(np.array([anchor, end]))

    def write(self, text: str, box: Numbers, color: str, style: dict) -> Text:
        """
        A word in the middle of a box, which is taken from then on.

        Parameters
        ----------
        text : str
        box : array of shape (4,)
            x0, y0, x1, y1. [pixels]
        color : str
        style : dict
            Further looks of a matplotlib text.

        Returns
        -------
        matplotlib Text
        """
        x, y = self.ax.transData.inverted().transform(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))
        self.taken = np.vstack([self.taken, box])
        look = {"bbox": dict(facecolor=PAPER, edgecolor="none", pad=0.4, alpha=0.75)} | style
        return self.ax.text(
            x, y, text, ha="center", va="center", fontsize=self.size, color=color, parse_math=False, zorder=10, **look
        )

    def along(self, start: Numbers, end: Numbers, text: str, *, color: str = QUIET, **style: Any) -> Text | None:
        """
        A word somewhere on a line.

        Parameters
        ----------
        start, end : array of shape (2,)
            In data coordinates.
        text : str
        color : str, default QUIET
        **style
            Further looks of a matplotlib text.

        Returns
        -------
        matplotlib Text or None
            None if there is no room on it.
        """
        size = np.array(self.measure(text))
        share = np.array([0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82])
        a, b = self.pixels([start, end])
        way = np.abs(b - a) / max(np.linalg.norm(b - a), 1e-9)
        if np.linalg.norm(b - a) < 1.2 * np.max(way * size):
            return None
        centre = a + (b - a) * share[:, None]
        boxes = np.c_[centre - size / 2, centre + size / 2]
        cost = self.cost(boxes, 100 * np.abs(share - 0.5), ink_price=1.0)
        best = int(np.argmin(cost))
        if not np.isfinite(cost[best]):
            return None
        return self.write(text, boxes[best], color, style)

    def block(self, box: ArrayLike) -> None:
        """No word may come here (pixels)."""
        self.taken = np.vstack([self.taken, np.asarray(box, dtype=float)])


def fitted(text: Text, width_px: float) -> Text:
    """
    Cut a line of text with an ellipsis until it is no wider than that.

    Parameters
    ----------
    text : matplotlib Text
        Changed where it stands.
    width_px : float
        The room there is. [pixels]

    Returns
    -------
    matplotlib Text
        The same.
    """
    words = text.get_text()
    ruler = _ruler(text.figure.dpi)
    while text.get_window_extent(ruler).width > width_px and len(words) > 1:
        words = words[: max(1, min(len(words) - 1, int(len(words) * width_px / text.get_window_extent(ruler).width)))]
        text.set_text(words.rstrip() + "…")
    return text
