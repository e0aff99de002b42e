"""The setup on paper, to scale: plan and elevation, with room, windows, compass, sun and measured lengths."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.patches import Rectangle

from lightcalc.drawing.palette import BLACK, BLUE, GREEN, PAPER, QUIET, YELLOW
from lightcalc.drawing.symbols import MM_PER_INCH, Sketch, extent, parts_of
from lightcalc.scene.numbering import dimensions_of
from lightcalc.scene.parts import Exterior, Room, Setup
from lightcalc.wording import length_text, one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from lightcalc.answers.readings import Readings
    from lightcalc.units import Numbers


def plan_size_m(setup: Setup) -> Numbers:
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
    low, high = extent(setup, (0, 1))
    return high - low


def plan(
    ax: Axes,
    setup: Setup,
    *,
    units: str = "metric",
    dimensions: bool = True,
    scale: float | None = None,
    readings: Readings | None = None,
    size: float = 7.0,
    clear: Sequence = (),
) -> float:
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
    clear : sequence of (low, high), optional
        Corners of upright rectangles that words had better not lie on, x and y each. [m]

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
    A beam is what gets half its peak or more, as `light_patch.lamp_beam` cuts it, with what it lights on floor and walls
    darker; the wedge of the lens is its angle of view :math:`2 \\arctan(w / 2f)` in the plane of the paper.
    Lights carry numbers, boards, frames and flags letters; heights are written.
    """
    sketch = Sketch(ax, setup, (0, 1), units, size, scale, outer_px=34)
    sketch.grid(("x", "y"))
    for (x0, y0), (x1, y1) in clear:
        sketch.words.avoid_area([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
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
    (low, high), inset = sketch.view, sketch.px(half_px)
    corners = [np.array([x, y]) for y in (high[1] - inset, low[1] + inset) for x in (high[0] - inset, low[0] + inset)]

    def crowd(corner):
        centre, r = sketch.words.pixels(corner)[0], 1.2 * half_px * sketch.words.unit
        box = np.array([[*(centre - r), *(centre + r)]])
        return float(sketch.words.ink_in(box)[0]) + 1000 * bool(sketch.words.meets(box)[0])

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


def elevation(
    ax: Axes, setup: Setup, *, along: str = "x", units: str = "metric", scale: float | None = None, size: float = 7.0
) -> float:
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
    sketch = Sketch(ax, setup, (first, 2), units, size, scale, outer_px=26)
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
    for part in parts_of(setup):
        point = sketch.flat(part.at)
        if sketch.inside(point) and point[1] > 0:
            sketch.line([(point[0], 0), point], color=QUIET, lw=0.5, ls=(0, (1, 1.5)), avoid=False, zorder=1.5)
