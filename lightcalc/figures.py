"""
Drawings of a setup: plan, elevation, stop ladder, picture and contours, each onto a given axes.

Everything is plain geometry and words. Colours are Okabe & Ito's, which stay apart for colour-blind
eyes; a shape, dash or hatch says the same again, so a grey print loses nothing. Words are placed when
a function is called, for the size the axes have then: lay the figure out first.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace

import numpy as np
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle
from matplotlib.ticker import FuncFormatter, MultipleLocator

from lightcalc.scene import Exterior, Room, rectangle_corners
from lightcalc.units import FT, fc_from_lx, ft_from_m

# Okabe & Ito 2008, "Color universal design"
BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, VERMILLION, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
PAPER, FAINT, QUIET = "#FFFFFF", "#D8D8D8", "#555555"
UNITS = ("metric", "feet")
MM_PER_INCH = 25.4
LADDER_LOOKS = {  # kind of tick: marker, filled, what it is
    "mark": ("o", True, "mark"),
    "fill": ("o", False, "fill alone"),
    "spot": ("s", True, "spot"),
    "beam": ("^", True, "beam"),
    "background": ("v", False, "background"),
    "veil": ("D", False, "veil"),
    "sky": ("P", True, "sky"),
}
ABOVE = ("mark", "fill", "veil")  # these hang over the line, the rest and the targets under it


# --- numbers as a person reads them ---------------------------------------------------------------


def length_text(length_m, *, units="metric"):
    """
    A length for paper: metres to the centimetre, or feet and inches.

    Parameters
    ----------
    length_m : float
        The length. [m]
    units : {"metric", "feet"}
        What the reader works in.

    Returns
    -------
    str

    Examples
    --------
    >>> length_text(2.4), length_text(2.4, units="feet")
    ('2.4 m', '7\\' 10"')
    """
    if _check_units(units) == "metric":
        return f"{_trim(f'{length_m:.2f}')} m"
    inches = round(abs(length_m) / FT * 12)
    return f"{'-' if length_m < 0 and inches else ''}{inches // 12}' {inches % 12}\""


def number_text(value, *, figures=3):
    """
    A number to so many significant figures, never with an exponent; trailing zeros go.

    Parameters
    ----------
    value : float
        Any number; NaN and infinities become a dash.
    figures : int, default 3
        Significant figures kept.

    Returns
    -------
    str

    Examples
    --------
    >>> number_text(12345.6), number_text(0.012345), number_text(float("nan"))
    ('12300', '0.0123', '–')
    """
    if not np.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    places = figures - 1 - int(np.floor(np.log10(abs(value))))
    rounded = round(float(value), places)
    return _trim(f"{rounded:.{min(max(places, 0), 12)}f}")


def stops_text(value, *, sign=True):
    """
    Stops to a tenth with a true minus sign; no light at all is said in words.

    Parameters
    ----------
    value : float
        Stops. [stops]
    sign : bool, default True
        Whether a plus is written.

    Returns
    -------
    str

    Examples
    --------
    >>> stops_text(0.31), stops_text(-2.04), stops_text(float("-inf")), stops_text(-0.01)
    ('+0.3', '−2.0', 'no light', '0.0')
    """
    if np.isnan(value):
        return "–"
    if np.isinf(value):
        return "no light" if value < 0 else "no end"
    text = f"{value:+.1f}" if sign else f"{value:.1f}"
    if float(text) == 0:
        return "0.0"
    return text.replace("-", "−")


def light_text(illuminance_lx, *, units="metric"):
    """
    Illuminance in the reader's unit first, the other in brackets.

    Parameters
    ----------
    illuminance_lx : float
        Illuminance. [lx]
    units : {"metric", "feet"}
        What the reader works in.

    Returns
    -------
    str

    Examples
    --------
    >>> light_text(512), light_text(512, units="feet")
    ('512 lx (47.6 fc)', '47.6 fc (512 lx)')
    """
    lx, fc = f"{number_text(illuminance_lx)} lx", f"{number_text(float(fc_from_lx(illuminance_lx)))} fc"
    return f"{lx} ({fc})" if _check_units(units) == "metric" else f"{fc} ({lx})"


def one_line(text, *, most=200):
    """
    Someone's words on one line, without control characters.

    Parameters
    ----------
    text : str
        Any text.
    most : int, default 200
        Longer text is cut with an ellipsis.

    Returns
    -------
    str

    Examples
    --------
    >>> one_line(" rake the\\nsalt "), one_line("rake the salt", most=6)
    ('rake the salt', 'rake…')
    """
    words = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def _trim(digits):
    trimmed = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return "0" if trimmed == "-0" else trimmed


def _check_units(units):
    if units not in UNITS:
        raise ValueError(f"units must be one of {', '.join(UNITS)}, got {units!r}")
    return units


# --- what belongs to what --------------------------------------------------------------------------


def call_signs(setup):
    """
    Lights by number, boards, flags and frames by letter, as drawn on the plan and listed on the sheet.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    dict of str to str
        Name to call sign. Flags may share a name with a light; they are keyed ``("flag", name)``.
    """
    signs = {light.name: str(i) for i, light in enumerate(setup.lights, 1)}
    letters = (_letters(i) for i in range(10_000))
    signs |= {part.name: next(letters) for part in setup.boards + setup.frames}
    signs |= {("flag", flag.name): next(letters) for flag in setup.flags}
    return signs


def _letters(index):
    """A ... Z, AA ... as on a spreadsheet."""
    text = ""
    while index >= 0:
        text, index = chr(65 + index % 26) + text, index // 26 - 1
    return text


def lit_mark(setup, part):
    """
    The mark that a light or the camera serves: the one nearest its aim point.

    Parameters
    ----------
    setup : Setup
    part : Light, Board, Frame or Camera
        Anything with an `aim`.

    Returns
    -------
    Mark or None
        None if the setup has no marks.
    """
    return min(setup.marks, key=lambda m: float(np.linalg.norm(np.subtract(m.at, part.aim))), default=None)


def key_names(setup, readings=None):
    """
    The key sources: those the setup names, else what the first mark's reading calls key, else the first light.

    Parameters
    ----------
    setup : Setup
    readings : Readings, optional

    Returns
    -------
    tuple of str
    """
    if setup.key:
        return tuple(setup.key)
    if readings is not None and readings.marks:
        return tuple(readings.marks[0].key)
    return tuple(light.name for light in setup.lights[:1])


def beam_angle_deg(distribution):
    """
    Full angle between the directions with half the candela on the axis. [deg]

    Parameters
    ----------
    distribution : Beam, Lambert or Photometry
        Anything with `mean_cd(theta_rad)`.

    Returns
    -------
    float
        360 if the intensity never falls to half. [deg]
    """
    if hasattr(distribution, "beam_deg"):
        return float(distribution.beam_deg)
    theta = np.linspace(0.0, np.pi, 3601)
    under = np.flatnonzero(distribution.mean_cd(theta) < 0.5 * distribution.mean_cd(theta[:1]))
    return float(2 * np.degrees(theta[under[0]])) if under.size else 360.0


def dimensions_of(setup, readings=None):
    """
    The few distances worth a tape: key lights, camera and up to three boards to their marks.

    Parameters
    ----------
    setup : Setup
    readings : Readings, optional
        Says which source is key where the setup does not.

    Returns
    -------
    list of (part name, mark name, from, to)
        The two points in the room frame. [m]
    """
    if not setup.marks:
        return []
    keys = key_names(setup, readings)
    rows = [("camera", setup.camera, lit_mark(setup, setup.camera))]
    rows += [(p.name, p, lit_mark(setup, p)) for p in setup.lights + setup.frames if p.name in keys]
    for board in setup.boards[:3]:
        near = min(setup.marks, key=lambda m: float(np.linalg.norm(np.subtract(m.at, board.at))))
        rows.append((board.name, board, near))
    return [(name, mark.name, tuple(part.at), tuple(mark.at)) for name, part, mark in rows]


# --- words that keep out of each other's way -------------------------------------------------------


class _Words:
    """
    Places words on an axes: never over other words or the edge, over lines only if it must.

    Works in pixels of the figure as it stands. A word far from its point gets a thin leader.
    """

    RINGS = (4, 10, 18, 28, 40, 55, 75, 100, 130, 165)  # hundredths of an inch
    TURNS = np.radians([0, 180, 25, -25, 155, -155, 50, -50, 130, -130, 90, -90, 75, -75, 105, -105])
    SHORTER = 60.0  # what giving up part of a label costs, in hundredths of an inch of distance

    def __init__(self, ax, size):
        self.ax, self.size = ax, size
        self.unit = ax.figure.dpi / 100
        self.edge = ax.get_window_extent()
        self.cell = 4 * self.unit
        shape = np.ceil(np.array([self.edge.width, self.edge.height]) / self.cell).astype(int) + 1
        self.ink = np.zeros(shape)  # how much is drawn in each cell
        self.taken = np.empty((0, 4))  # boxes of words: x0, y0, x1, y1
        self.dropped = []

    def pixels(self, points):
        return self.ax.transData.transform(np.atleast_2d(np.asarray(points, dtype=float)))

    def avoid(self, points, closed=False):
        """Words had better not lie on this line (data coordinates)."""
        line = self.pixels(points)
        self._draw(np.vstack([line, line[:1]]) if closed else line)

    def avoid_area(self, corners):
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

    def ink_in(self, boxes):
        """What is drawn inside each box, from a summed-area table (Crow 1984)."""
        table = np.pad(self.ink, ((1, 0), (1, 0))).cumsum(0).cumsum(1)
        low = np.array([self.edge.x0, self.edge.y0])
        first = np.clip(((boxes[:, :2] - low) // self.cell).astype(int), 0, np.array(self.ink.shape))
        last = np.clip(((boxes[:, 2:] - low) // self.cell).astype(int) + 1, 0, np.array(self.ink.shape))
        (x0, y0), (x1, y1) = first.T, last.T
        return table[x1, y1] - table[x0, y1] - table[x1, y0] + table[x0, y0]

    def measure(self, text, **style):
        """Width and height of a word, with a hair of air. [pixels]"""
        word = self.ax.text(0, 0, text, fontsize=self.size, parse_math=False, **style)
        box = word.get_window_extent()
        word.remove()
        return box.width + 3 * self.unit, box.height + 2 * self.unit

    def _cost(self, boxes, price, ink_price):
        """What each box costs; infinite over words or past the edge."""
        e, m = self.edge, 2 * self.unit
        out = (boxes[:, 0] < e.x0 + m) | (boxes[:, 1] < e.y0 + m) | (boxes[:, 2] > e.x1 - m) | (boxes[:, 3] > e.y1 - m)
        return np.where(out | self._meets(boxes), np.inf, price + ink_price * self.ink_in(boxes))

    def _meets(self, boxes):
        b, t = boxes[:, None, :], self.taken[None]
        hit = (b[..., 0] < t[..., 2]) & (b[..., 2] > t[..., 0]) & (b[..., 1] < t[..., 3]) & (b[..., 3] > t[..., 1])
        return hit.any(1)

    def _struck(self, start, ends):
        """How many words each leader would strike through."""
        along = start + (ends - start)[:, None, :] * np.linspace(0.1, 0.95, 12)[None, :, None]
        x, y, t = along[..., 0, None], along[..., 1, None], self.taken
        return ((x > t[:, 0]) & (x < t[:, 2]) & (y > t[:, 1]) & (y < t[:, 3])).any(1).sum(1)

    def beside(self, point, versions, *, radius=4.0, color=BLACK, must=True, **style):
        """The first version of a label that sits well near a point; one with no room is remembered."""
        anchor, best = self.pixels(point)[0], None
        for rank, text in enumerate(versions):
            found = self._nearest(anchor, text, radius, style)
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
        return self._write(text, box, color, style)

    def _nearest(self, anchor, text, radius, style):
        """Cost, box and distance of the best place for a word; None if there is none."""
        size = np.array(self.measure(text, **style))
        ring = np.repeat(np.array(self.RINGS) + radius, len(self.TURNS)) * self.unit
        turn = np.tile(self.TURNS, len(self.RINGS))
        centre = anchor + np.c_[np.cos(turn), np.sin(turn)] * (ring[:, None] + size / 2)
        boxes = np.c_[centre - size / 2, centre + size / 2]
        ends = np.clip(anchor, boxes[:, :2], boxes[:, 2:])
        price = ring / self.unit + 3 * np.abs(np.sin(turn)) + 40 * self._struck(anchor, ends)
        cost = self._cost(boxes, price, ink_price=4.0)
        best = int(np.argmin(cost))
        return (cost[best], boxes[best], ring[best] / self.unit - radius) if np.isfinite(cost[best]) else None

    def _leader(self, anchor, end, color):
        line = self.ax.transData.inverted().transform([anchor, end])
        self.ax.plot(*line.T, color=color, lw=0.5, zorder=8, solid_capstyle="butt")
        self._draw(np.array([anchor, end]))

    def _write(self, text, box, color, style):
        x, y = self.ax.transData.inverted().transform(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))
        self.taken = np.vstack([self.taken, box])
        look = {"bbox": dict(facecolor=PAPER, edgecolor="none", pad=0.4, alpha=0.75)} | style
        return self.ax.text(
            x, y, text, ha="center", va="center", fontsize=self.size, color=color, parse_math=False, zorder=10, **look
        )

    def along(self, start, end, text, *, color=QUIET, **style):
        """A word somewhere on a line; None if there is no room on it."""
        size = np.array(self.measure(text))
        share = np.array([0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82])
        a, b = self.pixels([start, end])
        way = np.abs(b - a) / max(np.linalg.norm(b - a), 1e-9)
        if np.linalg.norm(b - a) < 1.2 * np.max(way * size):
            return None
        centre = a + (b - a) * share[:, None]
        boxes = np.c_[centre - size / 2, centre + size / 2]
        cost = self._cost(boxes, 100 * np.abs(share - 0.5), ink_price=1.0)
        best = int(np.argmin(cost))
        if not np.isfinite(cost[best]):
            return None
        return self._write(text, boxes[best], color, style)

    def block(self, box):
        """No word may come here (pixels)."""
        self.taken = np.vstack([self.taken, np.asarray(box, dtype=float)])


# --- plan and elevation ----------------------------------------------------------------------------


def _parts(setup):
    return setup.lights + setup.boards + setup.flags + setup.frames + setup.marks + (setup.camera,)


def _extent(setup, axes):
    """
    Corners of what is drawn.

    A room, with what stands up to 0.6 of its longer side outside it; outdoors the stretch of ground
    that is used, because the ground itself may be a hundred times as large.
    """
    axes, place = list(axes), setup.place
    size = np.array(place.size_m)[axes]
    reach = 0.6 * size.max()
    points = np.array([np.asarray(part.at, dtype=float)[axes] for part in _parts(setup)])
    near = points[np.all((points > -reach) & (points < size + reach), axis=1)]
    if isinstance(place, Room) or not len(near):
        near = np.vstack([near.reshape(-1, 2), np.zeros((1, 2)), size[None]])
        return near.min(0), near.max(0)
    low, high = near.min(0), near.max(0)
    pad = max(1.5, 0.15 * float(np.max(high - low)))
    low, high = low - pad, high + pad
    if axes[1] == 2:
        low[1] = 0.0
    return low, high


def plan_size_m(setup):
    """
    Width and depth of what a plan of this setup shows, without margins. [m]

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    array of shape (2,)
        The place and what stands near it. [m]
    """
    low, high = _extent(setup, (0, 1))
    return high - low


class _Sketch:
    """A flat view of a setup: `axes` picks two of x, y, z; sizes never shrink below what the eye can read."""

    def __init__(self, ax, setup, axes, units, size, scale, outer_px):
        self.ax, self.setup, self.axes, self.units, self.size = ax, setup, list(axes), _check_units(units), size
        self.low, self.high = _extent(setup, self.axes)
        self._frame(scale, outer_px)
        self.words = _Words(ax, size)
        self.far = {}  # parts that stand off the paper

    # where things are

    def flat(self, point):
        return np.asarray(point, dtype=float)[..., self.axes]

    def _frame(self, scale, outer_px):
        """Limits that fill the axes at one scale both ways, exactly 1 : scale on paper if that is given."""
        ax = self.ax
        box = ax.get_window_extent()
        pixels = np.array([box.width, box.height])
        if scale:
            self.ppm = ax.figure.dpi / MM_PER_INCH * 1000 / scale
        else:
            spare = np.maximum(pixels - 2 * outer_px * ax.figure.dpi / 100, 0.3 * pixels)
            self.ppm = float(np.min(spare / np.maximum(self.high - self.low, 1e-6)))
        middle, half = (self.low + self.high) / 2, pixels / self.ppm / 2
        ax.set_xlim(middle[0] - half[0], middle[0] + half[0])
        ax.set_ylim(middle[1] - half[1], middle[1] + half[1])
        ax.set_aspect("equal", adjustable="datalim")
        self.view = np.array([middle - half, middle + half])

    def px(self, pixels):
        """So many hundredths of an inch, in metres on this drawing."""
        return pixels * self.ax.figure.dpi / 100 / self.ppm

    def inside(self, point, margin_px=8):
        m = self.px(margin_px)
        return bool(np.all(point > self.view[0] + m) and np.all(point < self.view[1] - m))

    # strokes

    def line(self, points, *, color=BLACK, lw=1.0, avoid=True, zorder=3, **look):
        points = np.asarray(points, dtype=float)
        self.ax.plot(points[:, 0], points[:, 1], color=color, lw=lw, zorder=zorder, **look)
        if avoid:
            self.words.avoid(points)

    def area(self, points, *, avoid=True, **look):
        self.ax.add_patch(Polygon(points, closed=True, **({"zorder": 4} | look)))
        if avoid:
            self.words.avoid_area(points)

    def arrow(self, start, end, **look):
        """A line with a small open head."""
        start, end = np.asarray(start, float), np.asarray(end, float)
        along = end - start
        size = np.linalg.norm(along)
        if size < 1e-9:
            return
        along = along / size
        across = np.array([-along[1], along[0]])
        head = min(self.px(6), 0.5 * size)
        self.line([start, end], **look)
        look = look | {"ls": "-", "gid": None}
        self.line([end - head * along + 0.45 * head * across, end, end - head * along - 0.45 * head * across], **look)

    def grid(self, names):
        """Whole metres or feet, never closer than a fingertip can tell apart."""
        ax, unit = self.ax, 1.0 if self.units == "metric" else FT
        steps = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)
        step = next((s for s in steps if s * unit * self.ppm > self._gap()), steps[-1])
        for axis in (ax.xaxis, ax.yaxis):
            axis.set_major_locator(MultipleLocator(step * unit))
            axis.set_major_formatter(FuncFormatter(lambda v, _: f"{round(v / unit)}".replace("-", "−")))
        ax.grid(True, color=FAINT, lw=0.5, ls=(0, (1, 2)), zorder=0)
        ax.set_axisbelow(True)
        ax.tick_params(labelsize=self.size, length=2, width=0.5, pad=1.5, color=QUIET, labelcolor=QUIET)
        tail = "m" if self.units == "metric" else "ft"
        ax.set_xlabel(f"{names[0]} ({tail})", fontsize=self.size, labelpad=1, color=QUIET)
        ax.set_ylabel(f"{names[1]} ({tail})", fontsize=self.size, labelpad=1, color=QUIET)
        for spine in ax.spines.values():
            spine.set(linewidth=0.5, color=FAINT)

    def _gap(self):
        return 2.6 * self.size * self.ax.figure.dpi / 72

    # parts

    def heading(self, part):
        """Unit vector of a part's facing in this view, or None where it faces the reader."""
        way = self.flat(np.subtract(part.aim, part.at))
        size = np.linalg.norm(way)
        return way / size if size > 1e-6 * max(1.0, np.linalg.norm(np.subtract(part.aim, part.at))) else None

    def wedge(self, part, angle_deg, reach, *, color, ls, alpha):
        """What a beam or a lens takes in, as a pale sector with two edges."""
        way = self.heading(part)
        if way is None or reach <= 0:
            return
        half = np.radians(min(angle_deg, 359.0) / 2)
        turn = np.linspace(-half, half, 25)
        arc = np.c_[way[0] * np.cos(turn) - way[1] * np.sin(turn), way[0] * np.sin(turn) + way[1] * np.cos(turn)]
        start = self.flat(part.at)
        rim = start + reach * arc
        self.area(np.vstack([start, rim]), facecolor=color, edgecolor="none", alpha=alpha, zorder=1, avoid=False)
        drawn = [self.ax.patches[-1]]
        for end in (rim[0], rim[-1]):
            drawn += self.ax.plot(*np.array([start, end]).T, color=color, lw=0.7, ls=ls, zorder=2)
            self.words.avoid([start, start + self._stay(part, start, end) * (end - start)])
        if self._indoors(part):  # walls end the drawing of a beam that starts inside them
            size = np.array(self.setup.place.size_m)[self.axes]
            for artist in drawn:
                artist.set_clip_path(Rectangle((0, 0), *size, transform=self.ax.transData))

    def _indoors(self, part):
        return isinstance(self.setup.place, Room) and self.setup.place.contains(part.at)

    def _stay(self, part, start, end):
        """The share of a line up to the wall, for a part that stands indoors."""
        if not self._indoors(part):
            return 1.0
        size, way = np.array(self.setup.place.size_m)[self.axes], end - start
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.where(way > 0, (size - start) / way, np.where(way < 0, -start / way, np.inf))
        return float(min(1.0, np.min(shares)))

    def sheet(self, part, *, face, edge, ls, hatch=None):
        """A rectangle as it projects here; edge-on it is a thick line."""
        sides = ("face_width_m", "face_height_m") if hasattr(part, "face_width_m") else ("width_m", "height_m")
        size = [getattr(part, side) for side in sides]
        corners = self.flat(rectangle_corners(part.at, part.aim, *size, part.roll_deg))
        centre = corners.mean(0)
        _, _, axes = np.linalg.svd(corners - centre, full_matrices=False)  # longest way first
        along, across = axes @ (corners - centre).T
        if np.ptp(across) < self.px(4):  # edge-on
            ends = centre + np.array([[along.min()], [along.max()]]) * axes[0]
            self.line(ends, color=edge, lw=2.6, ls=ls, zorder=5, solid_capstyle="butt", dash_capstyle="butt")
        else:
            self.area(corners, facecolor=face, edgecolor=edge, lw=1.2, ls=ls, hatch=hatch, alpha=0.85, zorder=4)
        return centre

    def facing_tick(self, part, length_px, **look):
        way = self.heading(part)
        if way is not None:
            start = self.flat(part.at)
            self.line([start, start + self.px(length_px) * way], **look)

    def off_paper(self, name, part):
        """A part too far out to draw: an arrow at the edge says which way and how far."""
        start, middle = self.flat(part.at), self.view.mean(0)
        way = start - middle
        room = (self.view[1] - self.view[0]) / 2 - self.px(10)
        edge = middle + way * np.min(room / np.maximum(np.abs(way), 1e-9))
        self.arrow(edge - way / np.linalg.norm(way) * self.px(22), edge, color=ORANGE, lw=1.2)
        self.far[name] = edge - way / np.linalg.norm(way) * self.px(11)
        return self.far[name]

    def light(self, light):
        start = self.flat(light.at)
        if not self.inside(start, 3):
            return self.off_paper(light.name, light)
        aim = self.flat(light.aim)
        reach = float(np.linalg.norm(aim - start))
        self.wedge(light, beam_angle_deg(light.distribution), reach, color=ORANGE, ls="-", alpha=0.10)
        self.arrow(start, aim, color=VERMILLION, lw=0.8, ls=(0, (5, 2)))
        if light.face_width_m:
            self.sheet(light, face=YELLOW, edge=ORANGE, ls="-")
        self.ax.plot(*start, "o", ms=6, mfc=ORANGE, mec=BLACK, mew=0.8, zorder=6)
        self.words.avoid([start - self.px(3), start + self.px(3)])
        return start

    def camera(self):
        cam = self.setup.camera
        if not self.inside(self.flat(cam.at), 3):
            return self.off_paper("camera", cam)
        width = cam.sensor_width_mm if 2 not in self.axes else cam.sensor_height_mm
        aim = float(np.linalg.norm(self.flat(np.subtract(cam.aim, cam.at))))
        subject = lit_mark(self.setup, cam)
        if subject is not None:
            aim = max(aim, 1.15 * float(np.linalg.norm(self.flat(np.subtract(subject.at, cam.at)))))
        angle = 2 * np.degrees(np.arctan(width / 2 / cam.focal_mm))
        self.wedge(cam, angle, aim, color=PURPLE, ls=(0, (6, 2, 1, 2)), alpha=0.10)
        start, way = self.flat(cam.at), self.heading(cam)
        way = np.array([0.0, 1.0]) if way is None else way
        across = np.array([-way[1], way[0]])
        a, b = max(0.22, self.px(9)), max(0.11, self.px(4.5))  # body behind the lens, which sits at `at`
        back = start - 2 * a * way
        body = np.array([start - b * across, start + b * across, back + b * across, back - b * across])
        self.area(body, facecolor=PURPLE, edgecolor=BLACK, lw=0.8, zorder=6)
        return start - a * way

    def mark(self, mark):
        start = self.flat(mark.at)
        self.facing_tick(mark, 13, color=BLACK, lw=1.4, zorder=6)
        marker, width = ("o", 7) if mark.figure else ("D", 5)
        self.ax.plot(*start, marker, ms=width, mfc=PAPER, mec=BLACK, mew=1.2, zorder=7)
        self.words.avoid([start - self.px(4), start + self.px(4)])
        return start

    def spots(self):
        for spot in self.setup.spots:
            place = self.flat(spot.at)
            if self.inside(place):
                self.ax.plot(*place, "s", ms=3.5, mfc="none", mec=QUIET, mew=0.8, zorder=5)
                self.words.avoid([place - self.px(2), place + self.px(2)])

    def dimension(self, start, end, text, name):
        """A measured line with end strokes; left out where it is too short to carry its figure."""
        start, end = np.asarray(start, float), np.asarray(end, float)
        if not (self.inside(start, 0) and self.inside(end, 0)):
            return None
        word = self.words.along(start, end, text, gid=f"dimension|{name}")
        if word is None:
            return None
        along = (end - start) / np.linalg.norm(end - start)
        across = np.array([-along[1], along[0]]) * self.px(3.5)
        self.line([start, end], color=QUIET, lw=0.6, zorder=3)
        for point in (start, end):
            self.line([point - across, point + across], color=QUIET, lw=0.6, avoid=False)
        return word

    def labels(self, places):
        """Words for every part that was drawn, the most needed first."""
        s, signs = self.setup, call_signs(self.setup)
        view_m = lambda metres: length_text(metres, units=self.units)  # noqa: E731
        crowded = len(s.lights + s.boards + s.flags + s.frames) > 8  # then signs and heights only; names in the tables
        for mark in s.marks:
            name = one_line(mark.name, most=12 if crowded else 20)
            self._label(places, ("mark", mark.name), "", name, f"h {view_m(mark.at[2])}", BLACK, weight="bold")
        self._label(places, ("camera", "camera"), "", "camera", f"h {view_m(s.camera.at[2])}", "#8A3E6B")
        groups = (("light", s.lights), ("board", s.boards), ("flag", s.flags), ("frame", s.frames))
        for kind, group in groups:
            color = {"light": "#8A4B00", "board": BLUE, "flag": BLACK, "frame": "#00694D"}[kind]
            for part in group:
                sign = signs[("flag", part.name) if kind == "flag" else part.name]
                tail = f"h {view_m(part.at[2])}"
                if part.name in self.far:
                    tail = f"{view_m(float(np.linalg.norm(np.subtract(part.at, self._mid()))))} off, " + tail
                self._label(places, (kind, part.name), sign, "" if crowded else part.name, tail, color)
        for spot in s.spots:
            place, look = self.flat(spot.at), dict(radius=3, color=QUIET, must=False, style="italic")
            if self.inside(place):
                self.words.beside(place, [one_line(spot.name, most=18)], **look)

    def _mid(self):
        return np.array(self.setup.place.size_m) * (0.5, 0.5, 0.0)

    def _label(self, places, key, sign, name, tail, color, **style):
        if key not in places:
            return
        head = f"{sign} " if sign else ""
        short = one_line(name, most=20)
        full = [f"{head}{short}, {tail}", f"{head}{short}\n{tail}", f"{head}{one_line(name, most=12)}\n{tail}"]
        versions = (full if name else []) + ([f"{head}{tail}", sign] if sign else [short])
        self.words.beside(places[key], list(dict.fromkeys(versions)), radius=6, color=color, linespacing=1.0, **style)

    def everything(self):
        """Draw all parts; return where each one's label should start."""
        s, places = self.setup, {}
        places["camera", "camera"] = self.camera()
        for light in s.lights:
            places["light", light.name] = self.light(light)
        looks = (
            ("board", s.boards, dict(face="#BFE0F2", edge=BLUE, ls="-")),
            ("flag", s.flags, dict(face="#777777", edge=BLACK, ls="-", hatch="xxx")),
            ("frame", s.frames, dict(face="#CDEBE1", edge=GREEN, ls=(0, (2, 0.8)))),
        )
        for kind, group, look in looks:
            for part in group:
                if self.inside(self.flat(part.at), 3):
                    places[kind, part.name] = self.sheet(part, **look)
                    if kind != "flag":
                        self.facing_tick(part, 9, color=look["edge"], lw=1.0, zorder=5)
                else:
                    places[kind, part.name] = self.off_paper(part.name, part)
        for mark in s.marks:
            if self.inside(self.flat(mark.at), 2):
                places["mark", mark.name] = self.mark(mark)
        self.spots()
        return places

    def finish(self):
        if self.words.dropped:
            note = f"{len(self.words.dropped)} labels left off for want of room; see the tables"
            self.words.beside(self.view.mean(0), [note], must=False, color=VERMILLION)


def plan(ax, setup, *, units="metric", dimensions=True, scale=None, readings=None, size=7.0):
    """
    The setup from above, to scale, onto a given axes.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size; its limits are set here.
    setup : Setup
        What is drawn.
    units : {"metric", "feet"}, default "metric"
        Metre or foot grid and figures.
    dimensions : bool, default True
        Whether measured lines are drawn. They are lengths along the floor, as a tape lies. [m or ft in]
    scale : float, optional
        The n of 1 : n on paper; without it the setup fills the axes. [1]
    readings : Readings, optional
        Says which source is key where the setup does not.
    size : float, default 7
        Type size. [pt]

    Returns
    -------
    float
        The n of 1 : n that the drawing has on paper at the figure's own size. [1]

    Raises
    ------
    ValueError
        If units are unknown.

    Notes
    -----
    Wedges show the beam angle (half peak) in the plane of the paper, without foreshortening, and the
    lens's angle of view :math:`2 \\arctan(w / 2f)`. Lights carry numbers, boards, frames and flags
    letters; heights are written.
    """
    sketch = _Sketch(ax, setup, (0, 1), units, size, scale, outer_px=34)
    sketch.grid(("x", "y"))
    place = setup.place
    _room_plan(sketch, place) if isinstance(place, Room) else _ground_plan(sketch, place)
    places = sketch.everything()
    _compass(sketch, setup)
    if dimensions:
        _dimensions(sketch, setup, readings)
    sketch.labels(places)
    if isinstance(place, Room):
        _window_labels(sketch, place)
    sketch.finish()
    return ax.figure.dpi / MM_PER_INCH * 1000 / sketch.ppm


def _ground_plan(sketch, place):
    corners = [(0, 0), (place.width_m, 0), (place.width_m, place.depth_m), (0, place.depth_m), (0, 0)]
    sketch.line(corners, color=QUIET, lw=0.8, ls=(0, (1, 2)))


def _room_plan(sketch, room):
    """Walls as a band outside the inner faces, so the inside measures true; windows as gaps with their bars."""
    w, d, t = room.width_m, room.depth_m, max(0.08, sketch.px(5))
    for corner, width, height in (((-t, -t), w + 2 * t, t), ((-t, d), w + 2 * t, t), ((-t, 0), t, d), ((w, 0), t, d)):
        sketch.ax.add_patch(Rectangle(corner, width, height, facecolor="#9A9A9A", edgecolor="none", zorder=2))
    sketch.line([(0, 0), (w, 0), (w, d), (0, d), (0, 0)], lw=0.9, zorder=2.5)
    sketch.words.avoid([(-t, -t), (w + t, -t), (w + t, d + t), (-t, d + t)], closed=True)
    for window in room.windows:
        _window_plan(sketch, room, window, t)


def _wall_frame(room, wall):
    """Start of a wall on the plan, unit vector along it (as centre_m runs) and unit vector outwards."""
    w, d = room.width_m, room.depth_m
    start = {"near": (0, 0), "far": (0, d), "left": (0, 0), "right": (w, 0)}[wall]
    along = (1.0, 0.0) if wall in ("near", "far") else (0.0, 1.0)
    out = {"near": (0, -1), "far": (0, 1), "left": (-1, 0), "right": (1, 0)}[wall]
    return np.array(start, float), np.array(along), np.array(out, float)


def _window_plan(sketch, room, window, thick):
    start, along, out = _wall_frame(room, window.wall)
    a = start + along * (window.centre_m - window.width_m / 2)
    b = start + along * (window.centre_m + window.width_m / 2)
    box = np.array([a, b, b + thick * out, a + thick * out])
    sketch.area(box, facecolor=PAPER, edgecolor=BLACK, lw=0.7, zorder=3)
    sketch.line([a + 0.5 * thick * out, b + 0.5 * thick * out], color=BLUE, lw=1.2, zorder=3.2)
    if window.sheer is not None:
        sketch.line([a + 0.8 * thick * out, b + 0.8 * thick * out], color=GREEN, lw=0.8, ls=(0, (2, 1)), zorder=3.2)
    count = int(window.bars_upright)
    for k in range(1, count + 1):  # evenly spaced: count bars leave count + 1 equal gaps
        gap = (window.width_m - count * window.bar_m) / (count + 1)
        middle = a + along * (k * gap + (k - 0.5) * window.bar_m)
        half = 0.5 * max(window.bar_m, sketch.px(1.2)) * along
        left, right = middle - half, middle + half
        bar = [left, right, right + thick * out, left + thick * out]
        sketch.area(bar, avoid=False, facecolor=BLACK, edgecolor="none", zorder=3.4, gid=f"bar|{window.name}")


def _window_labels(sketch, room):
    text = lambda metres: length_text(metres, units=sketch.units)  # noqa: E731
    for window in room.windows:
        start, along, out = _wall_frame(room, window.wall)
        point = start + along * window.centre_m + out * sketch.px(4)
        size = f"{text(window.width_m)} x {text(window.height_m)}"
        name = one_line(window.name, most=20)
        versions = [f"{name} {size}\nsill {text(window.sill_m)}", f"{name}\nsill {text(window.sill_m)}", name]
        sketch.words.beside(point, versions, radius=5, color=BLUE, must=False, linespacing=1.0)


def _dimensions(sketch, setup, readings):
    text = lambda metres: length_text(metres, units=sketch.units)  # noqa: E731
    place, gap = setup.place, sketch.px(20)
    if isinstance(place, Room):
        w, d = place.width_m, place.depth_m
        sketch.dimension((0, -gap), (w, -gap), text(w), "room|width")
        sketch.dimension((-gap, 0), (-gap, d), text(d), "room|depth")
    for name, mark, start, end in dimensions_of(setup, readings):
        a, b = np.array(start[:2]), np.array(end[:2])
        sketch.dimension(a, b, text(float(np.linalg.norm(b - a))), f"{name}|{mark}")


def _corner(sketch, half_px):
    """The emptiest corner of the paper, for a compass or a sun."""
    low, high, inset = *sketch.view, sketch.px(half_px)
    corners = [np.array([x, y]) for y in (high[1] - inset, low[1] + inset) for x in (high[0] - inset, low[0] + inset)]

    def crowd(corner):
        centre, r = sketch.words.pixels(corner)[0], 1.2 * half_px * sketch.words.unit
        box = np.array([[*(centre - r), *(centre + r)]])
        return float(sketch.words.ink_in(box)[0]) + 1000 * bool(sketch.words._meets(box)[0])

    return min(corners, key=crowd)


def _block(sketch, centre, half_px):
    middle, r = sketch.words.pixels(centre)[0], half_px * sketch.words.unit
    sketch.words.block([*(middle - r), *(middle + r)])


def _compass(sketch, setup):
    """North, and the sun with the way its light falls on the plan."""
    place, sun = setup.place, setup.sun
    if isinstance(place, Exterior) or sun is not None or place.bearing_deg:
        centre, turn = _corner(sketch, 20), np.radians(-place.bearing_deg)
        north = np.array([np.sin(turn), np.cos(turn)])
        sketch.arrow(centre - sketch.px(9) * north, centre + sketch.px(6) * north, lw=1.0, gid="north")
        look = dict(ha="center", va="center", fontsize=sketch.size, zorder=10)
        sketch.ax.text(*(centre + sketch.px(13.5) * north), "N", **look)
        _block(sketch, centre, 20)
    if sun is None:
        return
    centre, way = _corner(sketch, 26), sun.direction(place.bearing_deg)[:2]
    way = way / np.linalg.norm(way) if np.linalg.norm(way) > 1e-6 else np.array([0.0, 1.0])
    tail = centre + sketch.px(15) * way
    up = sun.elevation_deg > 0
    sketch.ax.plot(*tail, "o", ms=9, mfc=YELLOW if up else PAPER, mec=BLACK, mew=0.8, zorder=6)
    ends = tail - sketch.px(7) * way, centre - sketch.px(16) * way
    sketch.arrow(*ends, color=BLACK, lw=1.2, ls="-" if up else ":", gid="sun")
    _block(sketch, centre, 24)
    height = f"{abs(sun.elevation_deg):.0f}° {'up' if sun.elevation_deg >= 0 else 'under the horizon'}"
    words = [f"sun from {sun.bearing_deg % 360:.0f}°,\n{height}", f"sun {height}"]
    sketch.words.beside(centre, words, radius=22, must=False)


def elevation(ax, setup, *, along="x", units="metric", scale=None, size=7.0):
    """
    The setup from the side, to scale, with heights.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size; its limits are set here.
    setup : Setup
        What is drawn.
    along : {"x", "y"}, default "x"
        The floor axis that runs across the paper. "x" looks from the near wall to the far one, "y" from
        the right wall to the left one with the near wall at the left.
    units : {"metric", "feet"}, default "metric"
        Metre or foot grid and figures.
    scale : float, optional
        The n of 1 : n on paper; without it the setup fills the axes. [1]
    size : float, default 7
        Type size. [pt]

    Returns
    -------
    float
        The n of 1 : n that the drawing has on paper. [1]

    Raises
    ------
    ValueError
        If units or axis are unknown.
    """
    if along not in ("x", "y"):
        raise ValueError(f"along must be one of x, y, got {along!r}")
    first = 0 if along == "x" else 1
    sketch = _Sketch(ax, setup, (first, 2), units, size, scale, outer_px=26)
    sketch.grid((along, "height"))
    width, height = setup.place.size_m[first], setup.place.size_m[2]
    sketch.line([(sketch.view[0, 0], 0), (sketch.view[1, 0], 0)], lw=1.4)
    if isinstance(setup.place, Room):
        sketch.line([(0, 0), (0, height), (width, height), (width, 0)], lw=1.2)
        for window in setup.place.windows:
            _window_elevation(sketch, setup.place, window, first)
    _stems(sketch, setup)
    sketch.labels(sketch.everything())
    sketch.finish()
    return ax.figure.dpi / MM_PER_INCH * 1000 / sketch.ppm


def _window_elevation(sketch, room, window, first):
    """Face-on as a rectangle with its bars, edge-on as a gap in the wall's line."""
    low, high = window.sill_m, window.sill_m + window.height_m
    if (window.wall in ("near", "far")) != (first == 0):
        side = 0.0 if window.wall in ("left", "near") else room.size_m[first]
        sketch.line([(side, low), (side, high)], color=PAPER, lw=2.2, zorder=3.5)
        sketch.line([(side, low), (side, high)], color=BLUE, lw=1.0, zorder=3.6)
        return
    a, b = window.centre_m - window.width_m / 2, window.centre_m + window.width_m / 2
    behind = window.wall in ("far", "left")
    look = dict(facecolor="none", edgecolor=BLUE, lw=0.9, ls="-" if behind else (0, (3, 2)), zorder=2, avoid=False)
    sketch.area([(a, low), (b, low), (b, high), (a, high)], **look)
    rows = ((window.bars_upright, a, window.width_m, True), (window.bars_across, low, window.height_m, False))
    for count, start, size, upright in rows:
        gap = (size - count * window.bar_m) / (count + 1)
        for k in range(1, int(count) + 1):
            middle = start + k * gap + (k - 0.5) * window.bar_m
            ends = [(middle, low), (middle, high)] if upright else [(a, middle), (b, middle)]
            sketch.line(ends, color=BLUE, lw=0.6, avoid=False, zorder=2)


def _stems(sketch, setup):
    """A thin line from the floor to everything that stands on it."""
    for part in _parts(setup):
        point = sketch.flat(part.at)
        if sketch.inside(point) and point[1] > 0:
            sketch.line([(point[0], 0), point], color=QUIET, lw=0.5, ls=(0, (1, 1.5)), avoid=False, zorder=1.5)


# --- the stop ladder -------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Flag:
    """A word on the ladder, its pole's place, and where it hangs: row 0 is next to the line."""

    stops: float
    text: str
    kind: str
    place: float
    over: bool
    row: int = 0
    right: bool = True


def _flag_rows(places, widths, gap):
    """
    Row of each word that hangs to the right of its pole, so that no word meets a word or a pole.

    Worked from the right: a word must lie above every pole it would cross, and a pole only ever
    crosses rows whose words begin further right.
    """
    rows, done = np.zeros(len(places), dtype=int), []
    for i in sorted(range(len(places)), key=lambda i: (-places[i], i)):
        crossed = [rows[j] for j in done if places[j] < places[i] + widths[i] + gap]
        rows[i] = 1 + max(crossed) if crossed else 0
        done.append(i)
    return rows


def _both_ways(flags, widths, gap):
    """The same with the left ones hanging left, split where the fewest rows come out."""
    order = sorted(range(len(flags)), key=lambda i: flags[i].place)
    best = None
    for split in sorted({round(s) for s in np.linspace(0, len(order), 13)}):
        left, right = order[:split], order[split:]
        rows = np.zeros(len(flags), dtype=int)
        rows[left] = _flag_rows([-flags[i].place for i in left], [widths[i] for i in left], gap)
        rows[right] = _flag_rows([flags[i].place for i in right], [widths[i] for i in right], gap)
        if best is None or rows.max(initial=-1) < best[0]:
            best = (rows.max(initial=-1), rows, set(right))
    _, rows, right = best
    return [replace(flag, row=int(rows[i]), right=i in right) for i, flag in enumerate(flags)]


def ladder(ax, readings, setup, *, units="metric", size=7.0, ticks=()):
    """
    The stop ladder: everything that was read, on one line in stops from middle grey.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size.
    readings : Readings
        Its `ladder()` gives the ticks, its `targets` the brackets.
    setup : Setup
        Its camera gives the usable range of the sensor, shaded.
    units : {"metric", "feet"}, default "metric"
        Lux or foot-candles first.
    size : float, default 7
        Type size; smaller where the ticks are many. [pt]
    ticks : sequence of Tick, default ()
        More ticks, such as the veil at each plane of `layers.Layers.ticks()`.

    Raises
    ------
    ValueError
        If units are unknown.

    Notes
    -----
    A target on the ladder is a bracket of its width: heavy when met, thin and dashed when missed. A
    target of contrast lost to the air is no level; it is written under the axis. A tick beyond the drawn
    range sits at its end and says so. Where there is no room for every word, those of the veil and the
    fill go first, and the axis says how many went.
    """
    _check_units(units)
    ticks = [t for t in (*readings.ladder(), *ticks) if np.isfinite(t.stops)]
    brackets = _brackets(readings)
    low, high = _ladder_range(setup.camera, [t.stops for t in ticks] + [b[0] for b in brackets])
    flags = [_flag(t.stops, f"{one_line(t.label, most=30)} {stops_text(t.stops)}", t.kind, low, high) for t in ticks]
    flags += [_flag(centre, text, "met" if met else "missed", low, high) for centre, _, text, met in brackets]
    hung, low, high, used = _hang(ax, flags, low, high, size)
    _ladder_ground(ax, setup.camera, low, high, size)
    for flag in hung:
        _draw_flag(ax, flag, used, setup.camera)
    for tick, flag in zip(ticks, flags):
        _draw_tick(ax, tick, flag.place)
    for centre, within, _, met in brackets:
        _draw_bracket(ax, centre, within, met)
    _ladder_words(ax, readings, ticks, len(flags) - len(hung), units, size)


def _flag(stops, text, kind, low, high):
    place = min(max(stops, low), high)
    return _Flag(stops, text + (", off the end" if place != stops else ""), kind, place, kind in ABOVE)


def _brackets(readings):
    """Centre, half width, words and whether met, of every target that is a place on the ladder. [stops]"""
    marks = {m.name: m for m in readings.marks}
    spots = {s.name: s for s in readings.spots}
    found = []
    for target in readings.targets:
        wanted, name = target.wanted_stops, one_line(target.of, most=24)
        centre, words = np.nan, ""
        if target.quantity == "level":
            centre, words = wanted, f"want {name} at {stops_text(wanted)}"
        elif target.quantity == "fill_under" and target.of in marks:
            words = f"want {name} fill {stops_text(abs(wanted), sign=False)} under"
            centre = marks[target.of].level_stops - abs(wanted)
        elif target.quantity == "beam_over" and target.of in spots and spots[target.of].background_cd_m2 > 0:
            ground = np.log2(spots[target.of].background_cd_m2 / readings.reference_cd_m2)
            centre, words = ground + wanted, f"want {name} {stops_text(wanted, sign=False)} over"
        elif target.quantity == "veil" and target in _veil_levels(readings):
            centre, words = wanted, f"want veil at {name} at {stops_text(wanted)}"
        if np.isfinite(centre):
            found.append((float(centre), target.within, f"{words}: {_outcome(target)}", target.met))
    return found


def _veil_levels(readings):
    """The targets of the veil that are levels, so that they have a place on the ladder."""
    levels = {m.name: m.veil_stops for m in readings.marks}
    return [t for t in readings.targets if t.quantity == "veil" and t.got_stops == levels.get(t.of)]


def _outcome(target):
    if target.met:
        return "met"
    return f"missed by {stops_text(target.miss_stops)}" if np.isfinite(target.miss_stops) else "missed"


def _ladder_range(camera, values):
    """The sensor's range and a stop either side, stretched to the ticks but never absurdly far. [stops]"""
    low, high = -camera.range_under_stops - 1, camera.range_over_stops + 1
    values = [v for v in values if np.isfinite(v)]
    return max(min([low, *[v - 0.3 for v in values]]), low - 5), min(max([high, *[v + 0.3 for v in values]]), high + 5)


def _hang(ax, flags, low, high, size, smallest=4.5):
    """Flags with their rows, the range widened for their words, and the type size that lets them fit."""
    box, unit = ax.get_window_extent(), ax.figure.dpi / 100
    words = _Words(ax, size)
    widths = {flag.text: words.measure(flag.text)[0] / size for flag in flags}  # per point of type
    flags, used = list(flags), size
    while True:
        hung, left, right = _rows_at(flags, widths, used, box.width, low, high, unit)
        most = [1 + max([f.row for f in hung if f.over is over], default=-1) for over in (True, False)]
        line = 1.3 * used * ax.figure.dpi / 72
        if sum(most) * line + 26 * unit <= box.height or (used <= smallest and not flags):
            break
        if used > smallest:
            used = max(smallest, used - 0.5)
        else:
            flags.remove(max(flags, key=lambda f: (f.kind == "veil", f.kind == "fill", f.kind == "background", f.row)))
    rest = (box.height - sum(most) * line) / 2
    ax.set_xlim(left, right)
    ax.set_ylim(-(most[1] * line + rest), most[0] * line + rest)  # y counts pixels from the line
    return hung, left, right, used


def _rows_at(flags, widths, size, width_px, low, high, unit):
    """Rows at one type size; the veil hangs on whichever side takes fewer rows."""
    best = None
    for veil_over in (True, False):
        sided = [replace(f, over=f.over if f.kind != "veil" else veil_over) for f in flags]
        left, right = low, high
        for _ in range(3):  # a wider range moves the words, so settle it
            per_stop = width_px / (right - left)
            stops = {text: size * w / per_stop for text, w in widths.items()}
            hung = []
            for over in (True, False):
                group = [f for f in sided if f.over is over]
                hung += _both_ways(group, [stops[f.text] for f in group], 4 * unit / per_stop)
            pad = 6 * unit / per_stop
            left = min([left, *[f.place - stops[f.text] - pad for f in hung if not f.right]])
            right = max([right, *[f.place + stops[f.text] + pad for f in hung if f.right]])
        rows = sum(1 + max([f.row for f in hung if f.over is over], default=-1) for over in (True, False))
        if best is None or rows < best[0]:
            best = (rows, hung, left, right)
    return best[1:]


def _ladder_ground(ax, camera, low, high, size):
    a, b = -camera.range_under_stops, camera.range_over_stops
    ax.axvspan(a, b, facecolor="#ECECEC", edgecolor="none", zorder=0)
    for edge in (a, b):
        ax.axvline(edge, color=QUIET, lw=0.7, ls=(0, (1, 1.5)), zorder=1)
    ax.axhline(0, color=BLACK, lw=1.4, zorder=3)
    ax.axvline(0, color=BLACK, lw=0.9, zorder=1.5)
    ax.xaxis.set_major_locator(MultipleLocator(1 if high - low < 30 else 5))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda v, _: _signed(v)))
    ax.grid(True, axis="x", color="#D0D0D0", lw=0.4, zorder=0.5)
    ax.set_axisbelow(True)
    ax.set_yticks([])
    ax.tick_params(axis="x", labelsize=size, length=2, width=0.5, pad=1.5)
    for name, spine in ax.spines.items():
        spine.set_visible(name == "bottom")
        spine.set_linewidth(0.5)


def _signed(value):
    """A whole number with its sign, 0 bare."""
    return f"{value:+.0f}".replace("-", "−") if round(value) else "0"


def _draw_flag(ax, flag, size, camera):
    """The pole and the word."""
    dpi, sign = ax.figure.dpi, 1 if flag.over else -1
    line = 1.3 * size * dpi / 72
    y = sign * (8 * dpi / 100 + flag.row * line)
    look = {"met": ("#00694D", ":"), "missed": ("#A34700", ":")}.get(flag.kind, (BLACK, "-"))
    ax.plot([flag.place] * 2, [0, y + sign * 0.85 * line], color=look[0], lw=0.6, ls=look[1], zorder=2)
    low, high = ax.get_xlim()
    gap = dpi / 100 * 2.5 * (high - low) / ax.get_window_extent().width
    inside = -camera.range_under_stops < flag.place < camera.range_over_stops
    ax.text(
        flag.place + (gap if flag.right else -gap), y + sign * 0.5 * line, flag.text, va="center",
        ha="left" if flag.right else "right", fontsize=size, color=look[0], parse_math=False, zorder=6,
        bbox=dict(facecolor="#ECECEC" if inside else PAPER, edgecolor="none", pad=0),
    )  # fmt: skip


def _draw_tick(ax, tick, place):
    marker, filled, _ = LADDER_LOOKS.get(tick.kind, ("x", True, tick.kind))
    ax.plot(place, 0, marker, ms=5, mfc=BLACK if filled else PAPER, mec=BLACK, mew=0.9, zorder=5)


def _draw_bracket(ax, centre, within, met):
    """[ ] round the wanted place: heavy if met, thin and dashed if missed."""
    color, h, lip = (GREEN if met else VERMILLION), 6.5 * ax.figure.dpi / 100, min(0.25 * within, 0.12)
    for edge, way in ((centre - within, 1), (centre + within, -1)):
        x, y = [edge + way * lip, edge, edge, edge + way * lip], [h, h, -h, -h]
        ax.plot(x, y, color=color, lw=2.0 if met else 1.1, ls="-" if met else (0, (2, 1)), zorder=4)


def _ladder_words(ax, readings, ticks, unlabelled, units, size):
    """The looks in use over the ladder; under the axis the reference and targets that are no place on it."""
    kinds = [k for k in LADDER_LOOKS if any(t.kind == k for t in ticks)]
    handles = []
    for kind in kinds:
        marker, filled, words = LADDER_LOOKS[kind]
        look = dict(ms=4.5, mfc=BLACK if filled else PAPER, mec=BLACK, mew=0.9, label=words, ls="none")
        handles += ax.plot([], [], marker=marker, **look)
    if kinds:
        ax.legend(
            handles=handles, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=len(kinds), fontsize=size, frameon=False,
            handletextpad=0.1, columnspacing=1.0, borderpad=0, borderaxespad=0.1,
        )  # fmt: skip
    grey = light_text(readings.reference_lx, units=units)
    lines = [f"Stops from middle grey (grey card at {grey}); shaded: what the sensor holds"]
    if unlabelled:
        lines[0] += f"; {unlabelled} ticks without words for want of room"
    lines += [_veil_words(t) for t in veil_losses(readings)]
    ax.set_xlabel("\n".join(lines), fontsize=size, labelpad=1.5, parse_math=False)


def veil_losses(readings):
    """
    Targets of the veil that are losses of contrast, not places on the ladder.

    Parameters
    ----------
    readings : Readings

    Returns
    -------
    list of TargetReading
        The first two, for which the axis has room.
    """
    return [t for t in readings.targets if t.quantity == "veil" and t not in _veil_levels(readings)][:2]


def _veil_words(target):
    got, wanted = stops_text(target.got_stops, sign=False), stops_text(target.wanted_stops, sign=False)
    name = one_line(target.of, most=24)
    return f"Contrast lost to the air at {name}: {got} stops, wanted {wanted}: {_outcome(target)}"


# --- picture and contours --------------------------------------------------------------------------


def _grey_strip(ax, picture, size, span=(-6, 6)):
    """A grey scale in stops through the picture's own display curve, under the picture."""
    steps = np.arange(span[0], span[1] + 1)
    strip = np.repeat(picture.reference_cd_m2 * np.exp2(steps.astype(float))[None], 2, axis=0).astype(np.float32)
    bar = ax.inset_axes([0.0, -0.085, 1.0, 0.06])
    look = dict(aspect="auto", extent=(span[0] - 0.5, span[1] + 0.5, 0, 1), interpolation="nearest")
    bar.imshow(replace(picture, luminance_cd_m2=strip).rgba(), **look)
    bar.set_yticks([])
    bar.set_xticks(steps[::2], [_signed(s) for s in steps[::2]])
    bar.tick_params(labelsize=size, length=1.5, width=0.5, pad=1)
    for spine in bar.spines.values():
        spine.set_linewidth(0.5)
    bar.set_xlabel("stops from middle grey", fontsize=size, labelpad=1)
    return bar


def picture(ax, picture, *, caption="", size=7.0):
    """
    The camera's picture in luminance, on its display curve, with a grey scale in stops.

    Parameters
    ----------
    ax : matplotlib Axes
        The picture fills it in its own shape; the scale hangs below it.
    picture : Picture
        What the lens sees.
    caption : str, optional
        Words above the picture; by default what middle grey is.
    size : float, default 7
        Type size. [pt]
    """
    ax.imshow(picture.rgba(), interpolation="nearest" if picture.luminance_cd_m2.shape[1] < 80 else "antialiased")
    _bare(ax)
    words = caption or f"Luminance; middle grey is {number_text(picture.reference_cd_m2)} cd/m²"
    ax.set_title(words, fontsize=size, pad=2, loc="left", parse_math=False)
    _grey_strip(ax, picture, size)


def contours(ax, picture, *, span=(-6, 6), size=7.0):
    """
    The picture's luminance in whole stops: filled steps, lines and labels.

    Parameters
    ----------
    ax : matplotlib Axes
        The picture fills it in its own shape; the scale hangs below it.
    picture : Picture
        What the lens sees.
    span : (int, int), default (-6, 6)
        Whole stops from middle grey that are told apart. [stops]
    size : float, default 7
        Type size. [pt]

    Notes
    -----
    Colours step through `cividis` (Nunez, Anderton & Renslow 2018), which rises evenly in lightness.
    """
    edges = np.arange(span[0], span[1] + 1)
    level = np.clip(np.nan_to_num(picture.level_stops, neginf=span[0] - 1), span[0] - 0.99, span[1] + 0.99)
    norm = BoundaryNorm(edges, 256, extend="both")
    image = ax.imshow(level, cmap="cividis", norm=norm, interpolation="nearest")
    inside = [e for e in edges if level.min() < e < level.max()]
    if inside:
        lines = ax.contour(level, levels=inside, colors="black", linewidths=[1.6 if e == 0 else 0.6 for e in inside])
        lines.set_linestyle("solid")
        _contour_words(ax, lines, size)
    _bare(ax)
    bar_ax = ax.inset_axes([0.0, -0.085, 1.0, 0.06])
    bar = ax.figure.colorbar(image, cax=bar_ax, orientation="horizontal", ticks=edges[::2])
    bar.ax.set_xticklabels([_signed(e) for e in edges[::2]])
    bar.ax.tick_params(labelsize=size, length=1.5, width=0.5, pad=1)
    bar.set_label("stops from middle grey", fontsize=size, labelpad=1)
    ax.set_title("Whole stops; the heavy line is middle grey", fontsize=size, pad=2, loc="left")


def _contour_words(ax, lines, size, each=2):
    """The stop of each line, on its longest pieces; short pieces and crowded places go without."""
    words = _Words(ax, size)
    for level, pieces in zip(lines.levels, lines.allsegs):
        text = _signed(level) if level else "grey"
        pieces = [words.pixels(piece) for piece in pieces if len(piece) > 1]
        lengths = [float(np.sum(np.linalg.norm(np.diff(piece, axis=0), axis=1))) for piece in pieces]
        for i in sorted(range(len(pieces)), key=lambda i: -lengths[i])[:each]:
            if lengths[i] > 8 * size * words.unit:
                _word_on(words, pieces[i], text)


def _word_on(words, piece, text):
    """A word on a line given in pixels, as near its middle as there is room; none if there is no room."""
    half = np.array(words.measure(text)) / 2
    middle = len(piece) / 2
    for i in sorted(range(len(piece)), key=lambda i: abs(i - middle))[:: max(1, len(piece) // 24)]:
        box = np.array([[*(piece[i] - half), *(piece[i] + half)]])
        if np.isfinite(words._cost(box, np.zeros(1), ink_price=0.0))[0]:
            words._write(text, box[0], BLACK, {})
            return


def _bare(ax):
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_linewidth(0.5)


def stage_twin(setup, readings, picture_seen, *, units="metric"):
    """
    Plan, picture and ladder on one figure: what the stage shows, for a page without a kernel.

    Parameters
    ----------
    setup : Setup
    readings : Readings
    picture_seen : Picture
    units : {"metric", "feet"}, default "metric"

    Returns
    -------
    matplotlib.figure.Figure
        11 x 6 inches, readable at 900 pixels across.

    Raises
    ------
    ValueError
        If units are unknown.
    """
    figure, size = Figure(figsize=(11, 6), dpi=100), 8.5
    title = f"{one_line(setup.name, most=40)}: {one_line(setup.title)}"
    _fitted(figure.text(0.012, 0.985, title, fontsize=12, weight="bold", va="top", parse_math=False), 0.976 * 1100)
    plan(figure.add_axes((0.045, 0.435, 0.51, 0.505)), setup, units=units, readings=readings, size=size)
    picture(figure.add_axes((0.58, 0.5, 0.41, 0.42)), picture_seen, size=size)
    ladder(figure.add_axes((0.012, 0.085, 0.976, 0.27)), readings, setup, units=units, size=size)
    return figure


def _fitted(text, width_px):
    """Cut a line of text with an ellipsis until it is no wider than that. [pixels]"""
    words = text.get_text()
    while text.get_window_extent().width > width_px and len(words) > 1:
        words = words[: max(1, min(len(words) - 1, int(len(words) * width_px / text.get_window_extent().width)))]
        text.set_text(words.rstrip() + "…")
    return text


# --- curves ----------------------------------------------------------------------------------------


def beam_against_haze(ax, sweep, *, at_per_m=None, size=8.0):
    """
    What more haze does to a beam and to a face: two curves in stops.

    Parameters
    ----------
    ax : matplotlib Axes
    sweep : sweep.HazeSweep
        Readings at two densities or more.
    at_per_m : float, optional
        The density that the setup has, drawn as an upright line. [1/m]
    size : float, default 8
        Type size. [pt]
    """
    k = sweep.extinction_per_m
    for stops, color, dash, marker, words in (
        (sweep.beam_over_stops, BLUE, "-", "o", "beam over what is behind it"),
        (sweep.contrast_stops, VERMILLION, "--", "s", "lit cheek over far cheek, as the lens sees them"),
    ):
        ax.plot(k, stops, color=color, ls=dash, marker=marker, ms=3.5, lw=1.4, label=words)
    if at_per_m is not None:
        ax.axvline(at_per_m, color=QUIET, lw=0.9, ls=":", label=f"this setup, {number_text(at_per_m)} /m")
    ax.grid(True, color=FAINT, lw=0.5)
    ax.set_xlim(0.0, 1.02 * float(np.max(k)))  # the last marker whole
    ax.set_ylim(bottom=min(0.0, float(np.min(sweep.contrast_stops))))
    ax.set_xlabel("Extinction coefficient of the haze (1/m)", fontsize=size)
    ax.set_ylabel("Difference (stops)", fontsize=size)
    ax.tick_params(labelsize=size)
    ax.legend(fontsize=size, frameon=False)


LAYER_CURVES = (  # values, colour, dash, marker and whether it is filled, label
    ("light_stops", ORANGE, "-", "o", False, "light card"),
    ("dark_stops", BLUE, "-", "o", True, "dark card"),
    ("veil_stops", BLACK, ":", "D", False, "veil"),
    ("clear_light_stops", ORANGE, (0, (5, 2)), "^", False, "light card, clear air"),
    ("clear_dark_stops", BLUE, (0, (5, 2)), "^", True, "dark card, clear air"),
)


def layers_curve(ax, layers, *, units="metric", size=8.0):
    """
    A dark and a light card against distance, through the haze and in clear air, with the veil between.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size, with room for a title of two or three lines.
    layers : layers.Layers
    units : {"metric", "feet"}, default "metric"
        Metres or feet along the axis.
    size : float, default 8
        Type size. [pt]

    Raises
    ------
    ValueError
        If units are unknown.

    Notes
    -----
    The shaded band is what the haze leaves between the cards. Full lines are in the haze, broken ones in clear
    air; markers sit on the three planes. Cards that send no light have no place on the curve.
    """
    far = float(layers.distance_m[-1])
    along = (lambda metres: metres) if _check_units(units) == "metric" else ft_from_m
    curves = [row for row in LAYER_CURVES if layers.extinction_per_m > 0 or row[0].startswith("clear")]
    levels = {row[0]: np.where(np.isfinite(v := getattr(layers, row[0])), v, np.nan) for row in curves}
    _layers_frame(ax, layers, along(far), list(levels.values()), units, size)
    x, planes = along(layers.distance_m), along(np.array([plane.distance_m for plane in layers.planes]))
    if layers.extinction_per_m > 0:
        ax.fill_between(x, levels["dark_stops"], levels["light_stops"], color=SKY, alpha=0.25, lw=0, zorder=1)
    words = _Words(ax, size)
    for field, color, dash, marker, filled, _ in curves:
        at = np.interp(planes, x, levels[field])
        ax.plot(x, levels[field], color=color, ls=dash, lw=1.5, zorder=3, gid=field)
        ax.plot(planes, at, marker, ms=4.5, mfc=color if filled else PAPER, mec=color, ls="none", zorder=4, clip_on=False)
        words.avoid(np.c_[x, levels[field]][np.isfinite(levels[field])])
    _plane_words(ax, words, layers, planes, units)
    for field, color, *_, label in curves:
        _name_curve(words, x, levels, field, label, "#8A4B00" if color == ORANGE else color)


def _layers_frame(ax, layers, far, levels, units, size):
    """Axes, grid and words round the curves; a strip is kept free over them for the names of the planes."""
    values = np.concatenate(levels)
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if values.size else (-1.0, 1.0)
    box, line = ax.get_window_extent(), 1.4 * size * ax.figure.dpi / 72
    strip = min(0.4, 3.6 * line / box.height)
    low, high = low - 0.06 * (high - low + 1), high + 0.06 * (high - low + 1)
    ax.set_xlim(0.0, 1.01 * far)  # the last markers whole
    ax.set_ylim(low, low + (high - low) / (1 - strip))
    ax.yaxis.set_major_locator(MultipleLocator(1 if high - low < 12 else 2 if high - low < 24 else 5))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda v, _: _signed(v)))
    ax.grid(True, color=FAINT, lw=0.5)
    ax.set_axisbelow(True)
    ax.tick_params(labelsize=size)
    tail = "m" if units == "metric" else "ft"
    cards = f"matte cards of {layers.dark_reflectance:g} and {layers.light_reflectance:g}"
    inputs = f"setup {one_line(layers.setup, most=30)}, towards {one_line(layers.towards, most=40)}; {cards}; haze {layers.extinction_per_m:.3g} /m"
    across = max(20, int(box.width / (0.5 * size * ax.figure.dpi / 72)))
    ax.set_xlabel(f"Distance from the lens ({tail})\n{textwrap.fill(inputs, across)}", fontsize=size, parse_math=False)
    ax.set_ylabel("Level (stops from middle grey)", fontsize=size)
    finding = textwrap.fill(layers.finding().replace("-", "−"), max(20, int(0.9 * across)))
    ax.set_title(finding, fontsize=size + 0.5, loc="left", parse_math=False)


def _plane_words(ax, words, layers, places, units):
    """An upright line at each plane; over it the name, the distance and what is left between the cards."""
    edge, top = words.edge, ax.get_ylim()[1]
    for plane, place in zip(layers.planes, places):
        ax.axvline(place, color=QUIET, lw=0.8, ls=(0, (1, 1.5)), zorder=2)
        far = length_text(round(plane.distance_m, 1), units=units)
        full = f"{plane.name}, {far}\n{plane.apart}"
        half = 0.5 * words.measure(full, linespacing=1.1)[0] + 6 * words.unit
        x = np.clip(words.pixels((place, top))[0, 0], edge.x0 + half, max(edge.x0 + half, edge.x1 - half))
        point = ax.transData.inverted().transform((x, edge.y1))
        versions = [full, full.replace(f", {far}", ""), plane.name]
        words.beside(point, versions, radius=2, color=QUIET, linespacing=1.1)


def _name_curve(words, x, levels, field, label, color, places=25):
    """The label of a curve where there is room beside it and the other curves are far; none where it has no place."""
    best = None
    for k in np.linspace(0.08, 0.92, places) * (len(x) - 1):
        k = int(k)
        if not np.isfinite(levels[field][k]):
            continue
        anchor = words.pixels((x[k], levels[field][k]))[0]
        found = words._nearest(anchor, label, 4.0, {})
        others = [words.pixels((x[k], row[k]))[0, 1] for name, row in levels.items() if name != field and np.isfinite(row[k])]
        room = min((abs(y - anchor[1]) for y in others), default=0.0) / words.unit
        cost = found[0] + 60.0 * (found[2] > 9) - 0.5 * min(room, 40.0) if found else np.inf  # leaders cross other curves
        if found and (best is None or cost < best[0]):
            best = (cost, k)
    if best is not None:
        words.beside((x[best[1]], levels[field][best[1]]), [label], color=color)


def layers_figure(layers, *, units="metric"):
    """
    `layers_curve` on a page of its own.

    Parameters
    ----------
    layers : layers.Layers
    units : {"metric", "feet"}, default "metric"

    Returns
    -------
    matplotlib.figure.Figure
        7 x 4.4 inches, 1050 pixels across.

    Raises
    ------
    ValueError
        If units are unknown.
    """
    figure = Figure(figsize=(7, 4.4), dpi=150)
    layers_curve(figure.add_axes((0.085, 0.16, 0.895, 0.71)), layers, units=units)
    return figure


def beam_map(axes, maps, *, size=8.0):
    """
    Beam over what is behind it against haze, a line for each camera angle, a panel for each room.

    Parameters
    ----------
    axes : sequence of matplotlib.axes.Axes
        One for each room, sharing y.
    maps : dict of str to sweep.BeamMap
        By the room's description; the same angles in each.
    size : float, default 8
        Type size. [pt]
    """
    colors, dashes = ("#0072B2", "#D55E00", "#009E73", "#CC79A7"), ("-", "--", "-.", ":")
    for ax, (name, found) in zip(axes, maps.items()):
        for k, angle in enumerate(found.angle_deg):
            ax.plot(
                found.extinction_per_m, found.beam_over_stops[k], dashes[k % 4], color=colors[k % 4], marker="osD^"[k % 4],
                markersize=3.5, label=f"{angle:.0f}°",
            )  # fmt: skip
        ax.set_xscale("log")
        ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        ax.set_title(name, fontsize=size + 1)
        ax.set_xlabel("Extinction coefficient (1/m)", fontsize=size)
        ax.tick_params(labelsize=size, which="both")
        ax.grid(color="#cccccc", linewidth=0.5)
    axes[0].set_ylabel("Beam over what is behind it (stops)", fontsize=size)
    axes[0].legend(title="camera from the\nway the light goes", fontsize=size, title_fontsize=size)
