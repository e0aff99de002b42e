"""How a setup and each of its parts look drawn flat and to scale, from above or from the side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch, Polygon, Rectangle
from matplotlib.path import Path
from matplotlib.ticker import FuncFormatter, MultipleLocator

from lightcalc.answers.light_patch import SOFT_DEG, WIDE_DEG, beams, lamp_beam_deg
from lightcalc.answers.placement import placements
from lightcalc.drawing.outlines import hulls, outline
from lightcalc.drawing.palette import BLACK, BLUE, FAINT, GREEN, ORANGE, PAPER, PURPLE, QUIET, VERMILLION, YELLOW, Words
from lightcalc.scene.hull import hull
from lightcalc.scene.numbering import call_signs, lit_mark
from lightcalc.scene.parts import BODIES, Room, Setup, rectangle_corners
from lightcalc.scene.solids import solids
from lightcalc.units import FT, Numbers
from lightcalc.wording import check_units, length_text, one_line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text
    from numpy.typing import ArrayLike


MM_PER_INCH = 25.4
BEAM_CORNERS = 96  # of a round beam: on paper it is round


def parts_of(setup: Setup) -> tuple:
    """Everything of a setup that stands somewhere."""
    return setup.lights + setup.boards + setup.flags + setup.frames + setup.pieces + setup.marks + (setup.camera,)


def extent(setup: Setup, axes: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """
    Corners of what is drawn.

    A room, with what stands up to 0.6 of its longest side outside it; outdoors the stretch of ground
    that is used, because the ground itself may be a hundred times as large.

    Parameters
    ----------
    setup : Setup
    axes : (int, int)
        Which two of x, y, z.

    Returns
    -------
    (array of shape (2,), array of shape (2,))
        The lowest and the highest. [m]
    """
    axes, place = list(axes), setup.place
    size = np.array(place.size_m)[axes]
    reach = 0.6 * max(place.size_m)  # the same in every view: what the plan shows, the side view shows
    points = np.array([np.asarray(part.at, dtype=float)[axes] for part in parts_of(setup)])
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


class Sketch:
    """
    A flat view of a setup, to scale; sizes never shrink below what the eye can read.

    Parameters
    ----------
    ax : matplotlib Axes
        Already at its final place and size; its limits are set here.
    setup : Setup
    axes : (int, int)
        Which two of x, y, z run across and up the paper.
    units : {"metric", "feet"}
    size : float
        Type size. [pt]
    scale : float or None
        The n of 1 : n on paper; None fills the axes. [1]
    outer_px : float
        Margin kept where it fills them. [hundredths of an inch]

    Raises
    ------
    ValueError
        If units are unknown.
    """

    def __init__(
        self, ax: Axes, setup: Setup, axes: Sequence[int], units: str, size: float, scale: float | None, outer_px: float
    ) -> None:
        self.ax, self.setup, self.axes, self.units, self.size = ax, setup, list(axes), check_units(units), size
        self.low, self.high = extent(setup, self.axes)
        self._frame(scale, outer_px)
        self.words = Words(ax, size)
        self.far: dict = {}  # parts that stand off the paper

    # where things are

    def flat(self, point: ArrayLike) -> np.ndarray:
        """A point of the room frame in this view. [m]"""
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

    def px(self, pixels: float) -> float:
        """So many hundredths of an inch, in metres on this drawing."""
        return pixels * self.ax.figure.dpi / 100 / self.ppm

    def inside(self, point: Numbers, margin_px: float = 8) -> bool:
        """
        Whether a point lies on the paper.

        Parameters
        ----------
        point : array of shape (2,)
            In this view. [m]
        margin_px : float, default 8
            Kept free at the edge. [hundredths of an inch]

        Returns
        -------
        bool
        """
        m = self.px(margin_px)
        return bool(np.all(point > self.view[0] + m) and np.all(point < self.view[1] - m))

    # strokes

    def line(
        self, points: Numbers, *, color: str = BLACK, lw: float = 1.0, avoid: bool = True, zorder: float = 3, **look: Any
    ) -> None:
        """
        A stroke from corner to corner.

        Parameters
        ----------
        points : array of shape (n, 2)
            In this view. [m]
        color : str, default BLACK
        lw : float, default 1
            Its width. [pt]
        avoid : bool, default True
            Whether words keep off it.
        zorder : float, default 3
        **look
            Further looks of a matplotlib line.
        """
        points = np.asarray(points, dtype=float)
        self.ax.plot(points[:, 0], points[:, 1], color=color, lw=lw, zorder=zorder, **look)
        if avoid:
            self.words.avoid(points)

    def area(self, points: Numbers, *, avoid: bool = True, **look: Any) -> None:
        """
        A filled part.

        Parameters
        ----------
        points : array of shape (n, 2)
            Its corners in this view, four if words are to keep off it. [m]
        avoid : bool, default True
            Whether they do.
        **look
            Looks of a matplotlib polygon.
        """
        self.ax.add_patch(Polygon(points, closed=True, **({"zorder": 4} | look)))
        if avoid:
            self.words.avoid_area(points)

    def arrow(self, start: Numbers, end: Numbers, **look: Any) -> None:
        """
        A line with a small open head.

        Parameters
        ----------
        start, end : array of shape (2,)
            In this view. [m]
        **look
            As for `line`.
        """
        start, end = np.asarray(start, float), np.asarray(end, float)
        along = end - start
        size = np.linalg.norm(along)
        if size < 1e-9:
            return
        along = along / size
        across = np.array([-along[1], along[0]])
        head = min(self.px(6), 0.5 * float(size))
        self.line([start, end], **look)
        look = look | {"ls": "-", "gid": None}
        self.line([end - head * along + 0.45 * head * across, end, end - head * along - 0.45 * head * across], **look)

    def grid(self, names: Sequence[str]) -> None:
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

    def _heading(self, part):
        """Unit vector of a part's facing in this view, or None where it faces the reader."""
        way = self.flat(np.subtract(part.aim, part.at))
        size = np.linalg.norm(way)
        return way / size if size > 1e-6 * max(1.0, np.linalg.norm(np.subtract(part.aim, part.at))) else None

    def _wedge(self, part, angle_deg, reach, *, color, ls, alpha):
        """What a lens takes in, as a pale sector with two edges."""
        way = self._heading(part)
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

    def _beam(self, beam):
        """Where light goes, cut by wall, window, bars and flags; darker where it lands, unless it lands nearly everywhere."""
        sun = beam.source in BODIES
        color, ink, ls = (YELLOW, "#8A7A00", (0, (4, 1.5))) if sun else (ORANGE, ORANGE, "-")
        wide = not beam.through_windows and (lamp_beam_deg(self.setup.part(beam.source)) or WIDE_DEG) > SOFT_DEG
        # light outside lies beside the room where its wall is seen edge on, else over it
        beside = [stretch for wall, stretch in beam.approach if (0 if wall in ("left", "right") else 1) in self.axes]
        self._cover(beside, color, 0.10, color=ink, lw=0.5, ls=ls)
        self._cover(beam.shaft, color, 0.07 if wide else 0.16, color=ink, lw=0.7, ls=ls)
        lid = "floor" if 2 in self.axes else "ceiling"  # edge on, or over everything else
        for surface in dict.fromkeys(patch.surface for patch in beam.patches if not wide and isinstance(self.setup.place, Room)):
            lies = [patch.corners_m for patch in beam.patches if patch.surface == surface]
            if surface != lid:
                self._cover(lies, color, 0.35, color=VERMILLION, lw=0.9, ls=ls, gid=f"lands|{beam.source}|{surface}")
                self._darken(
                    [patch.corners_m for patch in beam.shadows if patch.surface == surface], gid=f"dark|{beam.source}|{surface}"
                )
            if surface != "ceiling":
                self._edge_on(lies, color=VERMILLION, gid=f"lands|{beam.source}|{surface}")

    def _cover(self, stretches, fill, alpha, *, gid=None, **edge):
        """All that convex pieces cover together, filled once, and its outline."""
        pieces = hulls(stretches, self.axes)
        if not pieces:
            return
        self._fill(pieces, facecolor=fill, alpha=alpha, zorder=1, gid=gid)
        strokes = outline(pieces)
        self.ax.add_collection(LineCollection(strokes, zorder=1.8, **edge), autolim=False)
        for stroke in strokes:
            self.words.avoid(stroke)

    def _darken(self, stretches, *, gid):
        """What people and furniture keep dark of a patch: paper again."""
        if pieces := hulls(stretches, self.axes):
            self._fill(pieces, facecolor=PAPER, alpha=0.8, zorder=1.1, gid=gid)

    def _fill(self, pieces, **look):
        """Convex outlines as one figure, without edges."""
        path = Path.make_compound_path(*(Path(np.vstack([p, p[:1]]), closed=True) for p in pieces))
        self.ax.add_patch(PathPatch(path, edgecolor="none", **look))

    def _edge_on(self, stretches, **look):
        """Flat pieces that are seen edge on, as thick lines."""
        for corners in map(self.flat, stretches):
            line = hull(corners)
            if len(line) == 2:
                self.line(line, lw=2.4, avoid=False, solid_capstyle="butt", zorder=3.3, **look)

    def _flat(self, part, *, face, edge, ls, hatch=None):
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

    def _facing_tick(self, part, length_px, **look):
        way = self._heading(part)
        if way is not None:
            start = self.flat(part.at)
            self.line([start, start + self.px(length_px) * way], **look)

    def _off_paper(self, name, part):
        """A part too far out to draw: an arrow at the edge says which way and how far."""
        start, middle = self.flat(part.at), self.view.mean(0)
        way = start - middle
        room = (self.view[1] - self.view[0]) / 2 - self.px(10)
        edge = middle + way * np.min(room / np.maximum(np.abs(way), 1e-9))
        self.arrow(edge - way / np.linalg.norm(way) * self.px(22), edge, color=ORANGE, lw=1.2)
        self.far[name] = edge - way / np.linalg.norm(way) * self.px(11)
        return self.far[name]

    def _light(self, light):
        start = self.flat(light.at)
        if not self.inside(start, 3):
            return self._off_paper(light.name, light)
        aim = self.flat(light.aim)
        self.arrow(start, aim, color=VERMILLION, lw=0.8, ls=(0, (5, 2)))
        if light.face_width_m:
            self._flat(light, face=YELLOW, edge=ORANGE, ls="-")
        self.ax.plot(*start, "o", ms=6, mfc=ORANGE, mec=BLACK, mew=0.8, zorder=6)
        self.words.avoid([start - self.px(3), start + self.px(3)])
        return start

    def _camera(self):
        cam = self.setup.camera
        if not self.inside(self.flat(cam.at), 3):
            return self._off_paper("camera", cam)
        width = cam.sensor_width_mm if 2 not in self.axes else cam.sensor_height_mm
        aim = float(np.linalg.norm(self.flat(np.subtract(cam.aim, cam.at))))
        subject = lit_mark(self.setup, cam)
        if subject is not None:
            aim = max(aim, 1.15 * float(np.linalg.norm(self.flat(np.subtract(subject.at, cam.at)))))
        angle = 2 * np.degrees(np.arctan(width / 2 / cam.focal_mm))
        self._wedge(cam, angle, aim, color=PURPLE, ls=(0, (6, 2, 1, 2)), alpha=0.10)
        start, way = self.flat(cam.at), self._heading(cam)
        way = np.array([0.0, 1.0]) if way is None else way
        across = np.array([-way[1], way[0]])
        a, b = max(0.22, self.px(9)), max(0.11, self.px(4.5))  # body behind the lens, which sits at `at`
        back = start - 2 * a * way
        body = np.array([start - b * across, start + b * across, back + b * across, back - b * across])
        self.area(body, facecolor=PURPLE, edgecolor=BLACK, lw=0.8, zorder=6)
        return start - a * way

    def _mark(self, mark):
        start = self.flat(mark.at)
        self._facing_tick(mark, 13, color=BLACK, lw=1.4, zorder=6)
        marker, width = ("o", 7) if mark.figure else ("D", 5)
        self.ax.plot(*start, marker, ms=width, mfc=PAPER, mec=BLACK, mew=1.2, zorder=7)
        self.words.avoid([start - self.px(4), start + self.px(4)])
        return start

    def _solids(self):
        """People and furniture, as they project: pale, under everything that has a sign."""
        for solid in solids(self.setup):
            flat = self.flat(solid.axes * solid.half[:, None])
            if solid.shape == "ball":
                turn = np.linspace(0.0, 2 * np.pi, 49)
                long, tilt = np.linalg.eigh(flat.T @ flat)
                rim = np.c_[np.cos(turn), np.sin(turn)] * np.sqrt(np.maximum(long, 0.0)) @ tilt.T
            else:
                signs = np.array([[a, b, c] for a in (-1, 1) for b in (-1, 1) for c in (-1, 1)])
                rim = hull(signs @ flat)
            middle = self.flat(solid.middle)
            if self.inside(middle):
                self.area(middle + rim, facecolor="#B9B4AA", edgecolor=QUIET, lw=0.5, alpha=0.55, zorder=1.5, avoid=False)

    def _spots(self):
        for spot in self.setup.spots:
            place = self.flat(spot.at)
            if self.inside(place):
                self.ax.plot(*place, "s", ms=3.5, mfc="none", mec=QUIET, mew=0.8, zorder=5)
                self.words.avoid([place - self.px(2), place + self.px(2)])

    def dimension(self, start: Numbers, end: Numbers, text: str, name: str) -> Text | None:
        """
        A measured line with end strokes; left out where it is too short to carry its figure.

        Parameters
        ----------
        start, end : array of shape (2,)
            In this view. [m]
        text : str
            The figure.
        name : str
            What the drawing knows it by.

        Returns
        -------
        matplotlib Text or None
            None where it was left out.
        """
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

    def labels(self, places: dict[tuple[str, str], Any]) -> None:
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
                    tail = f"{self._away(part)}, {tail}"
                self._label(places, (kind, part.name), sign, "" if crowded else part.name, tail, color)
        for piece in s.pieces:
            place = self.flat(np.add(piece.at, (0.0, 0.0, 0.5 * piece.size_m[2])))
            if self.inside(place):
                self.words.beside(place, [one_line(piece.name, most=18)], radius=5, color=QUIET, must=False)
        for spot in s.spots:
            place, name = self.flat(spot.at), one_line(spot.name, most=18)
            if self.inside(place):
                self.words.beside(place, [name], radius=3, color=QUIET, must=False, style="italic")

    def _away(self, part):
        """How far a part off the paper stands from the wall or edge next to it, as a tape finds it."""
        found = next(one for one in placements(self.setup) if one.name == part.name and one.kind == part.kind)
        return f"{length_text(abs(found.from_wall_m), units=self.units)} from the {found.from_wall}"

    def _label(self, places, key, sign, name, tail, color, **style):
        if key not in places:
            return
        head = f"{sign} " if sign else ""
        short = one_line(name, most=20)
        full = [f"{head}{short}, {tail}", f"{head}{short}\n{tail}", f"{head}{one_line(name, most=12)}\n{tail}"]
        versions = (full if name else []) + ([f"{head}{tail}", sign] if sign else [short])
        self.words.beside(places[key], list(dict.fromkeys(versions)), radius=6, color=color, linespacing=1.0, **style)

    def everything(self) -> dict[tuple[str, str], Any]:
        """Draw all parts; return where each one's label should start."""
        s, places = self.setup, {}
        for beam in beams(s, corners=BEAM_CORNERS):
            self._beam(beam)
        self._solids()
        places["camera", "camera"] = self._camera()
        for light in s.lights:
            places["light", light.name] = self._light(light)
        looks = (
            ("board", s.boards, dict(face="#BFE0F2", edge=BLUE, ls="-")),
            ("flag", s.flags, dict(face="#777777", edge=BLACK, ls="-", hatch="xxx")),
            ("frame", s.frames, dict(face="#CDEBE1", edge=GREEN, ls=(0, (2, 0.8)))),
        )
        for kind, group, look in looks:
            for part in group:
                if self.inside(self.flat(part.at), 3):
                    places[kind, part.name] = self._flat(part, **look)
                    if kind != "flag":
                        self._facing_tick(part, 9, color=look["edge"], lw=1.0, zorder=5)
                else:
                    places[kind, part.name] = self._off_paper(part.name, part)
        for mark in s.marks:
            if self.inside(self.flat(mark.at), 2):
                places["mark", mark.name] = self._mark(mark)
        self._spots()
        return places

    def finish(self) -> None:
        """Say how many labels found no room."""
        if self.words.dropped:
            note = f"{len(self.words.dropped)} labels left off for want of room; see the tables"
            self.words.beside(self.view.mean(0), [note], must=False, color=VERMILLION)
