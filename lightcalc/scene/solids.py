"""
What people and furniture are made of: a few ellipsoids and boxes, each with a middle, three axes and a surface.

A person is built up from a face: a head, a trunk, legs; furniture from boxes that stand on the floor. The engine shades with
them, the plan, the stage and the sheet draw them, so that all show the same thing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from lightcalc.scene.parts import Mark, Piece, Setup, basis

if TYPE_CHECKING:
    from lightcalc.units import Numbers, Row

HEAD_M = (0.078, 0.097, 0.115)  # half a head's breadth, depth, and height from the chin up: see `person`
GROWN_M = 1.4  # FROM MEMORY: a head is as large as it will be, within a twentieth
FACE_AHEAD_M = 0.01  # a meter before a face is held so far off it
FEATURES = (  # of a grown face: across and over its middle, how deep under its skin, half across, out and over [m], tip [deg]
    (0.0, -0.019, 0.009, 0.0155, 0.026, 0.033, 18.0),  # nose
    (-0.028, 0.031, 0.0460, 0.042, 0.05, 0.023, 0.0),  # brows
    (0.028, 0.031, 0.0460, 0.042, 0.05, 0.023, 0.0),
    (-0.040, -0.036, 0.0447, 0.040, 0.05, 0.030, 0.0),  # cheekbones
    (0.040, -0.036, 0.0447, 0.040, 0.05, 0.030, 0.0),
    (0.0, -0.066, 0.0450, 0.030, 0.05, 0.022, 0.0),  # mouth
    (0.0, -0.125, 0.0420, 0.036, 0.05, 0.028, 0.0),  # chin
)  # COMMON PRACTICE: a plain face, whose eyes lie where brow, nose and cheekbones leave them
CHEEK_DEG = 45.0  # COMMON PRACTICE: a cheek looks so far aside of where the face looks
EYES, CHIN, SHOULDER, HIP, KNEE = 0.936, 0.870, 0.818, 0.530, 0.285  # heights as shares of a person's
SHOULDERS, HIPS = 0.259, 0.191  # widths
LEG_M = 0.05  # side of a leg of a table, chair or bed
SLAB_M = 0.04  # of a table's top, a shelf's boards, a door leaf, a slope
HAIR_M = 0.0005  # of a drum, see there
SLAT_M, RAIL_M, MOST_SLATS = 0.002, 0.02, 30  # of a blind


@dataclass(frozen=True, eq=False)
class Solid:
    """One convex piece: an ellipsoid ('ball') or a 'box', from its middle along three axes square to each other."""

    shape: str
    middle: np.ndarray  # (3,) [m]
    axes: np.ndarray  # (3, 3) unit vectors, one a row
    half: np.ndarray  # (3,) half its size along each [m]
    reflectance: float
    of: str  # the mark or piece it belongs to
    joined: bool = False  # faces of it lie within others of the same piece, so none is lit as a board's side is

    @property
    def radius_m(self) -> float:
        """Of the ball about its middle that holds it. [m]"""
        return float(np.max(self.half) if self.shape == "ball" else np.linalg.norm(self.half))

    @property
    def reach_m(self) -> Numbers:
        """How far it goes from its middle along x, y and z, (3,). [m]"""
        spread = self.axes * self.half[:, None]
        return np.linalg.norm(spread, axis=0) if self.shape == "ball" else np.abs(spread).sum(axis=0)

    def holds(self, point: Row) -> bool:
        """
        Whether a point is inside it.

        Parameters
        ----------
        point : sequence of 3 floats
            [m]

        Returns
        -------
        bool
        """
        inside = np.abs(self.axes @ (np.asarray(point) - self.middle) / self.half)
        return bool(np.linalg.norm(inside) < 1.0 if self.shape == "ball" else inside.max() < 1.0)

    def stops(self, starts: Numbers, end: Row) -> Numbers:
        """
        Which straight lines to a place go through it.

        Parameters
        ----------
        starts : array (n, 3)
            [m]
        end : sequence of 3 floats
            [m]

        Returns
        -------
        array (n,) of bool
        """
        u, v = ((np.asarray(points) - self.middle) @ self.axes.T / self.half for points in (starts, end))
        way = v - u
        if self.shape == "ball":
            share = np.clip(-(u * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-300), 0.0, 1.0)
            return np.linalg.norm(u + share[:, None] * way, axis=1) < 1.0
        way = np.where(np.abs(way) < 1e-12, 1e-12, way)
        low, high = (-1.0 - u) / way, (1.0 - u) / way
        near, away = np.minimum(low, high).max(axis=1), np.maximum(low, high).min(axis=1)
        return np.maximum(near, 0.0) < np.minimum(away, 1.0)


def solids(setup: Setup) -> tuple[Solid, ...]:
    """All that people and furniture of a setup are made of: people first, in the order of their marks."""
    people = tuple(one for mark in setup.marks if mark.figure for one in person(mark))
    return people + tuple(one for piece in setup.pieces for one in furniture(piece))


@lru_cache(maxsize=512)
def person(mark: Mark) -> tuple[Solid, ...]:
    """
    The person whose face a mark is at.

    Parameters
    ----------
    mark : Mark
        The face looks the way it faces; `pose` and `tall_m` say the rest.

    Returns
    -------
    tuple of Solid
        The head first.

    Notes
    -----
    Heights and widths as shares of a person's height after R. Drillis and R. Contini, Body Segment Parameters (New York
    University, 1966): eyes .936, chin .870, shoulders .818, hips .530, knees .285; .259 across the shoulders, .191 across the
    hips. The head's breadth, depth and height, 0.155, 0.195 and 0.23 m, are those of design handbooks. All FROM MEMORY, and
    a coat or a hat changes them by more than they are wrong. Ellipsoids are as long as the part and a little over, so that
    they meet. One who stands on nothing has feet at their own length under the face; one whose face is lower stands with bent knees.
    """
    tall, skin, cloth, name = mark.tall_m, mark.reflectance, mark.body, mark.name
    face, facing = np.asarray(mark.at), basis(mark.at, mark.aim)[2]
    level = _level(facing)
    right, up = np.cross(level, (0.0, 0.0, 1.0)), np.array([0.0, 0.0, 1.0])
    if mark.pose == "lying":
        return _lying(mark, facing, level)
    upright = np.array([right, level, up])
    wide, deep, high = _head_m(tall)
    tilt = np.hypot(facing @ level / deep, facing[2] / high)  # from a head's middle to its skin along the way it faces
    head = face - (FACE_AHEAD_M + 1.0 / tilt) * facing
    found = [_ball(head, upright, (wide, deep, high), skin, name)]
    neck = head[2] - high + 0.02  # under the chin
    trunk_m = (CHIN - HIP) * tall
    if mark.pose == "seated":
        hip = max(neck - trunk_m, 0.1)
        found += _trunk(head, upright, hip - 0.08, neck, mark)
        thigh_m, lap = (HIP - KNEE) * tall + 0.12, hip - 0.02
        middle = np.array([head[0], head[1], lap]) + (0.5 * thigh_m - 0.1) * level
        found.append(_ball(middle, upright, (HIPS * tall / 2, 0.5 * thigh_m, 0.09), cloth, name))
        shin = np.array([head[0], head[1], 0.0]) + (thigh_m - 0.2) * level
        foot = max(0.0, lap - KNEE * tall)
        found.append(_upright(shin, upright, foot, lap, 0.15, 0.09, cloth, name))
    else:
        foot = max(0.0, face[2] - EYES * tall)
        hip = max(neck - trunk_m, foot + 0.1)
        found += _trunk(head, upright, hip - 0.1, neck, mark)
        found.append(_upright(head, upright, foot, hip + 0.1, HIPS * tall / 2, 0.12, cloth, name))
    return tuple(found)


def features(mark: Mark) -> tuple[Solid, ...]:
    """
    What stands out of a person's face: nose, brow, cheekbones, chin, as ellipsoids a little sunk into the head.

    They are in pictures alone, where they show how a face is modelled. A meter at a face is held before them.

    Parameters
    ----------
    mark : Mark
        With a figure.

    Returns
    -------
    tuple of Solid
    """
    head, out = person(mark)[0], basis(mark.at, mark.aim)[2]
    grown, right = head.half[0] / HEAD_M[0], head.axes[0]
    over = np.cross(right, out)  # towards the crown; of one who lies away from the feet
    if mark.pose == "lying":
        over = -head.axes[2] + (head.axes[2] @ out) * out
    over /= np.linalg.norm(over)
    found = []
    for x, z, deep, *half, tip_deg in FEATURES:
        way = x * right + z * over + np.sqrt(HEAD_M[1] ** 2 - x**2) * out
        way /= np.linalg.norm(way)
        skin = way / np.linalg.norm(head.axes @ way / head.half)
        c, s = np.cos(np.radians(tip_deg)), np.sin(np.radians(tip_deg))
        axes = np.array([right, c * out + s * over, c * over - s * out])  # the lower end tips out
        found.append(
            _ball(head.middle + skin - grown * deep * way, axes, grown * np.array(half), mark.reflectance, f"{mark.name}'s face")
        )
    return tuple(found)


def cheeks(mark: Mark) -> tuple[Numbers, Numbers]:
    """
    Where a meter is held at the cheeks of a person, and where it looks: the person's own left, then the right.

    Parameters
    ----------
    mark : Mark
        With a figure.

    Returns
    -------
    at, facing : arrays (2, 3)
        Points FACE_AHEAD_M off the skin [m], and unit vectors CHEEK_DEG to either side of the way the face looks.
    """
    head, facing = person(mark)[0], basis(mark.at, mark.aim)[2]
    aside = np.sin(np.radians(CHEEK_DEG)) * np.array([-head.axes[0], head.axes[0]])
    ways = np.cos(np.radians(CHEEK_DEG)) * facing + aside
    touched = (ways @ head.axes.T) * head.half  # in the head's frame, where it is a unit ball
    skin = head.middle + touched / np.linalg.norm(touched, axis=1, keepdims=True) * head.half @ head.axes
    return skin + FACE_AHEAD_M * ways, ways


def _trunk(over, axes, low, neck, mark):
    """A trunk from the hips to the neck, and the shoulders across it."""
    tall, cloth, name = mark.tall_m, mark.body, mark.name
    shoulder = neck - (CHIN - SHOULDER) * tall
    return [
        _upright(over, axes, shoulder - 0.16, shoulder + 0.07, SHOULDERS * tall / 2, 0.11, cloth, name),
        _upright(over, axes, low, neck + 0.02, HIPS * tall / 2, 0.125, cloth, name),
    ]


def _head_m(tall):
    """Half a head's breadth, depth and height: grown from 1.4 m on; a child of 1.1 m has one of 0.2 m, a newborn's is 0.14 m."""
    return tuple(size * min(1.0, np.sqrt(tall / GROWN_M)) for size in HEAD_M)


def _level(facing):
    """The way something faces, brought level; +y for one that faces straight up or down."""
    flat = np.array([facing[0], facing[1], 0.0])
    size = np.linalg.norm(flat)
    return flat / size if size > 1e-6 else np.array([0.0, 1.0, 0.0])


def _lying(mark, facing, level):
    """A person on their back or side: the feet lie the way that the face would look if it were lifted."""
    tall, cloth = mark.tall_m, mark.body
    right = np.cross(level, (0.0, 0.0, 1.0))
    flat = np.array([right, np.array([0.0, 0.0, 1.0]), level])  # breadth, depth, length
    _, deep, high = head_m = _head_m(tall)
    reach = np.hypot(facing[2] / deep, facing @ level / high)
    head = np.asarray(mark.at) - (FACE_AHEAD_M + 1.0 / reach) * facing
    trunk_m, legs_m = (CHIN - HIP) * tall, HIP * tall
    trunk = head + (high - 0.02 + 0.5 * trunk_m + 0.04) * level
    legs = head + (high - 0.02 + trunk_m + 0.5 * legs_m) * level
    return (
        _ball(head, flat, head_m, mark.reflectance, mark.name),
        _ball(trunk, flat, (SHOULDERS * tall / 2, 0.13, 0.5 * trunk_m + 0.05), cloth, mark.name),
        _ball(legs, flat, (HIPS * tall / 2, 0.11, 0.5 * legs_m + 0.1), cloth, mark.name),
    )


def _ball(middle, axes, half, reflectance, name):
    return Solid("ball", np.asarray(middle, dtype=float), axes, np.array(half, dtype=float), reflectance, name)


def _upright(over, axes, low, high, wide, deep, reflectance, name):
    """An upright ellipsoid about a place on the plan, from one height to another."""
    return _ball((over[0], over[1], 0.5 * (low + high)), axes, (wide, deep, max(0.5 * (high - low), 0.05)), reflectance, name)


@lru_cache(maxsize=512)
def furniture(piece: Piece) -> tuple[Solid, ...]:
    """
    What a piece of furniture is made of.

    Parameters
    ----------
    piece : Piece

    Returns
    -------
    tuple of Solid
    """
    facing = basis(piece.at, piece.aim)[2]
    level, up = _level(facing), np.array([0.0, 0.0, 1.0])
    upright = np.array([np.cross(level, up), level, up])
    foot = np.asarray(piece.at, dtype=float)

    def part(across, along, low, high, wide, deep, shape="box", turn_deg=0.0, tip_deg=0.0):
        """
        A box or ball, from the middle of the piece's foot: metres to its right and ahead, heights over it, sides.

        Turned about its upright middle, or tipped so that the way ahead rises.
        """
        middle = foot + across * upright[0] + along * upright[1] + 0.5 * (low + high) * up
        half = 0.5 * np.array([wide, deep, high - low])
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        d, r = np.cos(np.radians(tip_deg)), np.sin(np.radians(tip_deg))
        axes = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) @ np.array([[1, 0, 0], [0, d, r], [0, -r, d]]) @ upright
        return Solid(shape, middle, axes, half, piece.reflectance, piece.name, piece.what == "drum")

    tilt_deg = np.degrees(np.arcsin(np.clip(facing[2], -1.0, 1.0)))
    rows = _blind(*piece.size_m, tilt_deg) if piece.what == "blind" else _PLANS[piece.what](*piece.size_m)
    return tuple(part(*row) for row in rows)


def _legs(width, depth, high):
    """Four legs in the corners."""
    x, y = 0.5 * (width - LEG_M), 0.5 * (depth - LEG_M)
    return [(i * x, j * y, 0.0, high, LEG_M, LEG_M) for i in (-1, 1) for j in (-1, 1)]


def _table(width, depth, high):
    return [(0.0, 0.0, high - SLAB_M, high, width, depth), *_legs(width, depth, high - SLAB_M)]


def _chair(width, depth, high):
    seat = 0.5 * high  # the back goes as far over it again
    back = (0.0, -0.5 * (depth - SLAB_M), seat, high, width, SLAB_M)
    return [(0.0, 0.0, seat - SLAB_M, seat, width, depth), back, *_legs(width, depth, seat - SLAB_M)]


def _bed(width, depth, high):
    return [(0.0, 0.0, 0.4 * high, high, width, depth), *_legs(width, depth, 0.4 * high)]


def _shelf(width, depth, high):
    sides = [(i * 0.5 * (width - SLAB_M), 0.0, 0.0, high, SLAB_M, depth) for i in (-1, 1)]
    steps = np.linspace(SLAB_M, high, 5)
    return sides + [(0.0, 0.0, step - SLAB_M, step, width - 2 * SLAB_M, depth) for step in steps]


def _door(width, depth, high):
    return [(0.0, 0.5 * width, 0.0, high, depth, width)]  # it hangs at its place and runs the way it faces


def _drum(width, depth, high):
    """Eight sides, as four boxes from side to side through the middle, each a hair lower, so that no lid lies in another."""
    side, hair = width * np.tan(np.pi / 8), min(HAIR_M, 0.01 * high)
    return [(0.0, 0.0, 0.0, high - k * hair, width, side, "box", 45.0 * k) for k in range(4)]


def _slope(width, depth, high):
    """A slab that rises the way it faces and just fits into its sides."""
    tip = np.arctan2(high, depth)
    for _ in range(30):  # until its ends, square to it, fit in as well
        tip = np.arctan2(high - SLAB_M * np.cos(tip), depth - SLAB_M * np.sin(tip))
    long = np.hypot(high - SLAB_M * np.cos(tip), depth - SLAB_M * np.sin(tip))
    middle = 0.5 * high
    return [(0.0, 0.0, middle - 0.5 * SLAB_M, middle + 0.5 * SLAB_M, width, long, "box", 0.0, np.degrees(tip))]


def _blind(width, depth, high, tilt_deg):
    """Slats one over another between two rails; they lie the way it faces, and shut it when they stand."""
    count = int(np.clip(np.ceil(high / (0.9 * depth)), 2, MOST_SLATS))
    rail = min(RAIL_M, 0.25 * high)
    rails = [(0.0, 0.0, low, low + rail, width, min(depth, RAIL_M)) for low in (0.0, high - rail)]
    middles = rail + (high - 2 * rail) * (np.arange(count) + 0.5) / count
    return rails + [(0.0, 0.0, z - 0.5 * SLAT_M, z + 0.5 * SLAT_M, width, depth, "box", 0.0, tilt_deg) for z in middles]


_PLANS = {
    "box": lambda width, depth, high: [(0.0, 0.0, 0.0, high, width, depth)],
    "table": _table,
    "chair": _chair,
    "bed": _bed,
    "shelf": _shelf,
    "door": _door,
    "wall": lambda width, depth, high: [(0.0, 0.0, 0.0, high, width, depth)],
    "slope": _slope,
    "drum": _drum,
    "sack": lambda width, depth, high: [(0.0, 0.0, 0.0, high, width, depth, "ball")],
}
