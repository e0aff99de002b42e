"""
Where a lamp's beam or the sun lands, cut by wall, window, bars, flags and boards; in closed form, without the engine.

What people and furniture keep dark of where it lands is told beside it; the lit air is drawn past them, and the page says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from lightcalc.scene.hull import hull
from lightcalc.scene.numbering import beam_angle_deg
from lightcalc.scene.openings import WALL_INWARD, walls_before, window_panes
from lightcalc.scene.parts import (
    SURFACES,
    WALLS,
    Board,
    Exterior,
    Flag,
    Frame,
    Light,
    Room,
    Setup,
    Sun,
    Window,
    basis,
    rectangle_corners,
)
from lightcalc.scene.solids import Solid, solids
from lightcalc.units import Row
from lightcalc.wording import length_text

STRAIGHT = 0.1  # a sheer or frame that lets less than this share straight on ends a beam: what is left is lost in its glow
CORNERS = np.array(list(product((-1.0, 1.0), repeat=3)))
ROUNDED = 20  # corners of the outline that stands for an ellipsoid's, in and out of it by as much: 1 % of its radius
ROUND = 360  # corners that stand for a round beam: on a floor 3 m off they lie within 0.1 mm of the circle
WIDE_DEG = 170.0  # a lamp that still gives half its peak so far round has no cone to draw
SOFT_DEG = 90.0  # a lamp inside that shines wider lands nearly everywhere: where is not worth drawing
LEAST_M2 = 1e-6  # smaller pieces are rounding


@dataclass(frozen=True, eq=False)
class Patch:
    """A convex piece of what one beam lights on one surface; pieces of a surface do not overlap."""

    surface: str
    corners_m: np.ndarray  # (k, 3), in order round it

    @property
    def area_m2(self) -> float:
        """Area of the patch. [m2]"""
        (a, b, c), (x, y, z) = self.corners_m.T, np.roll(self.corners_m, -1, axis=0).T
        return 0.5 * float(np.hypot(np.hypot(b @ z - c @ y, c @ x - a @ z), a @ y - b @ x))  # Stokes: half of the sum of a x b


@dataclass(frozen=True, eq=False)
class Beam:
    """Where the light of one source goes, in convex pieces, and whether it comes in at windows."""

    source: str  # the lamp's name, "sun" or "moon"
    through_windows: bool
    patches: tuple[Patch, ...] = ()  # on floor, walls and ceiling, or on open ground
    shaft: tuple[np.ndarray, ...] = ()  # (k, 3) corners of each stretch of lit air
    approach: tuple[tuple[str, np.ndarray], ...] = ()  # the same, outside, on the way to each wall
    note: str = ""  # why nothing of it lands in the room
    shadows: tuple[Patch, ...] = ()  # what people and furniture keep dark of the patches; they may overlap


# ---- outlines of a few corners: plain lists of (x, y, z), where numpy's calls would cost more than their sums -------------


@dataclass(frozen=True, eq=False)
class Plane:
    """A convex outline that light may land on or go through; `normal` is the side that may be lit."""

    name: str
    corners: list
    normal: tuple[float, float, float]
    of: Plane | None = None  # the whole that it is a part of

    @property
    def offset(self) -> float:
        """What n . x is for each of its points. [m]"""
        return _dot(self.normal, self.corners[0])


class Rays:
    """
    Straight lines of light from a place, or from the sun, as points of a flat picture in homogeneous coordinates.

    A place sees a point at `point - at`; under the sun it lies where its ray meets a plane square to the rays, and has
    a third coordinate of 1. Either way a plane that holds the source is one row n with n . ray = 0.

    Parameters
    ----------
    at : sequence of 3 floats
        Place of the source [m], or the unit vector to the sun.
    sun : bool, default False
    """

    def __init__(self, at: Row, sun: bool = False) -> None:
        self.at, self.sun = tuple(map(float, at)), sun
        if sun:
            self.right, self.up = (tuple(way.tolist()) for way in basis((0, 0, 0), at)[:2])

    def through(self, points: Sequence) -> list[tuple[float, float, float]]:
        """The rays that go through some points, each (x, y, z)."""
        if self.sun:
            return [(_dot(self.right, point), _dot(self.up, point), 1.0) for point in points]
        a, b, c = self.at
        return [(x - a, y - b, z - c) for x, y, z in points]

    def meet(self, rays: list, plane: Plane) -> list[tuple[float, float, float]]:
        """
        Where rays meet a plane that stands across their way.

        Parameters
        ----------
        rays : list of (float, float, float)
            As `through` gives them.
        plane : Plane

        Returns
        -------
        list of (float, float, float)
            [m]
        """
        normal, offset = plane.normal, plane.offset
        return [self._meet(ray, normal, offset) for ray in rays]

    def _meet(self, ray, normal, offset):
        start, way = self.at, ray
        if self.sun:
            start = tuple((ray[0] * r + ray[1] * u) / ray[2] for r, u in zip(self.right, self.up))
            way = self.at
        far = (offset - _dot(normal, start)) / _dot(normal, way)
        return tuple(s + far * w for s, w in zip(start, way))

    def height(self, plane: Plane) -> float:
        """How far the source stands before a plane: metres, for the sun the cosine of incidence."""
        return _dot(plane.normal, self.at) - (0.0 if self.sun else plane.offset)


def _dot(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _times(number, way):
    return tuple(number * w for w in way)


def _tuples(points):
    return [tuple(point) for point in np.asarray(points, dtype=float).tolist()]


def _cut(outline, planes, offset=0.0):
    """The part of a convex outline where n . x >= offset for every plane n (Sutherland & Hodgman 1974)."""
    for a, b, c in planes:
        values = [a * x + b * y + c * z - offset for x, y, z in outline]
        if not values or max(values) <= 0.0:
            return []
        if min(values) >= 0.0:
            continue
        kept, was, last = [], outline[-1], values[-1]
        for here, value in zip(outline, values):
            if (value >= 0.0) != (last >= 0.0):
                share = last / (last - value)
                kept.append(tuple(p + share * (q - p) for p, q in zip(was, here)))
            if value >= 0.0:
                kept.append(here)
            was, last = here, value
        outline = kept
    return outline if len(outline) >= 3 else []


def _sides(rays):
    """Planes through the source along the edges of a convex outline, pointing in; none if it is seen edge on."""
    pairs = zip(rays, rays[1:] + rays[:1])
    planes = [(b * z - c * y, c * x - a * z, a * y - b * x) for (a, b, c), (x, y, z) in pairs]
    middle = [sum(axis) / len(rays) for axis in zip(*rays)]
    depths = [_dot(plane, middle) for plane in planes]
    least = max(1e-9 * max(map(abs, depths), default=0.0), 1e-12)  # corners that fall together have no edge
    turn = 1.0 if sum(depths) > 0 else -1.0
    return [_times(turn, plane) for plane, depth in zip(planes, depths) if abs(depth) > least]


def _without(pieces, sides):
    """What is left of convex pieces outside a convex shadow, in convex pieces."""
    left = []
    for piece in pieces:
        if not _cut(piece, sides):
            left.append(piece)
            continue
        for plane in sides:
            left.append(_cut(piece, [_times(-1.0, plane)]))
            piece = _cut(piece, [plane])
    return [piece for piece in left if piece]


# ---- what there is to land on, to go through and to stand in the way ----------------------------------------------


def _surface(name, room):
    """One inner face of a room, or the ground of an exterior as its floor."""
    axis = {"left": 0, "right": 0, "near": 1, "far": 1, "floor": 2, "ceiling": 2}[name]
    high, (a, b) = name in ("right", "far", "ceiling"), (k for k in range(3) if k != axis)
    corners = np.zeros((4, 3))
    corners[:, axis] = room.size_m[axis] if high else 0.0
    corners[1:3, a], corners[2:, b] = room.size_m[a], room.size_m[b]
    return Plane(name, _tuples(corners), tuple((-1.0 if high else 1.0) * (k == axis) for k in range(3)))


@lru_cache(maxsize=64)
def surfaces(place: Room | Exterior) -> tuple[Plane, ...]:
    """
    Everything of a place that light can land on.

    Parameters
    ----------
    place : Room or Exterior

    Returns
    -------
    tuple of Plane
        Of an exterior its ground, which is called the floor.
    """
    return tuple(_surface(name, place) for name in (SURFACES if isinstance(place, Room) else ("floor",)))


@lru_cache(maxsize=256)
def _stop(part):
    """A board, flag or frame as an outline."""
    corners = rectangle_corners(part.at, part.aim, part.width_m, part.height_m, part.roll_deg)
    return Plane(part.name, _tuples(corners), tuple(basis(part.at, part.aim)[2].tolist()))


def stops_of(setup: Setup) -> tuple[Flag | Board | Frame, ...]:
    """What ends a beam: flags, boards, and frames that let next to nothing straight through."""
    frames = tuple(frame for frame in setup.frames if frame.diffusion.direct < STRAIGHT)
    return setup.cutters + setup.boards + frames


def straight_share(window: Window) -> float:
    """Share of light that a window lets straight through. [1]"""
    return window.glass * (window.sheer.direct if window.sheer else 1.0)


@lru_cache(maxsize=256)
def _openings(room, window):
    """The panes of a window."""
    return tuple(Plane(window.name, _tuples(pane), WALL_INWARD[window.wall]) for pane in window_panes(window, room))


def _window_ways(rays, room, windows, walls, cone=None, least=STRAIGHT):
    """Each pane that the light comes in by, with the rays through it."""
    ways = []
    for window in windows:
        if window.wall in walls and straight_share(window) >= least:
            for pane in _openings(room, window):
                outline = rays.through(pane.corners)
                ways.append((pane, outline if cone is None else _cut(cone, _sides(outline))))
    return [(pane, outline) for pane, outline in ways if outline]


def landings(rays: Rays, ways: Sequence, targets: Sequence[Plane], stops: Sequence[Plane] = ()) -> Iterator[tuple]:
    """
    What straight light reaches of some surfaces.

    Parameters
    ----------
    rays : Rays
    ways : sequence of (opening, outline)
        Each way that the light may take: through an opening, or None; and the convex outline of those rays, or None for
        all that reach a target.
    targets : sequence of Plane
        Only the side of its normal is lit.
    stops : sequence of Plane, optional
        What may stand in the way; a stop does not shade itself.

    Yields
    ------
    (target, opening, list of rays)
        A convex outline, for each piece that is lit.
    """
    for target in targets:
        whole = rays.through(target.corners)
        sides = _sides(whole) if rays.height(target) > 1e-9 else []
        reached = [(opening, whole if outline is None else _cut(outline, sides)) for opening, outline in ways if sides]
        if not any(piece for _, piece in reached):
            continue
        shadows = [_shadow(rays, target, stop) for stop in stops if stop is not target.of]
        for opening, piece in reached:
            pieces = [piece] if piece else []
            for shadow in shadows:
                pieces = _without(pieces, shadow) if shadow else pieces
            yield from ((target, opening, piece) for piece in pieces)


def _shadow(rays, plane, stop):
    """The planes round the shadow that a stop throws on a plane, or none: only what stands before it counts."""
    before = _cut(stop.corners, [plane.normal], plane.offset)
    return _sides(rays.through(before)) if before else []


# ---- what people and furniture keep dark ----------------------------------------------------------------------------


def _outlines(rays, things):
    """The convex outline of the rays that each solid stops, empty where the source is in it or hard by."""
    middle = np.array([one.middle for one in things])
    sides = np.array([one.axes * one.half[:, None] for one in things])
    round_ = np.array([one.shape == "ball" for one in things])
    with np.errstate(divide="ignore", invalid="ignore"):  # a source in the middle of one
        balls = iter(_round_outlines(rays, middle[round_], sides[round_]))
        boxes = iter(_box_outlines(rays, middle[~round_], sides[~round_]))
    return [next(balls if one else boxes) for one in round_]


def _box_outlines(rays, middle, sides):
    """Hulls of the corners of boxes, (n, 3) and (n, 3, 3), as the rays see them."""
    corners = middle[:, None] + CORNERS @ sides
    if rays.sun:
        return [[(a, b, 1.0) for a, b in hull([ray[:2] for ray in rays.through(box)]).tolist()] for box in corners.tolist()]
    towards = corners - np.array(rays.at)
    forward = middle - np.array(rays.at)
    forward /= np.linalg.norm(forward, axis=1)[:, None]
    right, up = _square_to(forward)
    ahead, across, over = (np.einsum("nka,na->nk", towards, way) for way in (forward, right, up))
    whole = ahead.min(axis=1) > 0.0
    flat = np.stack([across, over], axis=2)[whole] / ahead[whole][..., None]
    seen = iter([hull(box) for box in flat])
    return [
        _tuples(to + next(seen) @ square) if all_ahead else []
        for all_ahead, to, square in zip(whole, forward, np.stack([right, up], axis=1))
    ]


def _square_to(ways):
    """Two ways square to each of some ways and to each other, of length one, (n, 3) each."""
    steep = np.abs(ways[:, 2]) > 0.9 * np.linalg.norm(ways, axis=1)
    right = np.cross(ways, np.where(steep[:, None], (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    right /= np.linalg.norm(right, axis=1)[:, None]
    up = np.cross(right, ways)
    return right, up / np.linalg.norm(up, axis=1)[:, None]


def _round_outlines(rays, middle, sides):
    """The circles along which the rays touch ellipsoids, as many-sided outlines, none from inside one."""
    into = sides / (sides**2).sum(axis=2, keepdims=True)  # to the frame in which each is the unit ball
    source = np.einsum("nij,nj->ni", into, rays.at - (0.0 if rays.sun else 1.0) * middle)
    far = np.linalg.norm(source, axis=1)
    turn = np.arange(ROUNDED) * 2 * np.pi / ROUNDED
    radius = 0.5 * (1 + 1 / np.cos(np.pi / ROUNDED)) * (1.0 if rays.sun else np.sqrt(np.maximum(1.0 - far**-2.0, 0.0)))
    right, up = _square_to(source)
    ring = np.cos(turn)[None, :, None] * right[:, None] + np.sin(turn)[None, :, None] * up[:, None]
    centre = np.zeros_like(source) if rays.sun else source / (far**2)[:, None]
    ring = ring * np.reshape(radius, (-1, 1, 1)) + centre[:, None]
    points = middle[:, None] + np.einsum("nki,nij->nkj", ring, sides)
    outside = np.full(len(far), True) if rays.sun else far > 1.0
    return [rays.through(_tuples(one)) if seen else [] for one, seen in zip(points, outside)]


def _shadows(rays, landed, things):
    """What some solids keep dark of the pieces that light lands on, each (name of the surface, its plane, outline of rays)."""
    if not (landed and things):
        return ()
    corners = np.array([ray for _, _, piece in landed for ray in piece])
    firsts = np.cumsum([0] + [len(piece) for _, _, piece in landed[:-1]])
    found = []
    for solid, outline in zip(things, _outlines(rays, things)):
        sides = _sides(outline) if len(outline) >= 3 else []
        if not sides:
            continue
        meets = np.maximum.reduceat(corners @ np.array(sides).T, firsts, axis=0).min(axis=1) > 0.0  # else one side cuts it all away
        for name, target, piece in (landed[k] for k in np.flatnonzero(meets)):
            if _dot(target.normal, solid.middle.tolist()) > target.offset and (dark := _cut(piece, sides)):
                patch = Patch(name, np.array(rays.meet(dark, target)))
                found += [patch] if patch.area_m2 > LEAST_M2 else []
    return tuple(found)


# ---- a lamp, and the sun -------------------------------------------------------------------------------------------


@lru_cache(maxsize=256)
def _beam_deg(distribution, diffusion):
    """Full angle to half the peak, of a lamp with what is clipped to it."""
    return beam_angle_deg(distribution if diffusion is None else _Softened(distribution, diffusion))


class _Softened:
    """A lamp behind diffusion: part goes straight on, part leaves the cloth evenly."""

    def __init__(self, distribution, diffusion):
        self.distribution, self.diffusion = distribution, diffusion
        self.soft_cd = distribution.lumens() / np.pi  # Lambert: I0 = lumens / pi

    def mean_cd(self, theta_rad):
        soft = self.soft_cd * np.maximum(np.cos(theta_rad), 0.0)
        return self.diffusion.direct * self.distribution.mean_cd(theta_rad) + self.diffusion.diffuse * soft


def lamp_beam_deg(light: Light) -> float | None:
    """
    Full angle of a lamp's beam, to half the candela on its axis, with the diffusion on it. [deg]

    Parameters
    ----------
    light : Light

    Returns
    -------
    float or None
        None from 170 degrees on: such a lamp shines all round. [deg]
    """
    angle = _beam_deg(light.distribution_now, light.diffusion)
    return angle if angle < WIDE_DEG else None


def _cone(light, corners):
    """The rays of a lamp's half-peak cone as a many-sided outline, or None for a lamp that shines all round."""
    angle = lamp_beam_deg(light)
    if angle is None:
        return None
    right, up, forward = basis(light.at, light.aim)
    turn = np.arange(corners) * 2 * np.pi / corners
    half = np.tan(np.radians(angle) / 2) * 0.5 * (1 + 1 / np.cos(np.pi / corners))  # in and out of the circle by as much
    return _tuples(forward + half * (np.cos(turn)[:, None] * right + np.sin(turn)[:, None] * up))


def lamp_beam(setup: Setup, light: Light, *, corners: int = ROUND, stops: Sequence[Flag | Board | Frame] | None = None) -> Beam:
    """
    Where the beam of a lamp goes.

    Parameters
    ----------
    setup : Setup
    light : Light
        One of its lamps, or any other.
    corners : int, default 360
        Of the outline that stands for a round beam.
    stops : sequence of Flag, Board or Frame, optional
        What ends the beam; `stops_of` the setup without it.

    Returns
    -------
    Beam
        Empty for a lamp that is off; without a shaft for one inside that shines all round.

    Notes
    -----
    The beam is what gets half the candela of the axis or more: the cone of `lamp_beam_deg`, from the middle of the
    lamp's face. From outside it comes in by the panes of the walls that the lamp stands beyond; flags and boards end
    it, a sheer or frame too that lets less than a tenth straight on. Patches are exact for a point of light; a face of
    width b makes an edge soft by b times the way after the edge over the way before it. Bounced light and a board's
    mirror image are left out. Out of doors the shaft goes as far as what the lamp aims at.
    """
    return _lamp_beam(setup.place, stops_of(setup) if stops is None else tuple(stops), light, corners, solids(setup))


@lru_cache(maxsize=256)
def _lamp_beam(place, stops, light, corners, things):
    if light.dim <= 0:
        return Beam(light.name, False)
    rays, cone, stops = Rays(light.at), _cone(light, corners), tuple(_stop(part) for part in stops)
    if not isinstance(place, Room):
        return _open_beam(rays, light, cone, place, stops, things)
    if place.contains(light.at):
        patches, shaft, shadows = _lit(rays, [(None, cone)], place, stops, things)
        return Beam(light.name, False, patches, shaft if cone is not None else (), shadows=shadows)
    walls = walls_before(light.at, place)
    ways = _window_ways(rays, place, place.windows, walls, cone)
    patches, shaft, shadows = _lit(rays, ways, place, stops, things)
    note = (
        ""
        if patches
        else "flags or boards stop it"
        if ways
        else _spread(_window_ways(rays, place, place.windows, walls, cone, 0.0))
    )
    return Beam(light.name, True, patches, shaft, _approach(rays, cone, place, walls, stops), note, shadows)


def _spread(ways):
    """Why light comes in by no window, given all that it meets, sheers and all."""
    names = ", ".join(dict.fromkeys(f"'{pane.name}'" for pane, _ in ways))
    return f"what hangs in {names} spreads it" if names else "its beam meets no window"


def _lit(rays, ways, room, stops, things):
    """Patches on a room's surfaces, stretches of lit air up to them and to what stands in the room, and shadows on the patches."""
    patches, shaft, lit = [], [], []
    for target, opening, piece in landings(rays, ways, surfaces(room), stops):
        landed = rays.meet(piece, target)
        patch = Patch(target.name, np.array(landed))
        if patch.area_m2 > LEAST_M2:
            patches.append(patch)
            shaft.append(_stretch(rays, piece, opening, landed))
            lit.append((target.name, target, piece))
    for target, opening, piece in landings(rays, ways, _facing(rays, _within(room, stops)), stops):
        shaft.append(_stretch(rays, piece, opening, rays.meet(piece, target)))
    return tuple(patches), tuple(shaft), _shadows(rays, lit, things)


def _stretch(rays, piece, opening, landed):
    """Corners of the air between where light comes in, or the lamp, and where it lands."""
    return np.array([*([rays.at] if opening is None else rays.meet(piece, opening)), *landed])


def _within(room, stops):
    """The part of each stop that stands in the room."""
    for stop in stops:
        corners = stop.corners
        for side in surfaces(room):
            corners = _cut(corners, [side.normal], side.offset)
        yield stop, corners


def _facing(rays, parts):
    """Parts of stops, each turned so that the source is before it."""
    turns = [(stop, corners, 1.0 if rays.height(stop) > 0 else -1.0) for stop, corners in parts if corners]
    return [Plane(stop.name, corners, _times(turn, stop.normal), stop) for stop, corners, turn in turns]


def _approach(rays, cone, room, walls, stops):
    """Lit air outside, from a lamp to the outer face of each wall it stands before and to what stands between."""
    found = []
    for wall in (_surface(name, room) for name in walls):
        out = Plane(wall.name, wall.corners, _times(-1.0, wall.normal))
        between = _facing(rays, [(stop, _cut(stop.corners, [out.normal], out.offset)) for stop in stops])
        for target, _, piece in landings(rays, [(None, cone)], [out, *between], stops):
            found.append((wall.name, _stretch(rays, piece, None, rays.meet(piece, target))))
    return tuple(found)


def _open_beam(rays, light, cone, place, stops, things):
    """Out of doors: patches on the ground of the place; the shaft up to ground, stops, or what is aimed at."""
    ways, ground = [(None, cone)], surfaces(place)[0]
    landed = [piece for _, _, piece in landings(rays, ways, [ground], stops)]
    patches = [Patch("ground", np.array(rays.meet(piece, ground))) for piece in landed]
    patches = tuple(patch for patch in patches if patch.area_m2 > LEAST_M2)
    shadows = _shadows(rays, [("ground", ground, piece) for piece in landed], things)
    if cone is None:
        return Beam(light.name, False, patches, shadows=shadows)
    right, up, forward = basis(light.at, light.aim)
    far = float(np.linalg.norm(np.subtract(light.aim, light.at)))
    wide = far * float(np.linalg.norm(np.subtract(cone, forward), axis=1).max())
    rim = _tuples(light.aim + wide * np.array([right + up, up - right, -right - up, right - up]))
    (x, y, _), reach = light.at, far + 2 * wide
    under = [(x - reach, y - reach, 0.0), (x + reach, y - reach, 0.0), (x + reach, y + reach, 0.0), (x - reach, y + reach, 0.0)]
    back, cap = tuple((-forward).tolist()), _cut(rim, [ground.normal])
    end = _dot(back, light.aim) - 1e-6  # ground that is aimed at straight down is met, not missed by rounding
    parts = [(part, _cut(part.corners, [back], end)) for part in (Plane("ground", under, ground.normal), *stops)]
    targets = _facing(rays, parts) + ([Plane("aim", cap, back)] if cap else [])
    shaft = [_stretch(rays, piece, None, rays.meet(piece, t)) for t, _, piece in landings(rays, ways, targets, stops)]
    return Beam(light.name, False, patches, tuple(shaft), shadows=shadows)


def sun_beam(
    room: Room,
    windows: Sequence[Window],
    sun: Sun,
    *,
    stops: Sequence[Flag | Board | Frame] = (),
    things: Sequence[Solid] = (),
    least: float = STRAIGHT,
) -> Beam:
    """
    Where the sun comes into a room.

    Parameters
    ----------
    room : Room
    windows : sequence of Window
        Of its windows, those asked for.
    sun : Sun
    stops : sequence of Flag, Board or Frame, optional
        What ends the light.
    things : sequence of Solid, optional
        What people and furniture are made of, for their shadows.
    least : float, default 0.1
        Share of the light that a window must let straight through to count. [1]

    Returns
    -------
    Beam
        Empty while the sun is down, has no light, or shines on no wall with a window.

    Notes
    -----
    The wall has no thickness: a deep reveal takes the edge off a patch and shuts out a sun that grazes the wall. The
    sun's disc, half a degree wide, makes the edge soft by 9 mm in each metre; that is left out.
    """
    towards = sun.direction(room.bearing_deg)
    if sun.normal_lx <= 0 or towards[2] <= 0:
        return Beam(sun.body, True)
    rays = Rays(towards, sun=True)
    walls = [wall for wall in WALLS if np.dot(WALL_INWARD[wall], towards) < -1e-9]
    ways = _window_ways(rays, room, windows, walls, least=max(least, 1e-12))
    patches, shaft, shadows = _lit(rays, ways, room, tuple(_stop(part) for part in stops), things)
    return Beam(sun.body, True, patches, shaft, shadows=shadows)


def beams(setup: Setup, *, corners: int = ROUND) -> tuple[Beam, ...]:
    """
    Where the beams of all lamps go, and the sun's where it comes in at windows.

    Parameters
    ----------
    setup : Setup
    corners : int, default 360
        Of the outline that stands for a round beam.

    Returns
    -------
    tuple of Beam
        One a lamp, in the setup's order, then the sun's.
    """
    found = [lamp_beam(setup, light, corners=corners) for light in setup.lights]
    if setup.sun is not None and isinstance(setup.place, Room):
        found.append(sun_beam(setup.place, setup.place.windows, setup.sun, stops=stops_of(setup), things=solids(setup)))
    return tuple(found)


# ---- in words --------------------------------------------------------------------------------------------------------


def patch_words(room: Room, patches: Sequence[Patch], *, units: str = "metric") -> str:
    """
    Where patches lie, to be found with a tape from the walls.

    Parameters
    ----------
    room : Room
    patches : sequence of Patch
        Of one beam; all that lie on one surface are taken together, bars and all.
    units : {"metric", "feet"}, default "metric"

    Returns
    -------
    str
        The largest first; "" for none.

    Examples
    --------
    >>> floor = np.array([[4.5, 2.1, 0], [5.8, 2.1, 0], [5.8, 3.4, 0], [4.5, 3.4, 0]])
    >>> loft = Room(name="loft", width_m=6.4, depth_m=9.2, height_m=3.4)
    >>> patch_words(loft, [Patch("floor", floor)])
    'on the floor, 0.6 to 1.9 m from the right wall and 2.1 to 3.4 m from the near wall'
    """
    areas: dict[str, float] = {}
    for patch in patches:
        areas[patch.surface] = areas.get(patch.surface, 0.0) + patch.area_m2
    return "; ".join(_surface_words(room, name, patches, units) for name in sorted(areas, key=areas.__getitem__, reverse=True))


def _surface_words(room, surface, patches, units):
    corners = np.vstack([patch.corners_m for patch in patches if patch.surface == surface])
    low, high = corners.min(axis=0), corners.max(axis=0)
    words = [_from_wall(room, axis, low[axis], high[axis], units) for axis in (0, 1) if surface not in WALL_NAMES[axis]]
    up = [] if surface in ("floor", "ceiling") else [f"{_span(low[2], high[2], units)} up"]
    return f"on the {surface}{' wall' * bool(up)}, {' and '.join(words + up)}"


WALL_NAMES = (("left", "right"), ("near", "far"))  # across x, across y


def _from_wall(room, axis, low, high, units):
    """A stretch from the nearer of two walls."""
    side, size = 0, room.size_m[axis]
    if low + high > size:
        side, low, high = 1, size - high, size - low
    return f"{_span(low, high, units)} from the {WALL_NAMES[axis][side]} wall"


def _span(low, high, units):
    """`0.6 to 1.9 m`, or both ends with their feet."""
    first, last = (length_text(max(0.0, value), units=units) for value in (low, high))
    return f"{first.removesuffix(' m')} to {last}"
